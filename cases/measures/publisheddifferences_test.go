package measures

import (
	"testing"

	"dunlin/cases"
)

// Two repeats with too little sweat are the difference between the QNS of first tests
// and of all tests; those who wait for a repeat are the infants whose first was QNS.
func TestQNSOfRepeatsIsNoDifference(t *testing.T) {
	born := asOf - 400
	tested := func(outcomes ...cases.Outcome) cases.Milestones {
		m := cases.Milestones{Born: born, Referred: born + 5, Route: "screen"}
		for i, o := range outcomes {
			m.Tests = append(m.Tests, cases.TestMark{On: born + 20 + cases.Day(7*i), Outcome: o, Site: "bay"})
		}
		return m
	}
	all := [][]cases.Milestones{repeated(12, tested(cases.QNS, cases.Unlikely)), repeated(2, tested(cases.QNS, cases.QNS)), repeated(40, tested(cases.Unlikely))}
	got, full := published(11, all...), published(0, all...)
	if f := full[QNSTestsYoung].Count.N - full[QNSFirstYoung].Count.N; f != 2 {
		t.Fatalf("the data have %d repeats that were QNS, not 2", f)
	}
	if !got[QNSTestsYoung].Count.Hidden || got[QNSFirstYoung].Count.N != 14 {
		t.Errorf("QNS of all tests %s, of first tests %s: the two repeats can be worked out", got[QNSTestsYoung].Count, got[QNSFirstYoung].Count)
	}
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	for _, m := range append(repeated(12, tested(cases.QNS, cases.Unlikely)), repeated(3, tested(cases.Unlikely))...) {
		tally.Add(&m)
	}
	p := tally.Report().Publish(SmallNumbers{Below: 11})
	for _, x := range p.Rates {
		if x.Measure == QNSInfants && x.Count.Hidden && !p.RepeatTest.Cases.Hidden {
			t.Errorf("%s infants wait for a repeat, whose number is hidden among the rates", p.RepeatTest.Cases)
		}
	}
}

// Eight tests without a weight of 88: the total stands beside the other facts of
// tests, so that it cannot be what is hidden. Two cases too new for a rate in time are
// the difference of its total and all cases.
func TestWhatIsNotRecordedIsNoDifference(t *testing.T) {
	born := asOf - 400
	m := cases.Milestones{Born: born, Referred: born + 5, Route: "screen", DoctorTold: born + 6,
		Tests: []cases.TestMark{{On: born + 20, Outcome: cases.Unlikely, Site: "bay", WeightG: 3000}}}
	unweighed, untested, fresh := m, m, m
	unweighed.Tests = []cases.TestMark{{On: born + 20, Outcome: cases.Unlikely, Site: "bay"}}
	unweighed.Lacks = cases.LacksTestWeight
	untested.Tests = nil
	fresh.Tests, fresh.Born, fresh.Referred, fresh.DoctorTold = nil, asOf-4, asOf, 0
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	for _, ms := range [][]cases.Milestones{repeated(80, m), repeated(8, unweighed), repeated(36, untested), repeated(2, fresh)} {
		for i := range ms {
			tally.Add(&ms[i])
		}
	}
	p := tally.Report().Publish(SmallNumbers{Below: 11})
	shown := 0
	for _, b := range p.Breakdowns {
		for _, x := range b.Rows {
			if b.Measure != Complete || x.Of.N != 88 {
				continue
			}
			shown++
			if !x.Count.Hidden && x.Count.N != 88 {
				t.Errorf("%s: %s of %s", x.Name, x.Count, x.Of)
			}
		}
	}
	if shown < 2 {
		t.Errorf("%d facts of tests have their total", shown)
	}
	for _, x := range p.Rates {
		if x.Measure == DoctorInTime && !x.Of.Hidden || x.Measure == FamilyInTime && !x.Of.Hidden {
			t.Errorf("%s: of %s of %s cases", x.Measure, x.Of, p.Cases)
		}
	}
}

// Who is tested but never with enough sweat, and who is closed but not determined, is
// the difference of two intervals of a year.
func TestIntervalsOfAYearHaveNoSmallDifference(t *testing.T) {
	tally := NewYearTally(2024, LastOfYear(2025), cases.DefaultProtocol())
	born := FirstOfYear(2024) + 10
	m := cases.Milestones{Born: born, Referred: born + 5, Route: "screen", FirstTest: born + 20, FirstSufficient: born + 20, Closed: born + 30, Determined: born + 30, ClosedAs: "carrier"}
	lost := m
	lost.FirstSufficient, lost.Determined, lost.ClosedAs = 0, 0, "lost"
	open := m
	open.FirstTest, open.FirstSufficient, open.Closed, open.Determined, open.ClosedAs = 0, 0, 0, 0, ""
	for _, ms := range [][]cases.Milestones{repeated(60, m), repeated(5, lost), repeated(30, open)} {
		for i := range ms {
			tally.Add(&ms[i])
		}
	}
	y := tally.Report()
	p := y.Publish(SmallNumbers{Below: 11})
	for _, to := range []Milestone{FirstSufficient, Determination} {
		x, _ := p.Interval(Birth, to, "")
		if !x.All.Done.Hidden || len(x.All.Curve) > 0 || len(x.All.Incidence) > 0 && len(x.All.Incidence[0].Steps) > 0 {
			t.Errorf("to %s: %s are done, five fewer than of the interval around it", to, x.All.Done)
		}
		for _, s := range x.All.Shares {
			if !s.Hidden {
				t.Errorf("to %s: the share by day %d is shown", to, s.Day)
			}
		}
	}
	for _, to := range []Milestone{FirstTest, Closure} {
		if x, _ := p.Interval(Birth, to, ""); x.All.Done.N != 65 {
			t.Errorf("to %s: %s are done, want 65", to, x.All.Done)
		}
	}
	if full, _ := y.Publish(SmallNumbers{}).interval(Birth, Determination); full.All.Done.N != 60 {
		t.Errorf("full figures hide %s", full.All.Done)
	}
}

func (p PublishedYear) interval(from, to Milestone) (PublishedInterval, bool) {
	return p.Interval(from, to, "")
}

// The table of classes fills in no total that the table of groups hides.
func TestClassesFillInNoTotal(t *testing.T) {
	tally := NewIntervalTally(Question{From: Birth, To: FirstTest, By: ByReferral, Group: "site", Window: Window{AsOf: asOf}})
	add := func(n int, site string, exception, done bool) {
		for range n {
			m := cases.Milestones{Born: asOf - 100, Referred: asOf - 95, Route: "screen", Site: site}
			if done {
				m.FirstTest = m.Born + 20
			}
			if exception {
				m.Marks |= cases.MarkException
			}
			tally.Add(&m)
		}
	}
	add(20, "bay", false, true)
	add(20, "hill", true, true)
	add(12, "hill", false, true)
	add(3, "shore", false, false)
	p := tally.Report().Publish(SmallNumbers{Below: 11})
	sum, all := 0, true
	for _, c := range p.Classes {
		sum, all = sum+c.Cases.N, all && !c.Cases.Hidden
	}
	if all && p.All.Cases.Hidden {
		t.Errorf("the classes add up to %d cases, whose total is hidden beside the groups", sum)
	}
	full := tally.Report().All
	for _, hide := range []func(*PublishedGroup){func(g *PublishedGroup) { g.Cases.Hidden = true }, func(g *PublishedGroup) { g.Left.Hidden = true }} {
		other := p.All
		hide(&other)
		if other.hidesLike(&p.All) && !p.All.Cases.Hidden && !p.All.Left.Hidden {
			t.Error("totals hidden otherwise count as alike")
		}
		for _, c := range publishClasses(tally.Report().Classes, &other, &full, SmallNumbers{Below: 11}) {
			if total := publishTable(tally.Report().Classes, SmallNumbers{Below: 11}); !total[len(total)-1].hidesLike(&other) && !(c.Cases.Hidden && c.Done.Hidden && c.Median.Hidden) {
				t.Errorf("%s: %s cases beside a total that is hidden", c.Name, c.Cases)
			}
		}
	}
}

// Five infants without a first test are the difference of all cases and of those whose
// first test is judged, also when that is added up from sites.
func TestFewUntestedAreNoDifference(t *testing.T) {
	born := asOf - 400
	at := func(site string) cases.Milestones {
		return cases.Milestones{Born: born, Referred: born + 5, Route: "screen", Language: "en",
			Tests: []cases.TestMark{{On: born + 20, Outcome: cases.Unlikely, Site: site}}}
	}
	all := [][]cases.Milestones{repeated(40, at("bay")), repeated(30, at("creek")), repeated(20, at("point")), repeated(12, cases.Milestones{
		Born: born, Referred: born + 5, Tests: []cases.TestMark{{On: born + 20, Outcome: cases.QNS, Site: "bay"}}})}
	for untested, told := range map[int]bool{5: false, 0: true, 20: true} {
		tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
		for _, ms := range append(all, repeated(untested, cases.Milestones{Born: born, Referred: born + 5})) {
			for i := range ms {
				tally.Add(&ms[i])
			}
		}
		p := tally.Report().Publish(SmallNumbers{Below: 11})
		if p.Cases.N != 102+untested {
			t.Fatalf("%d untested: %s cases", untested, p.Cases)
		}
		for _, x := range p.Rates {
			if (x.Measure == QNSInfants || x.Measure == QNSFirstYoung) && x.Of.Hidden == told {
				t.Errorf("%d untested: %s of %s beside %s cases", untested, x.Measure, x.Of, p.Cases)
			}
		}
		for _, b := range p.Breakdowns {
			if b.Measure != QNSInfants && b.Measure != QNSFirstYoung {
				continue
			}
			sum, all := 0, true
			for _, x := range b.Rows {
				sum, all = sum+x.Of.N, all && !x.Of.Hidden
			}
			if all && !told {
				t.Errorf("%d untested: %s by %s adds up to %d beside %s cases", untested, b.Measure, b.By, sum, p.Cases)
			}
			if b.By == "site" && (sum == 0 || all != told) {
				t.Errorf("%d untested: by site %+v", untested, b.Rows)
			}
		}
	}
}
