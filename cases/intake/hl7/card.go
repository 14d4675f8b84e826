package hl7

import (
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// card reads the answers of the card: numbers, weights, gestation, places. Their
// result state is often O (order detail only); it does not matter here.
func (rd *reading) card(what string, s *Segment) {
	r, v := rd.r, s.First(5)
	txt := text(s.Field(5))
	if txt == "" {
		return
	}
	switch what {
	case "card":
		if r.Card == "" {
			r.Card, rd.facts.cardAnswer = firstComp(s, txt), true
		} else if n := firstComp(s, txt); n != r.Card && !rd.facts.cardAnswer { // else see mixed
			rd.problem(v, intake.Check, "The message gives two card numbers, "+r.Card+" and "+n+".")
		}
	case "first card":
		if !notApplicable(txt) {
			r.FirstCard = firstComp(s, txt)
		}
	case "birth time":
		rd.facts.birthTime = txt
	case "birth weight":
		r.Infant.BirthWeight = rd.weight(s, "birth weight")
	case "card weight":
		r.Infant.CardWeight = rd.weight(s, "weight at collection")
	case "gestation":
		rd.gestation(s)
	case "plurality":
		rd.plurality(s)
	case "care name":
		rd.pcp().Name = txt
	case "practice":
		rd.pcp().Practice = txt
	case "care phone":
		if p, _ := Phone(v); p.Number != "" {
			rd.pcp().Phone = p.Number
		}
	case "practice address":
		rd.pcp().Address = Address(v)
	case "facility":
		r.Infant.Facility = txt
	}
}

func firstComp(s *Segment, txt string) string {
	switch s.Field(2).Text() {
	case "CX", "EI", "CWE", "CE":
		return s.First(5).Comp(1).Text()
	}
	return txt
}

func notApplicable(s string) bool {
	switch strings.ToLower(s) {
	case "not applicable", "n/a", "na", "none", "unknown", "la137-2":
		return true
	}
	return false
}

func (rd *reading) pcp() *cases.PrimaryCare {
	if rd.r.Infant.Care == nil {
		rd.r.Infant.Care = &cases.PrimaryCare{}
	}
	return rd.r.Infant.Care
}

// weight reads a weight in grams; 0 when it cannot be used, with a problem.
func (rd *reading) weight(s *Segment, what string) float64 {
	m := Measured(s.Field(2).Text(), s.First(5))
	if u := s.First(6).Comp(1).Text(); u != "" {
		m.Unit = u
	}
	g, why := intake.Grams(m)
	if why != "" {
		rd.problem(s.Field(5), intake.Check, "The "+what+" "+why)
		if what == "birth weight" && g == 0 {
			rd.r.Infant.WeightText = strings.TrimSpace(m.Text + " " + m.Unit)
		}
	}
	return g
}

// gestation reads weeks, weeks and days, or days.
func (rd *reading) gestation(s *Segment) {
	unit := strings.ToLower(s.First(6).Comp(1).Text())
	g, why := intake.ReadGestation(s.First(5).Text(), unit)
	if why != "" {
		rd.problem(s.Field(5), intake.Check, "The gestation "+why)
		return
	}
	rd.r.Infant.Gestation = g
}

// plurality reads how many were born: a LOINC answer, or words, or a number.
func (rd *reading) plurality(s *Segment) {
	a := Coded(s.First(5))
	n := intake.PluralityWord(a.Code)
	if n == 0 {
		n = intake.PluralityWord(a.Text)
	}
	if n == 0 {
		rd.problem(s.Field(5), intake.Check, "The number of infants born together cannot be read.")
		return
	}
	rd.facts.plural, rd.facts.pluralAt = n, s.Field(5)
}
