package web

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"

	"pgregory.net/rapid"
)

// drawCohort gives n milestones of infants referred in 2025, closed for different
// reasons, of some sites of different size.
func drawCohort(rnd *rand.Rand, n, sites int) []cases.Milestones {
	first := cases.MakeDay(2025, 1, 1)
	out := make([]cases.Milestones, n)
	for i := range out {
		m := &out[i]
		m.Reference = fmt.Sprintf("AB-2025-%04d", i)
		m.Born = first + cases.Day(rnd.IntN(365))
		m.Referred = m.Born + cases.Day(rnd.IntN(12))
		m.Route = "screen"
		m.Site = fmt.Sprintf("site-%d", rnd.IntN(1+rnd.IntN(sites)))
		if rnd.IntN(9) == 0 {
			m.Marks |= cases.MarkException
		}
		if rnd.IntN(10) > 0 {
			m.FirstTest = m.Referred + cases.Day(rnd.IntN(40))
		}
		if rnd.IntN(6) > 0 {
			m.Closed = m.Referred + cases.Day(5+rnd.IntN(60))
			m.ClosedAs = []string{"carrier", "not-affected", "cf", "cf", "lost", "moved", "died", "refused"}[rnd.IntN(8)]
			if rnd.IntN(3) > 0 {
				m.ClosedAs = "not-affected"
			}
			if m.ClosedAs != "lost" && m.ClosedAs != "moved" && m.ClosedAs != "died" && m.ClosedAs != "refused" {
				m.Determined = m.Closed
			}
		}
	}
	return out
}

func reportOf(q measures.Question, ms []cases.Milestones) measures.IntervalReport {
	t := measures.NewIntervalTally(q)
	for i := range ms {
		t.Add(&ms[i])
	}
	return t.Report()
}

// smallText is a count from 1 to 10 as a page writes it.
func smallText(s string) bool {
	n, err := strconv.Atoi(strings.ReplaceAll(s, ",", ""))
	return err == nil && n > 0 && n < 11
}

// pageCounts are all counts that a page writes: in tables, under curves and below them.
func pageCounts(p *templates.ClosureTimesPage) (out []string) {
	table := func(t templates.IntervalTable) {
		for _, r := range t.Rows {
			out = append(out, r.Cases, r.Done, r.Waiting, r.Left)
		}
	}
	curve := func(f *templates.CurveFigure) {
		if f == nil {
			return
		}
		for _, r := range f.Curve.Counts {
			if r.Name != "At day" {
				out = append(out, r.N...)
			}
		}
		for _, t := range f.Tables {
			for _, r := range t.Rows {
				out = append(out, r.Waiting, r.Done, r.Left)
			}
		}
	}
	table(p.Groups)
	table(p.Classes)
	curve(p.Curve)
	curve(p.ReasonCurve)
	if p.Compare != nil {
		table(p.Compare.Table)
		curve(p.Compare.Figure)
	}
	if p.Reasons != nil {
		for _, r := range p.Reasons.Rows {
			out = append(out, r.Count)
		}
	}
	for _, f := range p.Facts {
		if f.Name == "Still waiting" || f.Name == "Left the count" {
			out = append(out, f.Value)
		}
	}
	return out
}

// TestThePageWritesNoSmallCount draws cohorts, intervals and groups, and looks at every
// count of the page: tables, numbers under the curves, reasons, facts.
func TestThePageWritesNoSmallCount(t *testing.T) {
	shown := 0
	rapid.Check(t, func(t *rapid.T) {
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		ms := drawCohort(rnd, rapid.IntRange(0, 400).Draw(t, "cases"), rapid.IntRange(1, 9).Draw(t, "sites"))
		q := measures.Question{From: measures.Birth, To: rapid.SampledFrom([]measures.Milestone{measures.FirstTest, measures.Closure, measures.Determination}).Draw(t, "to"),
			By: measures.ByReferral, Group: rapid.SampledFrom([]string{"", "site", "class", "year"}).Draw(t, "group")}
		q.AsOf = cases.MakeDay(2025, 6, 1) + cases.Day(rapid.IntRange(0, 300).Draw(t, "as of"))
		half := q
		half.Group, half.Window.To = "", cases.MakeDay(2025, 3, 31)
		rest := half
		rest.Window.From, rest.Window.To = half.Window.To+1, 0
		v := intervalView{rule: measures.SmallNumbers{Below: 11}, by: 28, window: 14}
		p := &templates.ClosureTimesPage{}
		rep := reportOf(q, ms)
		v.fill(p, &rep)
		p.Compare = v.compare(measures.CompareCohorts(reportOf(half, ms), reportOf(rest, ms)))
		for _, n := range pageCounts(p) {
			if smallText(n) {
				t.Fatalf("the page writes %s: %+v", n, pageCounts(p))
			}
			if n != "" && n != "0" && n != "Hidden" {
				shown++
			}
		}
	})
	if shown < 500 {
		t.Errorf("only %d counts were shown in all: the test looks at nothing", shown)
	}
}

// TestFullFiguresHideNothing: with no rule the page has each count and curve.
func TestFullFiguresHideNothing(t *testing.T) {
	ms := drawCohort(rand.New(rand.NewPCG(3, 1)), 300, 9)
	q := measures.Question{From: measures.Birth, To: measures.Closure, By: measures.ByReferral, Group: "site"}
	q.AsOf = cases.MakeDay(2026, 3, 1)
	v := intervalView{by: 28, window: 14}
	p := &templates.ClosureTimesPage{}
	rep := reportOf(q, ms)
	v.fill(p, &rep)
	small := false
	for _, n := range pageCounts(p) {
		if n == "Hidden" || n == notShown {
			t.Errorf("full figures hide a count")
		}
		small = small || smallText(n)
	}
	if !small || len(p.Curve.Curve.Lines) != templates.MostLines || !strings.Contains(p.Curve.Lead, "3 groups are not drawn") && !strings.Contains(strings.ReplaceAll(p.Curve.Lead, "\u00a0", " "), "3 groups are not drawn") {
		t.Errorf("small %v, %d lines: %s", small, len(p.Curve.Curve.Lines), p.Curve.Lead)
	}
	if len(p.Groups.Rows) != 10 || len(p.Classes.Rows) != 2 || p.Reasons == nil || p.ReasonCurve == nil {
		t.Errorf("%d rows, %d classes", len(p.Groups.Rows), len(p.Classes.Rows))
	}
}

// BenchmarkClosureTimesPage sets out the report of 100,000 cases of 60 sites, hidden
// and in full, from figures already counted.
func BenchmarkClosureTimesPage(b *testing.B) {
	ms := drawCohort(rand.New(rand.NewPCG(5, 1)), 100_000, 60)
	q := measures.Question{From: measures.Birth, To: measures.Closure, By: measures.ByReferral, Group: "site"}
	q.AsOf = cases.MakeDay(2026, 3, 1)
	rep := reportOf(q, ms)
	for name, below := range map[string]int{"hidden": 11, "full": 0} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				v := intervalView{rule: measures.SmallNumbers{Below: below}, by: 28, window: 14}
				v.fill(&templates.ClosureTimesPage{}, &rep)
			}
		})
	}
}
