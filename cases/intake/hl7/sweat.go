package hl7

import (
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// sweatOrder begins the sites of a sweat order: one to start with, more as the
// results and specimens under it ask for them.
func (rd *reading) sweatOrder() {
	rd.first, rd.specimens = len(rd.r.Sites), 0
	rd.subs = rd.subs[:0]
	rd.newSite()
}

// newSite adds a site with what the order says of all of them.
func (rd *reading) newSite() *intake.Site {
	o := rd.obr
	site := intake.Site{Accession: entity(o.First(3)).Number, Order: entity(o.First(2)).Number,
		Status: strings.ToUpper(o.Field(25).Text()), Began: Time(o.First(7)), Ended: Time(o.First(8))}
	rd.r.Sites = append(rd.r.Sites, site)
	rd.subs = append(rd.subs, "")
	rd.site = len(rd.r.Sites) - 1
	return &rd.r.Sites[rd.site]
}

// endOrder fills what only the order says (the older places OBR-9 and OBR-15), where
// it has one site.
func (rd *reading) endOrder() {
	if rd.site < 0 || len(rd.r.Sites) != rd.first+1 {
		return
	}
	site, o := &rd.r.Sites[rd.first], rd.obr
	if site.Amount == "" {
		rd.amount(site, quantity(o.First(9)))
	}
	if body := o.First(15).Comp(4); site.Place == "" {
		rd.placed(site, body.Sub(1).Text(), body.Sub(2).Text())
	}
}

// siteOf finds the site that a result is about: by the sub-identifier of the result
// (OBX-4), by a side in its name, else the one being filled. has tells whether a
// site already has what the result brings; a further one then begins.
func (rd *reading) siteOf(s *Segment, name string, has func(*intake.Site) bool) *intake.Site {
	r := rd.r
	if rd.site < 0 { // a result before any sweat order
		rd.first, rd.subs = len(r.Sites), rd.subs[:0]
		rd.newSite()
	}
	sub, _, _ := strings.Cut(s.Field(4).Text(), ".")
	here := r.Sites[rd.first:]
	if sub != "" {
		for i := range here {
			if rd.subs[i] == sub && !has(&here[i]) {
				rd.site = rd.first + i
				return &here[i]
			}
		}
	}
	if side := sideIn(strings.ToLower(name)); side != "" {
		for i := range here {
			if here[i].Side == side && !has(&here[i]) {
				rd.site = rd.first + i
				return &here[i]
			}
		}
		site := &r.Sites[rd.site]
		if site.Side != "" || has(site) {
			site = rd.newSite()
		}
		site.Side = side
		return site
	}
	site := &r.Sites[rd.site]
	if own := rd.subs[rd.site-rd.first]; has(site) || sub != "" && own != "" && own != sub {
		site = rd.newSite()
	}
	if sub != "" {
		rd.subs[rd.site-rd.first] = sub
	}
	return site
}

func hasChloride(s *intake.Site) bool {
	return s.Chloride.Text != "" || s.Chloride.Status != "" || s.Screening
}

// sweatResult reads a chloride into its site. Nothing is averaged or converted; the
// only other unit that is read is one in which the number is the same.
func (rd *reading) sweatResult(s *Segment, what, name, status string) {
	r := rd.r
	site := rd.siteOf(s, name, hasChloride)
	if what == "sweat screen" {
		site.Screening = true
		rd.problem(s.First(3), intake.Fault, "This is a screening method for sweat chloride, not the diagnostic test.")
	}
	switch status {
	case "D":
		r.Corrected, r.Deleted = true, true
	case "C":
		r.Corrected = true
	case "P", "S", "R", "I":
		r.Preliminary = true
	}
	m := Measured(s.Field(2).Text(), s.First(5))
	if u := s.First(6).Comp(1).Text(); u != "" {
		m.Unit = u
	}
	m.Range, m.Flag, m.Status = s.Field(7).Text(), s.First(8).Comp(1).Text(), status
	if m.Status == "" {
		m.Status = site.Status
	}
	switch {
	case saysQNS(m.Text):
		site.QNS, m.Doubt, m.Value = true, "", nil
	case m.Text == "" && status == "X":
		site.QNS, m.Doubt = true, ""
	default:
		rd.chloride(s, &m)
	}
	if site.Status != "C" || status != "F" && status != "" { // the order may call the whole report corrected
		site.Status = m.Status
	}
	site.Chloride = m
}

// chloride checks the unit and the size of a value: meq/L is the same number as
// mmol/L for chloride, nothing else is converted.
func (rd *reading) chloride(s *Segment, m *intake.Measure) {
	if m.Text == "" {
		return
	}
	unit := strings.ToLower(strings.ReplaceAll(m.Unit, " ", ""))
	switch {
	case unit == "":
		m.Value = nil
		rd.problem(s.Field(6), intake.Fault, "The chloride "+intake.Shorten(m.Text)+" has no unit. Ask the laboratory; nothing was converted.")
	case unit != "mmol/l" && unit != "meq/l":
		m.Value = nil
		rd.problem(s.First(6).Comp(1), intake.Fault, "The chloride has the unit "+intake.Shorten(m.Unit)+", not mmol/L. Ask the laboratory; nothing was converted.")
	case m.Doubt != "" && m.Value == nil:
		rd.problem(s.Field(5), intake.Fault, "The chloride "+m.Doubt+".")
	case m.Value != nil && (*m.Value < 0 || *m.Value > 160):
		rd.problem(s.Field(5), intake.Fault, "The chloride "+intake.Shorten(m.Text+" "+m.Unit)+" is not plausible (0 to 160 mmol/L). Ask the laboratory to check it.")
	}
}

// sweatKinds are the lines of a sweat report that are recognized by their name, the
// first that fits. No LOINC code for the amount of sweat or for its time of
// collection was found, and none is made up.
var sweatKinds = []struct{ kind, words, also string }{
	{"interpretation", "interp", ""}, {"interpretation", "conclusion", ""}, {"interpretation", "impression", ""},
	{"comment", "comment", ""}, {"comment", "remark", ""},
	{"conductivity", "conductivity", ""},
	{"other", "sodium", ""}, {"other", "potassium", ""}, {"other", "ratio", ""},
	{"chloride", "chloride", ""},
	{"minutes", "duration", ""}, {"minutes", "collection time", ""}, {"minutes", "minutes", ""},
	{"amount", "volume", ""}, {"amount", "weight", "sweat"}, {"amount", "weight", "specimen"}, {"amount", "weight", "sample"},
	{"amount", "amount", ""}, {"amount", "quantity", ""},
	{"site", "site", ""}, {"site", "location", ""}, {"site", "body part", ""},
}

func sweatKind(name string) string {
	low := strings.ToLower(name)
	for _, k := range sweatKinds {
		if strings.Contains(low, k.words) && strings.Contains(low, k.also) {
			return k.kind
		}
	}
	return ""
}

// sweatLine reads another line under a sweat order. Several laboratories send site,
// amount and value as lines of their own. What is not recognized is kept as text.
func (rd *reading) sweatLine(s *Segment, kind, code, name, status string) {
	t := text(s.Field(5))
	switch kind {
	case "chloride":
		rd.problem(s.First(3), intake.Fault, "The code "+intake.Shorten(code)+" ("+intake.Shorten(name)+") is not known. If it is the diagnostic sweat chloride, enter it among the codes of the sender.")
		rd.sweatResult(s, "sweat chloride", name, status)
		return
	case "conductivity":
		site := rd.siteOf(s, name, hasChloride)
		site.Screening = true
		rd.problem(s.First(3), intake.Fault, "Conductivity is a screening test, not the diagnostic chloride.")
	case "interpretation":
		rd.reads(s, name, t)
		return
	case "minutes":
		rd.minutesLine(s, name)
		return
	case "amount":
		m := Measured(s.Field(2).Text(), s.First(5))
		if u := s.First(6).Comp(1).Text(); u != "" {
			m.Unit = u
		}
		site := rd.siteOf(s, name, func(o *intake.Site) bool { return o.Quantity.At.Segment == "OBX" })
		rd.amount(site, withUnit(m))
		if saysQNS(t) {
			site.QNS = true
		}
		return
	case "site":
		v := s.First(5)
		site := rd.siteOf(s, name, func(o *intake.Site) bool { return o.Place != "" })
		if s.Field(2).Text() == "ST" || s.Field(2).Text() == "TX" {
			rd.placed(site, "", t)
		} else {
			rd.placed(site, v.Comp(1).Text(), v.Comp(2).Text())
		}
		return
	}
	if saysQNS(t) && rd.site >= 0 {
		rd.r.Sites[rd.site].QNS = true
	}
	if line := strings.TrimSpace(name + ": " + t + " " + s.First(6).Comp(1).Text()); t != "" {
		rd.r.Comments = append(rd.r.Comments, line)
	}
}

// reads keeps the laboratory's own interpretation beside the site above it.
func (rd *reading) reads(s *Segment, name, words string) {
	if a := Coded(s.First(5)); a.Text != "" && (s.Field(2).Text() == "CE" || s.Field(2).Text() == "CWE") {
		words = a.Text
	}
	if words == "" {
		return
	}
	side := sideIn(strings.ToLower(name))
	sub, _, _ := strings.Cut(s.Field(4).Text(), ".")
	if side == "" && sub == "" && len(rd.r.Sites)-rd.first > 1 || rd.site < 0 {
		if len(rd.r.LabReads) <= mostWords {
			rd.r.LabReads = strings.TrimPrefix(rd.r.LabReads+"; "+words, "; ")
		}
		return
	}
	site := rd.siteOf(s, name, func(*intake.Site) bool { return false })
	if len(site.Reads) <= mostWords {
		site.Reads = strings.TrimPrefix(site.Reads+", "+words, ", ")
	}
}

// mostWords bounds the bytes of an interpretation; intake has one that is longer looked
// at by a person. A longer note is none.
const mostWords = 2000

// sweatNote keeps a note under a sweat order: quantity not sufficient, the
// interpretation where the words say one thing, and the text itself.
func (rd *reading) sweatNote(words string) {
	if rd.site < 0 {
		return
	}
	site := &rd.r.Sites[rd.site]
	if saysQNS(words) {
		site.QNS = site.QNS || site.Chloride.Value == nil
		return
	}
	if site.Reads == "" && len(words) <= mostWords && cases.ReadLabWords(words) != "" {
		site.Reads = words
	}
}

// closeSweat takes out sites that hold nothing, such as that of an order which only
// heads the others.
func (rd *reading) closeSweat() {
	r := rd.r
	if len(r.Sites) < 2 {
		return
	}
	kept := r.Sites[:0]
	for _, s := range r.Sites {
		if s.Chloride.Text == "" && !s.QNS && !s.Screening && s.Amount == "" && s.Place == "" && s.Side == "" && s.Chloride.Status == "" {
			if s.Reads != "" {
				r.LabReads = strings.TrimPrefix(r.LabReads+"; "+s.Reads, "; ")
			}
			continue
		}
		kept = append(kept, s)
	}
	if len(kept) > 0 {
		r.Sites = kept
	}
}
