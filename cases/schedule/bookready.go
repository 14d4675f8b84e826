package schedule

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// Against lists what speaks against testing the infant at the site on a day, from
// what is known now, each in words. A projected weight never counts as a weight: it
// plans a date, and only a measured weight makes an infant ready (numbers.md 4.5).
func Against(p *cases.Protocol, c *cases.Case, site *Site, on cases.Day) []string {
	in := &c.Infant
	r := p.Readiness(c, on)
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if r.WaitingFor.Has(cases.WaitAge) {
		add("%d days old on that day, %d are needed (from %s)", on-in.Born, p.MinAgeDays, sayDay(r.AgeFrom))
	}
	if r.WaitingFor.Has(cases.WaitGestation) {
		add("corrected gestation is reached on %s", sayDay(r.GestationFrom))
	}
	if r.WaitingFor.Has(cases.WaitWeight) {
		if r.Latest.On == 0 {
			add("no weight is known; weigh the infant")
		} else {
			add("last weighed %.0f g on %s, %.0f g are needed; weigh again", r.Latest.G, sayDay(r.Latest.On), p.MinWeightG)
		}
	}
	a := p.Assess(c, on)
	if a.Closed && a.ClosedAs == "crms-cfspid" && on < a.LookAgain {
		add("the re-test is meant for %s, the day to look again", sayDay(a.LookAgain))
	}
	if a.Repeat != nil && on < p.RepeatFrom(a.Repeat) {
		add("the repeat makes sense from %s, after the test of %s", sayDay(p.RepeatFrom(a.Repeat)), cases.Say(a.Repeat.After))
	}
	for i := range c.Holds {
		if h := &c.Holds[i]; h.From <= on && (h.Until == 0 || on < h.Until) {
			add("on hold since %s: %s", sayDay(h.From), cases.HoldWord(h.Reason))
		}
	}
	return append(out, site.against(in, &r, on)...)
}

// against lists why the site does not accept the infant on a day.
func (s *Site) against(in *cases.Infant, r *cases.Readiness, on cases.Day) []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, s.Name+" "+fmt.Sprintf(format, args...)) }
	age := int(on - in.Born)
	if k := s.Accepts.MinAgeDays; k > 0 && age < k {
		add("accepts from %d days of age", k)
	}
	if k := s.Accepts.MaxAgeDays; k > 0 && age > k {
		add("accepts up to %d days of age", k)
	}
	if k := s.Accepts.MinWeightG; k > 0 && r.Latest.G < k {
		add("accepts from %.0f g", k)
	}
	return out
}

// answers checks that a named person answers for a booking that something speaks
// against.
func (o *Override) answers(c *cases.Case, on cases.Day, against []string) error {
	switch {
	case o == nil:
		return &cases.Error{Kind: cases.Refused, Field: NeedsOverride, Text: fmt.Sprintf(
			"%s is not ready on %s: %s. Select a later day, or enter who decided to book all the same, and why.", c.Reference, sayDay(on), strings.Join(against, "; "))}
	case o.Seen != "" && o.Seen != SeenOf(against):
		return &cases.Error{Kind: cases.Refused, Field: NeedsOverride, Text: fmt.Sprintf(
			"What speaks against %s has changed since it was answered for: %s. Look again, and enter who decided to book %s all the same, and why.", sayDay(on), strings.Join(against, "; "), c.Reference)}
	case strings.TrimSpace(o.By) == "":
		return cases.FieldError("override.by", "Enter the name of the person who decided to book all the same")
	case strings.TrimSpace(o.Reason) == "":
		return cases.FieldError("override.reason", "Enter why the infant is booked all the same")
	}
	return nil
}
