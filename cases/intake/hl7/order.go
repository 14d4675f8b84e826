package hl7

import (
	"strings"

	"dunlin/cases/intake"
)

// cardFacts are answers that are settled when the whole group has been read.
type cardFacts struct {
	formCard   string
	cardAnswer bool // the card number came as a result
	pd1        string
	orcPlace   string
	orderAt    Value
	plural     int
	pluralAt   Value
	birthTime  string
	cfOrder    bool // dates were taken from the cystic fibrosis order
	obxTime    intake.Moment
}

// order begins an OBR: which panel it is, its dates and its state.
func (rd *reading) order(s *Segment) {
	r := rd.r
	rd.endOrder()
	rd.obr = s
	rd.sweatHere = false
	rd.numbers(s)
	rd.provider(s.First(16))
	code, nm, loinc := rd.code(s.First(4))
	low := strings.ToLower(nm)
	rd.about(s.First(4), code, nm)
	rd.panel = code == "54078-1" || strings.Contains(low, "cystic fibrosis") && !strings.Contains(low, "sweat")
	if loinc {
		if right, wrong := Mistyped(code); wrong && known[right] != "" {
			if right == "54078-1" {
				rd.panel = true
			}
			rd.problem(s.First(4), intake.Note, "The code of the order, "+code+", has a wrong check digit. Did the sender mean "+right+"?")
		}
	}
	rd.sweat = code == "86964003" || strings.Contains(low, "sweat") || strings.Contains(strings.ToLower(s.First(4).Comp(5).Text()), "sweat")
	if rd.sweat {
		r.SweatTest = true
		rd.sweatOrder()
	} else {
		rd.site = -1
	}
	if screenCodes[code] || rd.panel {
		r.Screen = true
	} else if both := code + " " + nm; (!loinc || known[code] == "") && screenOrder.MatchString(both) && !otherScreens.MatchString(both) && !rd.sweat {
		r.Screen = true
		rd.ownScreen = true
	}
	rd.dates(s)
	switch strings.ToUpper(s.Field(25).Text()) {
	case "C":
		r.Corrected = true
	case "P", "I", "S":
		if rd.panel {
			r.Preliminary = true
		}
	case "X":
		if rd.panel {
			rd.problem(s.Field(25), intake.Fault, "The laboratory says that the cystic fibrosis screen was not done (order state X).")
		}
	}
}

// dates takes collection, receipt and report from the order; those of the cystic
// fibrosis order win over those of others.
func (rd *reading) dates(s *Segment) {
	r := rd.r
	if rd.facts.cfOrder && !rd.panel {
		return
	}
	take := func(to *intake.Moment, v Value) {
		m := Time(v)
		if m.Text == "" {
			return
		}
		if to.Text == "" || (rd.panel && !rd.facts.cfOrder && m.Bad == "") || (to.Bad != "" && m.Bad == "") {
			*to = m
		}
	}
	take(&r.Collected, s.First(7))
	take(&r.Received, s.First(14))
	take(&r.Reported, s.First(22))
	if rd.panel {
		rd.facts.cfOrder = true
	}
}

// nte keeps a note that stands under the cystic fibrosis order or one of its results.
func (rd *reading) nte(s *Segment) {
	text := text(s.Field(3))
	if text == "" {
		return
	}
	sweat := rd.sweat || rd.sweatHere && !rd.panel
	if rd.panel || sweat {
		rd.r.Comments = append(rd.r.Comments, text)
	}
	rd.r.Mention(text, rd.panel, s.Field(3).At())
	if sweat {
		rd.sweatNote(text)
	}
}

// text joins the repeats of a text field as lines.
func text(v Value) string {
	if v.msg == nil {
		return ""
	}
	parts := splitByte(v.raw, v.msg.Sep.Repeat)
	for i, p := range parts {
		w := v
		w.raw = p
		parts[i] = w.Text()
	}
	return strings.TrimSpace(strings.Join(parts, "\n"))
}

// spm reads a specimen: its dates, and for sweat its place, amount and whether it
// was enough.
func (rd *reading) spm(s *Segment) {
	r := rd.r
	kind := strings.ToUpper(s.First(4).Comp(1).Text())
	words := strings.ToLower(s.First(4).Comp(2).Text())
	if kind == "122569007" || kind == "SWT" || strings.Contains(words, "sweat") {
		r.SweatTest = true
		rd.sweatSpecimen(s)
		return
	}
	if m := Time(s.First(17)); m.Text != "" && r.Collected.Text == "" {
		r.Collected = m
	}
	if m := Time(s.First(18)); m.Text != "" && r.Received.Text == "" {
		r.Received = m
	}
	if r.Accession.Number == "" {
		r.Accession = intake.Identifier{Number: s.First(2).Comp(2).Sub(1).Text(), Authority: s.First(2).Comp(2).Sub(2).Text()}
	}
	if r.Order.Number == "" {
		r.Order = intake.Identifier{Number: s.First(2).Comp(1).Sub(1).Text(), Authority: s.First(2).Comp(1).Sub(2).Text()}
	}
	for _, f := range []int{21, 22, 24} {
		if a := Coded(s.First(f)); a.Code != "" || a.Text != "" {
			a.At = s.Field(f).At()
			r.Quality = append(r.Quality, a)
		}
	}
	cards, _ := s.Repeats(31)
	more, _ := s.Repeats(30)
	for _, v := range append(cards, more...) {
		if r.Card == "" && strings.EqualFold(v.Comp(5).Text(), "SNBSN") {
			r.Card = v.Comp(1).Text()
		}
	}
}
