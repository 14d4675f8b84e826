package web

import (
	"fmt"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// compare sets out two cohorts side by side.
func (v *intervalView) compare(c measures.Comparison) *templates.CohortCompare {
	p := c.Publish(v.rule)
	done := doneWord[p.A.To]
	a, b := p.A.All, p.B.All
	a.Name, b.Name = windowName(p.A.Question), windowName(p.B.Question)
	groups := []measures.PublishedGroup{a, b}
	out := &templates.CohortCompare{Lead: "First: " + a.Name + ". Second: " + b.Name + ".", Says: plainSays(p.Says),
		Table: v.table("cohorts", "The two cohorts", "Cohort", done, groups)}
	if p.Share.Value.Defined() {
		out.Differences = append(out.Differences, templates.Fact{Name: fmt.Sprintf("Share %s by day %d, first less second", done, p.Day),
			Text: differenceText(p.Share, 100, "percentage points")})
	}
	if p.Mean.Value.Defined() {
		out.Differences = append(out.Differences, templates.Fact{Name: fmt.Sprintf("Mean wait within %s, first less second", templates.Days(int(p.Tau))),
			Text: differenceText(p.Mean, 1, "days")})
	}
	if l := p.LogRank; l != nil {
		out.Differences = append(out.Differences, templates.Fact{Name: "Log-rank test", Text: fmt.Sprintf("chi-square %.2f, p %s", l.ChiSquare, chance(l.P))})
	}
	if at := largest(groups); len(at) == 2 {
		groups[0].Name, groups[1].Name = "First cohort", "Second cohort"
		f := v.groupCurves(&p.A, "cohort-curves", "Share "+done+", two cohorts", done, groups, at)
		out.Figure = &f
	}
	return out
}

// windowName names a cohort by its days.
func windowName(q measures.Question) string {
	verb := "Referred "
	if q.By == measures.ByBirth {
		verb = "Born "
	}
	switch w := q.Window; {
	case w.From != 0 && w.To != 0:
		return verb + shortDay(w.From) + " to " + shortDay(w.To)
	case w.From != 0:
		return verb + "from " + shortDay(w.From) + " on"
	default:
		return verb + "to " + shortDay(w.To)
	}
}

// differenceText is a difference with its limits.
func differenceText(d measures.DifferenceOf, times float64, unit string) string {
	value, lower, upper := d.Tenths(times)
	t := signed(value) + " " + unit
	if d.Lower.Defined() && d.Upper.Defined() {
		t += fmt.Sprintf(" (95%% limits %s to %s)", signed(lower), signed(upper))
	}
	return t
}

// chance is a p-value as far as it is worth reading.
func chance(p float64) string {
	if p < .001 {
		return "below 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// signed is a number to a tenth with its sign; zero has none.
func signed(x float64) string {
	if x == 0 {
		return "0.0"
	}
	return fmt.Sprintf("%+.1f", x)
}
