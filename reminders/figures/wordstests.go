package figures

import (
	"fmt"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// isQNS tells the rates of tests with too little sweat.
func isQNS(measure string) bool { return strings.HasPrefix(measure, "qns-") }

// rateOf finds a rate of all.
func rateOf(y *measures.PublishedYear, measure string) (measures.PublishedRate, bool) {
	for _, r := range y.Rates.Rates {
		if r.Measure == measure {
			return r, true
		}
	}
	return measures.PublishedRate{}, false
}

func nameOf(measure string) string {
	if d, ok := measures.DefinitionOf(measure); ok {
		return d.Name
	}
	return measure
}

// tests is the section on tests with too little sweat: all, by site as a funnel, and
// by what is known to matter.
func tests(y *measures.PublishedYear, about *About) templates.YearSection {
	s := templates.YearSection{ID: "tests", Name: "Tests with too little sweat (QNS)"}
	var all []measures.PublishedRate
	for _, r := range y.Rates.Rates {
		if isQNS(r.Measure) {
			all = append(all, r)
		}
	}
	if len(all) == 0 {
		return s
	}
	s.Tables = append(s.Tables, rateTable("All sites", all, func(r measures.PublishedRate) string { return nameOf(r.Measure) }))
	for _, b := range y.Rates.Breakdowns {
		if b.Measure != measures.QNSFirstYoung {
			continue
		}
		name := func(r measures.PublishedRate) string { return sentence(r.Name) }
		if b.By == "site" {
			name = func(r measures.PublishedRate) string { return sentence(about.site(r.Name)) }
			s.Funnel = funnelOf(b, about)
		}
		s.Tables = append(s.Tables, rateTable(nameOf(b.Measure)+", by "+b.By, b.Rows, name))
	}
	waits := templates.YearTable{Name: "Waits for a repeat", Columns: []templates.YearColumn{{Head: "From and to", Share: 2.4}, {Head: "Infants", Figure: true, Count: true}, {Head: "Median (95% limits)", Figure: true, Share: 1.4}, {Head: "By day 14 (95% limits)", Figure: true, Share: 1.6}}}
	for _, w := range []struct {
		name string
		of   measures.PublishedWait
	}{{"A first test with too little sweat to the next test", y.Rates.RepeatTest}, {"A first QNS or intermediate test to the result of a repeat", y.Rates.RepeatGrade}} {
		row := []string{w.name, cell(w.of.Cases), fewWord, fewWord}
		if !w.of.Cases.Hidden && w.of.Cases.N == 0 {
			row[2], row[3] = "None", "None"
		}
		if w.of.Median != nil {
			row[2] = quantileWord(*w.of.Median)
		}
		if w.of.By14 != nil {
			row[3] = shareWithLimits(measures.PublishedShare{Share: *w.of.By14})
		}
		waits.Rows = append(waits.Rows, row)
	}
	s.Tables = append(s.Tables, waits)
	return s
}

// rateTable sets rates out with their limits and, where there is one, the benchmark
// and the exact probability.
func rateTable(name string, rows []measures.PublishedRate, head func(measures.PublishedRate) string) templates.YearTable {
	t := templates.YearTable{Name: name, Columns: []templates.YearColumn{{Head: "Measure", Share: 2.6}, {Head: "Count of total", Figure: true, Count: true, Share: 1.2}, {Head: "Rate (95% limits)", Figure: true, Share: 1.8}}}
	held := false
	for _, r := range rows {
		held = held || r.Benchmark != nil
	}
	if held {
		t.Columns = append(t.Columns, templates.YearColumn{Head: "Benchmark", Figure: true, Share: 0.9}, templates.YearColumn{Head: "Exact p of so many or more", Figure: true, Share: 1.1})
	}
	for _, r := range rows {
		row := []string{head(r), ofWord(r.HiddenRate), rateLimits(r.HiddenRate)}
		if held {
			row = append(row, against(r)...)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// against gives the benchmark of a rate, and the exact probability of so many or more
// at it.
func against(r measures.PublishedRate) []string {
	switch {
	case r.Benchmark == nil:
		return []string{"none", "none"}
	case r.Test == nil:
		return []string{oneDecimal(*r.Benchmark), "none"}
	}
	return []string{oneDecimal(*r.Benchmark), chance(r.Test.Greater)}
}

// funnelOf places the sites whose counts are shown about the benchmark.
func funnelOf(b measures.PublishedBreakdown, about *About) *templates.YearFunnel {
	f := &templates.YearFunnel{ID: "funnel"}
	most, out := 0, 0
	for _, p := range b.Funnel {
		if p.Funnel == nil || p.Rate == nil {
			continue
		}
		dot := templates.YearFunnelDot{Name: sentence(about.site(p.Name)), Of: p.Of, Rate: *p.Rate}
		if p.Place != measures.FunnelIn {
			dot.Out = p.Place
		}
		if p.Place == measures.FunnelAlert || p.Place == measures.FunnelAlarm {
			out++
		}
		most = max(most, p.Of)
		f.Sites = append(f.Sites, dot)
	}
	if len(f.Sites) == 0 {
		f.Title = "QNS by site: no site to draw"
		f.Description = fmt.Sprintf("A site is drawn from %d infants on, and where its counts are not hidden.", measures.FunnelLeast)
		return f
	}
	f.Benchmark = about.Protocol.QNSBenchmarkYoung
	for n := measures.FunnelLeast; n <= most*11/10+1; n += max(1, most/60) {
		l := measures.FunnelAt(f.Benchmark, n)
		f.Limits = append(f.Limits, templates.YearLimits{Of: n, Low: l.Alert.Lower, High: l.Alert.Upper, Lowest: l.Alarm.Lower, Highest: l.Alarm.Upper})
	}
	alert, _ := measures.FalseFlags(f.Benchmark, b.Funnel)
	f.Title = fmt.Sprintf("QNS by site: %d of %s drawn above the upper 95%% limit", out, templates.Count(len(f.Sites), "site", "sites"))
	f.Description = fmt.Sprintf("Each mark is a site: infants by their first test, at up to 3 months, and the share with too little sweat. Line: the benchmark of %s. Solid: exact 95%% limits about it; dashed: 99.8%%. Circle: within the 95%% limits; diamond: outside. Were every site at the benchmark, at least one would lie above the upper 95%% limit by chance with a probability of %s.",
		oneDecimal(f.Benchmark), oneDecimal(alert))
	if hidden := len(b.Rows) - len(f.Sites); hidden > 0 {
		f.Description += fmt.Sprintf(" Not drawn: %s with hidden counts, or fewer than %d infants.", templates.Count(hidden, "site", "sites"), measures.FunnelLeast)
	}
	return f
}
