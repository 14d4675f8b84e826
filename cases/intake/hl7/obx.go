package hl7

import (
	"strconv"
	"strings"

	"dunlin/cases/intake"
)

// obx reads one result. A result is recognized by its code wherever it stands:
// senders need not keep the order of the panels.
func (rd *reading) obx(s *Segment) {
	code, nm, loinc := rd.code(s.First(3))
	status := strings.ToUpper(s.Field(11).Text())
	what := ""
	if loinc {
		what = known[code]
		if right, wrong := Mistyped(code); wrong {
			if rd.panel || screenCodes[right] || known[right] == "variants" {
				rd.unknown(s, code, nm, right)
			} else if known[right] != "" {
				rd.problem(s.First(3), intake.Check, "The code "+code+" has a wrong check digit. Did the sender mean "+right+"?")
			}
			return
		}
		if screenCodes[code] {
			rd.r.Screen = true
		}
	}
	rd.times(s)
	rd.about(s.First(3), code, nm)
	if status == "W" {
		rd.r.WrongPatient = true
	}
	switch {
	case what == "sweat chloride", what == "sweat screen":
		rd.r.SweatTest = true
		rd.sweatHere = true
		rd.sweatResult(s, what, nm, status)
	case strings.HasPrefix(what, "sweat "):
		rd.r.SweatTest = true
		rd.sweatLine(s, strings.TrimPrefix(what, "sweat "), code, nm, status)
	case rd.sweat:
		rd.sweatLine(s, sweatKind(nm), code, nm, status)
	case what == "cystic fibrosis panel":
		rd.unknown(s, code, nm, "")
	case what != "":
		rd.result(what, s, status)
	case rd.sweatHere && !rd.panel:
		rd.sweatLine(s, sweatKind(nm), code, nm, status)
	case rd.panel || cfName(code, nm):
		rd.unknown(s, code, nm, "")
	default:
		rd.said(s, "")
	}
}

// unknown keeps a result of the cystic fibrosis panel whose code is not known.
func (rd *reading) unknown(s *Segment, code, nm, suggest string) {
	switch s.Field(2).Text() {
	case "ED", "RP":
		rd.said(s, "")
		return
	}
	u := intake.Unknown{Code: code, Name: nm, Suggest: suggest, Outside: !rd.panel, At: s.First(3).At()}
	a := Coded(s.First(5))
	switch s.Field(2).Text() {
	case "CE", "CWE", "CNE":
		u.Text = strings.TrimSpace(a.Code + " " + a.Text)
	default:
		u.Text = text(s.Field(5))
	}
	rd.r.Screen = true
	rd.r.Unknown = append(rd.r.Unknown, u)
}

// times checks the dates of a result; they are kept only to fill a gap.
func (rd *reading) times(s *Segment) {
	for i, f := range [...]int{14, 19} {
		raw := s.Field(f).raw
		if raw == "" || raw == rd.goodTime[i] {
			continue
		}
		if m := Time(s.First(f)); m.Text != "" {
			if m.Bad != "" && !strings.HasPrefix(m.Bad, "gives no day") {
				rd.problem(s.First(f), intake.Note, "The date of the result "+m.Bad+".")
			} else if f == 14 && rd.facts.obxTime.Text == "" {
				rd.facts.obxTime = m
			}
			if m.Bad == "" && rd.facts.obxTime.Text != "" {
				rd.goodTime[i] = raw // most results carry the same time
			}
		}
	}
}

// answers reads a coded result with all its repeats.
func (rd *reading) answers(s *Segment, status string) []intake.Answer {
	reps, more := s.Repeats(5)
	if more {
		rd.problem(s.Field(5), intake.Fault, "The field has too many repeats to be read.")
	}
	var out []intake.Answer
	coded := false
	switch s.Field(2).Text() {
	case "CE", "CWE", "CNE", "CX", "":
		coded = true
	}
	for _, v := range reps {
		a := intake.Answer{Text: v.Text(), At: v.At()}
		if coded || isAnswerCode(v.Comp(1).Text()) || isAnswerCode(v.Comp(4).Text()) {
			a = Coded(v)
		}
		a.Status, a.Flag = status, s.First(8).Comp(1).Text()
		a.Last = rd.end != nil && rd.end.Line == s.Line
		if right, wrong := mistypedAnswer(a.Code); wrong {
			rd.problem(v.Comp(1), intake.Check, "The answer code "+a.Code+" has a wrong check digit. Did the sender mean "+right+"?")
		}
		out = append(out, a)
	}
	if len(out) == 0 {
		out = []intake.Answer{{Status: status, At: s.Field(5).At(), Last: rd.end != nil && rd.end.Line == s.Line}}
	}
	return out
}

// result puts a known result in its place.
func (rd *reading) result(what string, s *Segment, status string) {
	r := rd.r
	decides := what == "interpretation" || what == "irt" || what == "variants"
	if decides {
		switch status {
		case "C":
			r.Corrected = true
		case "D":
			r.Corrected, r.Deleted = true, true
			return
		case "P", "S", "R":
			r.Preliminary = true
		}
	}
	if status == "D" || status == "W" {
		return
	}
	switch what {
	case "interpretation":
		r.Interpretation = append(r.Interpretation, rd.answers(s, status)...)
	case "overall":
		r.Overall = append(r.Overall, rd.answers(s, status)...)
	case "positive":
		r.Positive = append(r.Positive, rd.answers(s, status)...)
	case "equivocal":
		r.Equivocal = append(r.Equivocal, rd.answers(s, status)...)
	case "quality":
		r.Quality = append(r.Quality, rd.answers(s, status)...)
	case "factors":
		r.Factors = append(r.Factors, rd.answers(s, status)...)
	case "irt":
		rd.irt(s, status)
	case "variants":
		rd.variants(s, status)
	case "factors text":
		if t := text(s.Field(5)); t != "" {
			r.Factors = append(r.Factors, intake.Answer{Text: t, At: s.Field(5).At()})
		}
	case "comment", "narrative":
		if t := text(s.Field(5)); t != "" {
			if what == "comment" || cfName("", t) {
				r.Comments = append(r.Comments, t)
			}
			r.Mention(t, what == "comment", s.Field(5).At())
		}
	case "report":
		rd.said(s, what)
	case "transfusion":
		r.Transfused = Time(s.First(5))
		if r.Transfused.Bad != "" {
			rd.problem(s.Field(5), intake.Check, "The day of the last transfusion "+r.Transfused.Bad+".")
		}
	default:
		rd.card(what, s)
	}
}

// irt reads the immunoreactive trypsinogen in ng/mL; µg/L is the same number.
func (rd *reading) irt(s *Segment, status string) {
	if s.Field(5).Empty() {
		return
	}
	m := Measured(s.Field(2).Text(), s.First(5))
	if u := s.First(6).Comp(1).Text(); u != "" {
		m.Unit = u
	}
	m.Range, m.Flag, m.Status = s.Field(7).Text(), s.First(8).Comp(1).Text(), status
	if m.Doubt == "" || m.Value != nil {
		if !massUnit(m.Unit) && m.Doubt == "" {
			m.Doubt = "has no unit"
			if m.Unit != "" {
				m.Doubt = "has the unit " + intake.Shorten(m.Unit) + ", not ng/mL"
			}
			m.Value = nil
		}
	}
	if m.Doubt != "" {
		rd.problem(s.Field(5), intake.Check, "The IRT "+m.Doubt+". It is kept as text; enter the number after asking the laboratory.")
	}
	rd.r.IRT = append(rd.r.IRT, m)
}

func massUnit(u string) bool {
	switch strings.ToLower(strings.ReplaceAll(u, " ", "")) {
	case "ng/ml", "ug/l", "µg/l", "μg/l", "mcg/l":
		return true
	}
	return false
}

// variants reads the CFTR variants, one text for each repeat, exactly as written.
func (rd *reading) variants(s *Segment, status string) {
	reps, more := s.Repeats(5)
	if more {
		rd.problem(s.Field(5), intake.Fault, "The field has too many repeats to be read.")
	}
	code, _, _ := Code(s.First(3))
	for i, v := range reps {
		sub := s.Field(4).Text()
		if len(reps) > 1 {
			sub += "." + strconv.Itoa(i+1)
		}
		t := v.Text()
		switch s.Field(2).Text() {
		case "CE", "CWE", "CNE":
			a := Coded(v)
			if t = a.Text; t == "" {
				t = v.Comp(1).Text()
			}
		}
		if t != "" {
			rd.r.Variants = append(rd.r.Variants, intake.VariantText{Text: t, Code: code, Sub: sub, Status: status, At: v.At()})
		}
	}
}
