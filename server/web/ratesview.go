package web

import (
	"fmt"
	"strconv"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// ratesView sets out published rates on their page.
type ratesView struct {
	s *server
	q *ratesQuery
	r measures.PublishedRates
}

// fewTests is the number of infants below which the page says that rates say little.
const fewTests = 30

func (x *ratesView) fill(p *templates.RatesPage) {
	p.Lead = fmt.Sprintf("%s, followed to %s: %s. Test messages are left out.", x.q.words(), shortDay(x.q.window.AsOf), x.casesWord())
	switch {
	case !x.r.Cases.Hidden && x.r.Cases.N == 0:
		p.Small = "There is nothing to count in this time. Choose other days."
	case x.r.Cases.Hidden:
		p.Small = fmt.Sprintf("Fewer than %d infants: nothing can be shown of so few.", x.r.Below)
	case x.r.Cases.N < fewTests:
		p.Small = fmt.Sprintf("%s only: rates of so few say little.", x.casesWord())
	}
	main := x.rate(x.q.measure)
	p.Facts = x.facts(main)
	sites := x.breakdown(x.q.measure, "site")
	p.Funnel = x.funnel(sites, main)
	p.Says = x.says(main, sites)
	for _, by := range []struct{ by, id, title, head string }{
		{"site", "by-site", "QNS by site", "Site"}, {"age at the test", "by-age", "QNS by age at the test", "Age"}, {"weight at the test", "by-weight", "QNS by weight at the test", "Weight"},
		{"birth weight", "by-birth-weight", "QNS by birth weight", "Birth weight"}, {"gestation", "by-gestation", "QNS by gestation", "Gestation"}, {"collector", "by-collector", "QNS by collector", "Collector"},
	} {
		t := x.table(x.breakdown(x.q.measure, by.by), by.id, by.title, by.head)
		if by.by == "site" {
			t.Lead = definitionName(x.q.measure) + "."
		}
		p.Tables = append(p.Tables, t)
	}
	if !x.r.ByDay {
		for _, days := range measures.TestedAges {
			p.Tested = append(p.Tested, x.tested(days))
		}
	}
	for _, d := range x.r.Definitions {
		if amongOthers(d.Key) {
			p.Others = append(p.Others, rateRow(d.Name, x.rate(d.Key)))
		}
	}
	if b := x.breakdown(measures.MissedVisits, "site"); len(b.Rows) > 0 {
		t := x.table(b, "missed", "Missed appointments by site", "Site")
		t.Of, t.Count = "Kept or missed", "Missed"
		p.Missed = &t
	}
	p.Waits, p.Calls = x.waits(), x.calls()
	for _, row := range x.breakdown(measures.Complete, "fact").Rows {
		p.Complete = append(p.Complete, rateRow(upperFirst(row.Name), row))
	}
	for _, d := range x.r.Definitions {
		p.Terms = append(p.Terms, templates.RateTerm{Name: d.Name, Numerator: d.Numerator, Denominator: d.Denominator, Note: d.Note})
	}
	p.Notes = x.notes()
}

// amongOthers tells the measures that stand in the list of others: those that have no table
// of their own. The kinds of QNS rates are chosen one at a time: their differences are
// counts of repeats, which can be small.
func amongOthers(key string) bool {
	switch key {
	case measures.QNSTestsYoung, measures.QNSTestsOlder, measures.QNSInfants, measures.QNSFirstYoung, measures.Complete:
		return false
	}
	return !strings.HasPrefix(key, "tested-by-")
}

func (x *ratesView) casesWord() string {
	if x.r.Cases.Hidden {
		return fmt.Sprintf("fewer than %d infants", x.r.Below)
	}
	return templates.Count(x.r.Cases.N, "infant", "infants")
}

func (x *ratesView) rate(key string) measures.PublishedRate {
	for _, r := range x.r.Rates {
		if r.Measure == key {
			return r
		}
	}
	return measures.PublishedRate{Measure: key}
}

func (x *ratesView) breakdown(key, by string) measures.PublishedBreakdown {
	for _, b := range x.r.Breakdowns {
		if b.Measure == key && b.By == by {
			return b
		}
	}
	return measures.PublishedBreakdown{Measure: key, By: by}
}

// table sets out one breakdown. A site is named; the other groups are bands.
func (x *ratesView) table(b measures.PublishedBreakdown, id, title, head string) templates.RateTable {
	t := templates.RateTable{ID: id, Title: title, By: head, Of: "Tested", Count: "QNS"}
	places := map[string]templates.Tag{}
	for _, p := range b.Funnel {
		places[p.Name] = placeTag(p.Place)
	}
	for _, r := range b.Rows {
		row := rateRow(x.groupName(b.By, r.Name), r)
		row.Place = places[r.Name]
		t.Against = t.Against || r.Benchmark != nil
		t.Rows = append(t.Rows, row)
	}
	return t
}

// unrecorded is the group of what is not recorded, as measures names it.
const unrecorded = "not recorded"

func (x *ratesView) groupName(by, name string) string {
	switch {
	case by == "site" && name != unrecorded:
		return shown(x.s.siteName(name))
	case by == "collector":
		return map[string]string{"pad": "Pad", "tubing": "Coiled tubing"}[name]
	}
	return upperFirst(name)
}

func placeTag(place string) templates.Tag {
	switch place {
	case measures.FunnelAlarm:
		return templates.Tag{Kind: "cross", Text: "Above the 99.8% limit"}
	case measures.FunnelAlert:
		return templates.Tag{Kind: "cross", Text: "Above the 95% limit"}
	case measures.FunnelBelow:
		return templates.Tag{Kind: "cross", Text: "Below the 95% limit"}
	case measures.FunnelFew:
		return templates.Tag{Kind: "blank", Text: fmt.Sprintf("Fewer than %d, not placed", measures.FunnelLeast)}
	}
	return templates.Tag{Kind: "done", Text: "Inside the limits"}
}

func rateRow(name string, r measures.PublishedRate) templates.RateRow {
	row := templates.RateRow{Name: name, Count: cellText(r.Count), Of: cellText(r.Of)}
	switch {
	case r.Rate != nil:
		row.Rate = percent1(*r.Rate)
	case !r.Of.Hidden && r.Of.N == 0:
		row.Rate = "None"
	}
	if r.Limits != nil {
		row.Limits = limits1(r.Limits)
	}
	if r.Test != nil {
		row.P = chance(r.Test.Greater)
	}
	if r.Holm != nil {
		row.Holm = chance(*r.Holm)
	}
	return row
}

// percent1 writes a fraction as a percentage with one decimal.
func percent1(v float64) string { return strconv.FormatFloat(100*v, 'f', 1, 64) + "%" }

func limits1(l *measures.Interval) string {
	return strconv.FormatFloat(100*l.Lower, 'f', 1, 64) + " to " + percent1(l.Upper)
}

func (x *ratesView) tested(days int) templates.TestedRow {
	key := measures.TestedBy(days)
	row := templates.TestedRow{Age: "Day " + strconv.Itoa(days), All: rateRow("", x.rate(key)), Ready: templates.RateRow{Count: "0", Of: "0"}, Not: templates.RateRow{Count: "0", Of: "0"}}
	for _, r := range x.breakdown(key, "readiness").Rows {
		if r.Name == measures.CouldBeReady {
			row.Ready = rateRow("", r)
		} else {
			row.Not = rateRow("", r)
		}
	}
	return row
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
