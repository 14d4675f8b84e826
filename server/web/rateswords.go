package web

import (
	"fmt"
	"strconv"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// usual is the probability under which a difference is called more than chance would
// usually give: a convention.
const usual = 0.05

// says puts the figures into sentences: what was seen, how it compares, never why.
func (x *ratesView) says(main measures.PublishedRate, sites measures.PublishedBreakdown) []string {
	var out []string
	if s := x.mainSays(main); s != "" {
		out = append(out, s)
	}
	if s := x.sitesSay(sites); s != "" {
		out = append(out, s)
	}
	if t := x.tested(28); !x.r.ByDay && t.All.Rate != "" && t.All.Rate != "None" {
		s := fmt.Sprintf("By day 28, %s of the infants who reached that age had a test with enough sweat.", t.All.Rate)
		if t.Ready.Rate != "" && t.Ready.Rate != "None" {
			s = strings.TrimSuffix(s, ".") + fmt.Sprintf("; of those old enough in time, %s.", t.Ready.Rate)
		}
		out = append(out, s)
	}
	if m := x.r.RepeatTest.Median; m != nil {
		out = append(out, fmt.Sprintf("After a first test with too little sweat, half had the next one within %s.", daysText(m.Day)))
	}
	return out
}

func (x *ratesView) mainSays(r measures.PublishedRate) string {
	what := map[string]string{measures.QNSFirstYoung: "first tests of infants up to 3 months", measures.QNSTestsYoung: "collections of infants up to 3 months", measures.QNSTestsOlder: "collections of infants over 3 months"}[x.q.measure]
	if r.Rate == nil {
		if r.Count.Hidden || r.Of.Hidden {
			return "How many " + what + " were QNS is hidden: the count is too small, or another could be worked out from it."
		}
		return "There were no " + what + "."
	}
	s := fmt.Sprintf("%s of %s %s were QNS: %s, 95%% limits %s.", cellText(r.Count), cellText(r.Of), what, percent1(*r.Rate), limits1(r.Limits))
	if r.Benchmark == nil || r.Test == nil {
		return s
	}
	bench := templates.Percent(*r.Benchmark)
	switch {
	case r.Test.Greater < usual:
		return s + fmt.Sprintf(" That is more than the benchmark of %s, and more than chance would usually give (exact p %s).", bench, chance(r.Test.Greater))
	case r.Test.Less < usual:
		return s + fmt.Sprintf(" That is less than the benchmark of %s, and less than chance would usually give (exact p %s).", bench, chance(r.Test.Less))
	case *r.Rate > *r.Benchmark:
		return s + fmt.Sprintf(" That is more than the benchmark of %s, but no more than chance often gives (exact p %s).", bench, chance(r.Test.Greater))
	}
	return s + fmt.Sprintf(" The benchmark is %s or less.", bench)
}

// outside names the sites beyond a limit of the funnel.
func (x *ratesView) outside(points []measures.FunnelPoint, places ...string) []string {
	var out []string
	for _, p := range points {
		for _, place := range places {
			if p.Place == place {
				out = append(out, x.groupName("site", p.Name))
			}
		}
	}
	return out
}

func (x *ratesView) sitesSay(b measures.PublishedBreakdown) string {
	placed := 0
	for _, p := range b.Funnel {
		if p.Funnel != nil {
			placed++
		}
	}
	if placed == 0 {
		return ""
	}
	high, low := x.outside(b.Funnel, measures.FunnelAlert, measures.FunnelAlarm), x.outside(b.Funnel, measures.FunnelBelow)
	s := "No site lies outside of the limits about the benchmark."
	switch {
	case len(high) > 0:
		s = isAre(high, "above") + " the limits: worth a look at how tests are done there, and at who is tested there."
	case len(low) > 0:
		s = isAre(low, "below") + " the limits."
	}
	alert, _ := measures.FalseFlags(*b.Rows[0].Benchmark, b.Funnel)
	return s + fmt.Sprintf(" If every one of the %s had exactly the benchmark's rate, chance alone would still put at least one above the 95%% limit %s.", templates.Count(placed, "site drawn", "sites drawn"), times(alert))
}

func isAre(names []string, where string) string {
	if len(names) == 1 {
		return names[0] + " is " + where
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1] + " are " + where
}

// times says a probability as so many times in 100.
func times(p float64) string {
	n := int(100*p + .5)
	switch {
	case n == 0:
		return "less than once in 100 times"
	case n == 1:
		return "once in 100 times"
	}
	return strconv.Itoa(n) + " times in 100"
}

func (x *ratesView) facts(main measures.PublishedRate) []templates.BigFact {
	fact := func(name string, r measures.PublishedRate, note string) templates.BigFact {
		row := rateRow(name, r)
		f := templates.BigFact{Name: name, Value: or(row.Rate, "Hidden"), Note: note}
		if r.Rate != nil {
			f.Note = strings.TrimSpace(row.Count + " of " + row.Of + ". " + note)
		}
		return f
	}
	bench := ""
	if main.Benchmark != nil {
		bench = "Benchmark " + templates.Percent(*main.Benchmark) + " or less"
	}
	out := []templates.BigFact{fact(definitionName(x.q.measure), main, bench), fact("Missed appointments", x.rate(measures.MissedVisits), "")}
	if !x.r.ByDay {
		out = append(out, fact("Tested by 28 days", x.rate(measures.TestedBy(28)), ""), fact("Lost to follow-up at 12 months", x.rate(measures.NoResolution365), ""))
	}
	repeat := templates.BigFact{Name: "QNS to next test, median", Value: "Hidden"}
	if m := x.r.RepeatTest.Median; m != nil {
		repeat.Value = daysText(m.Day)
	} else if !x.r.RepeatTest.Cases.Hidden && x.r.RepeatTest.Cases.N == 0 {
		repeat.Value = "None"
	}
	return append(out, repeat)
}

// waits sets out the waits for a repeat; one of too few infants is hidden.
func (x *ratesView) waits() []templates.WaitRow {
	var out []templates.WaitRow
	for _, w := range []struct {
		name string
		of   measures.PublishedWait
	}{{"From a first QNS to the next test", x.r.RepeatTest}, {"From a first QNS or intermediate test to the result of a repeat", x.r.RepeatGrade}} {
		row := templates.WaitRow{Name: w.name, Infants: cellText(w.of.Cases), Median: "Hidden", Limits: "None", By14: "Hidden"}
		if !w.of.Cases.Hidden && w.of.Cases.N == 0 {
			row.Median, row.By14 = "None", "None"
		}
		if m := w.of.Median; m != nil {
			row.Median = daysText(m.Day)
			if m.Lower != nil || m.Upper != nil {
				row.Limits = measures.Days(m.Lower) + " to " + measures.Days(m.Upper)
			}
		}
		if w.of.By14 != nil {
			row.By14 = shareText(measures.PublishedShare{Share: *w.of.By14})
		}
		out = append(out, row)
	}
	return out
}

// calls are the attempts to reach families, for each case; hidden, or not there, when
// too few cases stand behind them.
func (x *ratesView) calls() []templates.Fact {
	if x.r.ByDay {
		return nil
	}
	var out []templates.Fact
	for _, c := range []struct {
		name string
		of   *float64
	}{{"All cases, mean", x.r.PerCase}, {"Closed cases, median", x.r.CallsMedian}, {"Closed cases, nine tenths", x.r.CallsP90}} {
		f := templates.Fact{Name: c.name, Text: "Hidden"}
		if c.of != nil {
			f.Text = strconv.FormatFloat(*c.of, 'f', 1, 64)
		}
		out = append(out, f)
	}
	return out
}

func (x *ratesView) notes() []string {
	p := x.s.protocol()
	out := []string{
		"The limits of a rate are 95 % (Wilson). p is the exact binomial probability of so many or more QNS at the benchmark; adjusted (Holm) it allows for how many groups are looked at.",
		fmt.Sprintf("The funnel stands about the program's benchmark, %s up to 3 months and %s after, not about the average of the sites. Its limits are exact binomial, interpolated (Spiegelhalter 2005). Sites with fewer than %d are not placed.", templates.Percent(p.QNSBenchmarkYoung), templates.Percent(p.QNSBenchmarkOlder), measures.FunnelLeast),
		"Exact limits and tests ask for independent tests: first tests count each infant once. Counting all collections, an infant who is tested again counts again.",
		"A rate is a question and no verdict: age, weight, gestation, how tests are done and chance all move it. Groups that differ in one of these differ in others.",
		"Letters that went out late are not counted: the day on which a letter was first owed is not kept.",
	}
	if x.r.Below > 1 {
		out = append(out, fmt.Sprintf("Counts from 1 to %d are hidden, and others that they could be worked out from within a table. Two reports of different days, or counts of them with and without repeats, can still be set against each other.", x.r.Below-1))
	}
	if x.r.ByDay {
		return append(out, "Chosen by day of the test, a report has only what is counted by tests and appointments. A first test counts when it lies in these days.")
	}
	return append(out, "The cohort is all infants referred in the time, with all their tests up to today. Medians of waiting count those who still wait (Kaplan-Meier).")
}
