package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// referralDay is the day the item reached the program: the mail's date, else the
// message's, else the day of import. A day that cannot be right is replaced by the
// day of import, with a reason.
func referralDay(r *Referral, mail, today cases.Day) (cases.Day, string) {
	on, from := mail, "mail"
	if on == 0 {
		on, from = r.Sent.Day, "message"
	}
	switch {
	case on == 0:
		return today, ""
	case on > today:
		return today, fmt.Sprintf("The day of the %s (%s) lies in the future; the day of import is used.", from, on)
	case on < r.Infant.Born.Day:
		return today, fmt.Sprintf("The day of the %s (%s) lies before the birth; the day of import is used.", from, on)
	}
	return on, ""
}

// toCase maps an item to a new case. Values that cannot be used stand beside it in
// ToCheck.
func toCase(it *Item, v *Verdict, mail, today cases.Day) cases.Case {
	r := &it.Referral
	in := &r.Infant
	c := cases.Case{Document: cases.DocumentName, TestMessage: r.Test()}
	on, why := referralDay(r, mail, today)
	if why != "" {
		c.ToCheck = append(c.ToCheck, cases.ToCheck{Field: "referral.on", Text: r.Sent.Text, Reason: why})
	}
	c.Infant = cases.Infant{Given: in.Given, Family: in.Family, Sex: in.Sex, Born: in.Born.Day, BornAt: in.Born.Clock,
		Plurality: in.Plurality, BirthOrder: in.Order, Gestation: in.Gestation, BirthWeightG: in.BirthWeight,
		Facility: in.Facility, Records: records(r)}
	if in.CardWeight != 0 && r.Collected.Day != 0 {
		c.Infant.Weights = []cases.Weight{{On: r.Collected.Day, G: in.CardWeight, By: "newborn screen card"}}
	}
	c.Referral = cases.Referral{On: on, Route: "screen", Screen: screenOf(r)}
	c.Genotype = genotypeOf(v, r, on)
	c.Family = familyOf(r)
	c.PrimaryCare = careOf(r)
	death(&c, r, on)
	for _, p := range append(it.Problems, v.Genes.Problems...) {
		if p.Severity >= Check {
			c.ToCheck = append(c.ToCheck, toCheck(p))
		}
	}
	if v.Outcome == Opened {
		for _, reason := range v.Reasons {
			c.ToCheck = append(c.ToCheck, cases.ToCheck{Field: "screen", Reason: reason})
		}
	}
	c.ToCheck = append(c.ToCheck, familyChecks(r)...)
	return c
}

func toCheck(p Problem) cases.ToCheck {
	f := p.Where()
	if f == "" {
		f = "message"
	}
	return cases.ToCheck{Field: f, Text: p.Value, Reason: p.Text}
}

// records lists the infant's numbers: hospital record numbers, the card, and the
// mother's record number, each with who gave it.
func records(r *Referral) (out []cases.RecordNo) {
	for _, id := range r.Infant.Records {
		out = append(out, cases.RecordNo{Number: id.Number, Authority: id.Authority})
	}
	if r.Card != "" {
		out = append(out, cases.RecordNo{Number: r.Card, Authority: cardRecord})
	}
	if r.FirstCard != "" && r.FirstCard != r.Card {
		out = append(out, cases.RecordNo{Number: r.FirstCard, Authority: cardRecord})
	}
	if id := r.Infant.MotherID; id.Number != "" {
		out = append(out, cases.RecordNo{Number: id.Number, Authority: motherAuthority(id.Authority)})
	}
	return out
}

// motherAuthority marks a number as the mother's, beside who gave it.
func motherAuthority(authority string) string {
	return strings.TrimSuffix(motherRecord+", "+authority, ", ")
}

func screenOf(r *Referral) *cases.Screen {
	s := &cases.Screen{Collected: r.Collected.Day, Reported: r.Reported.Day, Accession: r.Accession.Number,
		CardSerial: r.Card, Laboratory: r.Sender, Comment: strings.Join(r.Comments, "\n")}
	if s.Reported == 0 {
		s.Reported = r.Sent.Day
	}
	var results []string
	for _, a := range r.Interpretation {
		t := a.Text
		if t == "" {
			t = a.Code
		}
		results = append(results, t)
	}
	s.Result = strings.Join(results, "; ")
	for _, f := range r.Factors {
		s.Transfused = s.Transfused || f.Code == "LA12417-4" || strings.Contains(strings.ToLower(f.Text), "transfus")
	}
	s.Transfused = s.Transfused || r.Transfused.Text != ""
	irt(r.IRT, s)
	return s
}

// irt keeps one certain number as a number; a comparator, a doubt or several
// values stay text.
func irt(ms []Measure, s *cases.Screen) {
	var texts []string
	for _, m := range ms {
		t := strings.TrimSpace(m.Text + " " + m.Unit)
		if m.Range != "" {
			t += " (range " + m.Range + ")"
		}
		texts = append(texts, t)
	}
	if len(ms) == 1 && ms[0].Value != nil && ms[0].Comparator == "" && ms[0].Doubt == "" && *ms[0].Value >= 0 {
		v := *ms[0].Value
		s.IRTNgML = &v
		if ms[0].Range != "" {
			s.IRTText = "laboratory range " + ms[0].Range
		}
		return
	}
	s.IRTText = strings.Join(texts, "; ")
}

// genotypeOf enters one variant for each name and allele. It is nil while nothing
// was reported.
func genotypeOf(v *Verdict, r *Referral, on cases.Day) *cases.Genotype {
	if !v.Genes.Reported {
		return nil
	}
	g := &cases.Genotype{Reported: r.Reported.Day, Scope: "panel"}
	if g.Reported == 0 {
		g.Reported = on
	}
	for _, n := range v.Genes.Names {
		g.Variants = append(g.Variants, cases.Variant{Name: n, Phase: "unknown"})
	}
	return g
}

// death sets the day of death, which stops letters and reminders at once. Without
// a day in the message, the day of the message stands until a person corrects it.
func death(c *cases.Case, r *Referral, on cases.Day) {
	if !r.Infant.Deceased {
		return
	}
	c.Infant.Died, c.Infant.DiedReported = r.Infant.Died.Day, on
	if c.Infant.Died == 0 || c.Infant.Died > on {
		c.Infant.Died = on
		c.ToCheck = append(c.ToCheck, cases.ToCheck{Field: "infant.died", Text: r.Infant.Died.Text,
			Reason: "The message says that the infant died, without a usable day. The day it was reported stands here until the true one is entered."})
	}
}

func careOf(r *Referral) *cases.PrimaryCare {
	if r.Infant.Care != nil {
		p := *r.Infant.Care
		return &p
	}
	if r.Ordering != "" {
		return &cases.PrimaryCare{Name: r.Ordering + " (ordering provider)"}
	}
	return nil
}
