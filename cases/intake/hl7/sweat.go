package hl7

import (
	"strings"

	"dunlin/cases/intake"
)

// sweatResult reads a chloride into the site of the order above it. A person
// confirms every value; nothing is averaged or converted by guess.
func (rd *reading) sweatResult(s Segment, what, status string) {
	r := rd.r
	if what == "sweat screen" {
		rd.problem(s.First(3), intake.Fault, "This is a screening method for sweat chloride, not the diagnostic test.")
	}
	if what != "sweat chloride" && what != "sweat screen" {
		return
	}
	if rd.site < 0 || r.Sites[rd.site].Chloride.Text != "" {
		r.Sites = append(r.Sites, intake.Site{Accession: entity(rd.obr.First(3)).Number})
		rd.site = len(r.Sites) - 1
	}
	site := &r.Sites[rd.site]
	site.Status = status
	if status == "C" {
		r.Corrected = true
	}
	m := Measured(s.Field(2).Text(), s.First(5))
	m.Unit, m.Status = s.First(6).Comp(1).Text(), status
	m.Range, m.Flag = s.Field(7).Text(), s.First(8).Comp(1).Text()
	if saysQNS(m.Text) {
		site.QNS, m.Doubt, m.Value = true, "", nil
	} else {
		rd.chloride(s, &m)
	}
	if m.Text == "" && status == "X" {
		m.Doubt = ""
	}
	site.Chloride = m
}

// chloride checks the unit and the size of a value: meq/L is the same number as
// mmol/L for chloride, nothing else is converted.
func (rd *reading) chloride(s Segment, m *intake.Measure) {
	if m.Text == "" {
		return
	}
	unit := strings.ToLower(m.Unit)
	switch {
	case unit == "":
		m.Value = nil
		rd.problem(s.Field(6), intake.Fault, "The chloride "+m.Text+" has no unit. Ask the laboratory; nothing was converted.")
	case unit != "mmol/l" && unit != "meq/l":
		m.Value = nil
		rd.problem(s.First(6).Comp(1), intake.Fault, "The chloride has the unit "+m.Unit+", not mmol/L. Ask the laboratory; nothing was converted.")
	case m.Doubt != "" && m.Value == nil:
		rd.problem(s.Field(5), intake.Fault, "The chloride "+m.Doubt+".")
	case m.Value != nil && (*m.Value < 0 || *m.Value > 160):
		rd.problem(s.Field(5), intake.Fault, "The chloride "+m.Text+" "+m.Unit+" is not plausible (0 to 160 mmol/L). Ask the laboratory to check it.")
	}
}

// sweatOther keeps other lines of a sweat report as text; some laboratories send
// site, volume and value as lines of their own.
func (rd *reading) sweatOther(s Segment, nm string) {
	t := text(s.Field(5))
	if saysQNS(t) && rd.site >= 0 {
		rd.r.Sites[rd.site].QNS = true
	}
	if line := strings.TrimSpace(nm + ": " + t + " " + s.First(6).Comp(1).Text()); t != "" {
		rd.r.Comments = append(rd.r.Comments, line)
	}
}
