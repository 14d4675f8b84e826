package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// estimateWords marks every projected weight.
const estimateWords = "estimate, weigh on the day"

// shortWeight is weightWords without what the projection rests on, for narrow tables.
func (s *server) shortWeight(a *cases.Assessment) (weight, note string) {
	weight, note = s.weightWords(a)
	if window, _ := s.projectionWords(a); window != "" {
		note = "measured " + shortDay(a.Readiness.Latest.On) + ". " + window
		if a.Readiness.Weight.Estimate.Central != 0 {
			note += ": " + estimateWords
		}
	}
	return weight, note
}

// weightWords is the latest measured weight, and what it means today. A
// projected weight is called an estimate.
func (s *server) weightWords(a *cases.Assessment) (weight, note string) {
	r := &a.Readiness
	if r.Latest.On == 0 {
		return "Not known", "weigh first"
	}
	weight, note = templates.Kg(int(r.Latest.G)), "measured "+shortDay(r.Latest.On)
	switch r.Weight.State {
	case cases.WeightLikely:
		note += ", likely enough: " + estimateWords
	case cases.WeightShort:
		if text := s.estimateText(a); text != "" {
			note += ". " + text
		}
	}
	return weight, note
}

// estimateText is the projection to the least weight in one sentence, "" without
// one.
func (s *server) estimateText(a *cases.Assessment) string {
	e := a.Readiness.Weight.Estimate
	if e == nil {
		return ""
	}
	window, basis := s.projectionWords(a)
	switch e.Status {
	case "not_gaining", "far":
		return window + ": weigh again by " + shortDay(e.ReweighBy) + " (" + basis + ")"
	}
	return window + ", " + basis + ": " + estimateWords
}

// projectionWords is the projection to the least weight and what it rests on, in two
// parts of a sentence; both "" without one.
func (s *server) projectionWords(a *cases.Assessment) (window, basis string) {
	e := a.Readiness.Weight.Estimate
	if e == nil {
		return "", ""
	}
	switch e.Status {
	case "not_gaining":
		return "Not gaining", fmt.Sprintf("%.0f g a day in its last weights; no day is estimated", e.GPerDay)
	case "far":
		return "Far from enough", "more than 6 weeks ahead; no day is estimated"
	}
	window = fmt.Sprintf("%s about %s (%s to %s)", templates.Kg(int(s.protocol().MinWeightG)), shortDay(e.Central), shortDay(e.Early), shortDay(e.Late))
	switch {
	case e.Status == "slow":
		basis = fmt.Sprintf("from its own slow gain of %.0f g a day", e.GPerDay)
	case e.Status == "fast_capped":
		basis = fmt.Sprintf("its gain of %.0f g a day counted as 45: check unit and scale", e.GPerDay)
	case e.Basis == "observed":
		basis = fmt.Sprintf("from its own gain of %.0f g a day", e.GPerDay)
	case e.Basis == "population":
		basis = "from one weight and the usual gain of 15 g/kg a day"
	case e.Basis == "population_from_birth":
		basis = "from the first days' weight: back at birth weight on day 14, then the usual gain of 15 g/kg a day"
	default:
		basis = "from the last weight"
	}
	return window, basis
}

// earliestWords says when the infant can be tested and what it waits for.
func earliestWords(a *cases.Assessment, today cases.Day) (earliest, waits string) {
	r := &a.Readiness
	if r.Ready {
		return "Now", ""
	}
	waits = "waits for " + waitList(r.WaitingFor)
	if r.WaitingFor.Has(cases.WaitWeight) {
		if e := r.Weight.Estimate; e == nil || e.Central == 0 {
			return "Weigh first", waits
		}
		at := max(r.Earliest, r.Weight.Estimate.Central, today)
		return date(at).Weekday(), waits + "; " + estimateWords
	}
	if r.WaitingFor == cases.WaitHold {
		return "After the hold", waits
	}
	return date(max(r.Earliest, today)).Weekday(), waits
}

func waitList(w cases.Waits) string {
	words := map[string]string{"gestation": "corrected age"}
	var out []string
	for _, x := range w.Words() {
		out = append(out, or(words[x], x))
	}
	return strings.Join(out, ", ")
}

// readyTag is the head of the box "Can the infant be tested?".
func readyTag(a *cases.Assessment) templates.Tag {
	if a.Readiness.Ready {
		return templates.Tag{Kind: "ready", Text: a.Readiness.Word()}
	}
	return templates.Tag{Kind: "hold", Text: a.Readiness.Word()}
}

// notReadyOn says what would be missing on a day; "" when the infant is ready
// then as far as is known today.
func (s *server) notReadyOn(c *cases.Case, on cases.Day) string {
	p := s.protocol()
	r := p.Readiness(c, on)
	var why []string
	if r.WaitingFor.Has(cases.WaitAge) {
		why = append(why, fmt.Sprintf("age %s of %d, the earliest date is %s", templates.Days(int(on-c.Infant.Born)), p.MinAgeDays, shortDay(r.AgeFrom)))
	}
	if r.WaitingFor.Has(cases.WaitGestation) {
		why = append(why, fmt.Sprintf("corrected gestational age under %s until %s", gestationWords(p.MinCorrectedGestation), shortDay(r.GestationFrom)))
	}
	if r.WaitingFor.Has(cases.WaitWeight) {
		switch e := r.Weight.Estimate; {
		case r.Latest.On == 0:
			why = append(why, "no weight is known")
		case e != nil && e.Central != 0 && e.Central <= on:
			why = append(why, fmt.Sprintf("the last weight was %s on %s; enough on that day is an %s", templates.Kg(int(r.Latest.G)), shortDay(r.Latest.On), estimateWords))
		default:
			why = append(why, fmt.Sprintf("weight %s on %s is under %s", templates.Kg(int(r.Latest.G)), shortDay(r.Latest.On), templates.Kg(int(p.MinWeightG))))
		}
	}
	if r.WaitingFor.Has(cases.WaitHold) {
		why = append(why, "a hold is open")
	}
	return strings.Join(why, "; ")
}
