package schedule

import (
	"slices"
	"strings"

	"dunlin/cases"
)

// misfit is the first reason why a place does not fit an infant, in the order in
// which the reasons are looked at.
type misfit uint8

const (
	fits misfit = iota
	tooEarly
	keptForRepeats
	siteTooYoung
	siteTooOld
	siteTooLight
	noInterpreter
	tooFar
	wrongWeekday
	wrongTime
	misfits // their number
)

var misfitWords = [misfits]string{
	tooEarly: "before the infant can be tested", keptForRepeats: "kept for repeats", siteTooYoung: "too young for the site",
	siteTooOld: "too old for the site", siteTooLight: "the weight is below what the site asks for",
	noInterpreter: "no interpreter for the family's language", tooFar: "farther than the family can come",
	wrongWeekday: "on a day of the week on which the family cannot come", wrongTime: "at a time at which the family cannot come",
}

// fit tells whether a place is acceptable for an infant. km is the way, nil when it
// is not known: then the family's limit is left to the talk with them. A weight that
// the site asks for beyond the protocol must have been measured.
func fit(w *Wait, p *Place, km *float64) misfit {
	on, acc := p.Session.On, &p.Site.Accepts
	age := int(on - w.Born)
	switch {
	case on < w.From:
		return tooEarly
	case p.Kept && !w.Kind.mayUseKept():
		return keptForRepeats
	case age < acc.MinAgeDays:
		return siteTooYoung
	case acc.MaxAgeDays > 0 && age > acc.MaxAgeDays:
		return siteTooOld
	case acc.MinWeightG > 0 && w.Readiness.Latest.G < acc.MinWeightG:
		return siteTooLight
	case w.Language != "" && !speaks(p.Site.Languages, w.Language):
		return noInterpreter
	case w.Limits.MaxKm > 0 && km != nil && *km > w.Limits.MaxKm:
		return tooFar
	case len(w.Limits.Weekdays) > 0 && !slices.Contains(w.Limits.Weekdays, int(on.Weekday())):
		return wrongWeekday
	case w.Limits.NotBefore != "" && p.At < w.Limits.NotBefore, w.Limits.NotAfter != "" && p.At > w.Limits.NotAfter:
		return wrongTime
	}
	return fits
}

// speaks compares languages by their first part: es-MX is spoken where es is.
func speaks(tags []string, want string) bool {
	base := func(t string) string {
		b, _, _ := strings.Cut(strings.ToLower(t), "-")
		return b
	}
	return slices.ContainsFunc(tags, func(t string) bool { return base(t) == base(want) })
}

// lateBy is by how many days a day is past the deadline.
func (w *Wait) lateBy(on cases.Day) int { return max(0, int(on-w.Deadline)) }
