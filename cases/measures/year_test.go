package measures

import (
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// yearCase is a case of an infant born on a day, closed at an age ("" and 0: open).
func yearCase(born cases.Day, route, as string, age int) cases.Milestones {
	m := cases.Milestones{Born: born, Referred: born + 6, Route: route, Reported: born + 5, FirstTest: born + 20, FirstSufficient: born + 20, Gestation: 273}
	if as != "" {
		m.Closed, m.ClosedAs = born+cases.Day(age), as
		if ReasonCode(as) == 1 {
			m.Determined = m.Closed
		}
	}
	return m
}

func TestYearCountsTheInfantsBornInIt(t *testing.T) {
	first, last := FirstOfYear(2024), LastOfYear(2024)
	test := yearCase(first, "screen", "", 0)
	test.Marks = cases.MarkTestMessage
	late := yearCase(last, "screen", "", 0)
	late.Referred = last + 400
	tally := NewYearTally(2024, last+365, cases.DefaultProtocol())
	for _, m := range []cases.Milestones{
		yearCase(first, "screen", "cf", 20), yearCase(first+10, "screen", "cf", 40), yearCase(last, "clinical", "carrier", 30),
		yearCase(last, "screen", "", 0), // referred in the next year, still open
		yearCase(first-1, "screen", "cf", 10), yearCase(last+1, "screen", "cf", 10), test, late,
		yearCase(last, "screen", "lost", 500), // closed after the day of the figures
	} {
		tally.Add(&m)
	}
	y := tally.Report()
	if y.Cases != 5 || y.Open != 2 {
		t.Errorf("%d cases, %d open", y.Cases, y.Open)
	}
	if d := cmp.Diff([]Count{{"screen", 4}, {"clinical", 1}}, y.ByRoute); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]Count{{"cf", 2}, {"carrier", 1}}, y.ClosedAs); d != "" {
		t.Error(d)
	}
	if y.Diagnosed.N != 2 || *y.Diagnosed.Median != 30 || y.Cleared.N != 1 || *y.Cleared.P90 != 30 {
		t.Errorf("diagnosed %+v, cleared %+v", y.Diagnosed, y.Cleared)
	}
	if len(y.Intervals) != len(YearIntervals) {
		t.Fatalf("%d intervals", len(y.Intervals))
	}
	for _, x := range y.Intervals {
		if x.Cases != 5 || x.By != ByBirth || x.Window.From != first || x.Window.To != last {
			t.Errorf("%s is of %d cases: %s", x.Interval(), x.Cases, x.Words())
		}
	}
	p := y.Publish(SmallNumbers{})
	if p.Cases.N != 5 || p.Open.N != 2 || len(p.ClosedAs) != 2 || p.ClosedAs[0].N.N != 2 {
		t.Errorf("in full: %+v", p)
	}
}

func TestAnEmptyYear(t *testing.T) {
	p := NewYearTally(2024, LastOfYear(2025), cases.DefaultProtocol()).Report().Publish(SmallNumbers{Below: 11})
	if p.Cases.Hidden || p.Cases.N != 0 || p.Diagnosed.Median != nil {
		t.Errorf("%+v", p)
	}
}

// What a year shows tells no small count: none is shown, none is the only one missing
// of a total, and no count that stands in two places is hidden in one of them only.
func TestAPublishedYearTellsNoSmallCount(t *testing.T) {
	routes, ends := cases.Routes, append([]string{""}, cases.Determinations...)
	rapid.Check(t, func(t *rapid.T) {
		rule := SmallNumbers{Below: rapid.SampledFrom([]int{5, 11}).Draw(t, "below")}
		tally := NewYearTally(2024, LastOfYear(2025)+200, cases.DefaultProtocol())
		for range rapid.IntRange(1, 9).Draw(t, "kinds") {
			m := yearCase(FirstOfYear(2024)+cases.Day(rapid.IntRange(0, 365).Draw(t, "born")), rapid.SampledFrom(routes).Draw(t, "route"),
				rapid.SampledFrom(ends).Draw(t, "as"), rapid.IntRange(10, 300).Draw(t, "age"))
			for range rapid.IntRange(1, 40).Draw(t, "n") {
				tally.Add(&m)
			}
		}
		y := tally.Report()
		p := y.Publish(rule)
		shown := func(what string, n int, c Cell) {
			if !c.Hidden && (n > 0 && n < rule.Below || c.N != n) {
				t.Errorf("%s: %d is shown as %s", what, n, c)
			}
		}
		list := func(what string, full []Count, got []PublishedCount, total Cell) {
			hidden := 0
			for i, c := range full {
				if got[i].As != c.As {
					t.Fatalf("%s: %s stands for %s", what, got[i].As, c.As)
				}
				shown(what+" "+c.As, c.N, got[i].N)
				if got[i].N.Hidden {
					hidden++
				}
			}
			if hidden == 1 && !total.Hidden {
				t.Errorf("%s: one of %v is hidden and the total shown", what, got)
			}
		}
		list("routes", y.ByRoute, p.ByRoute, p.Cases)
		list("variants", y.ByVariants, p.ByVariants, p.Cases)
		list("closed", append([]Count{{"open", y.Open}}, y.ClosedAs...), append([]PublishedCount{{"open", p.Open}}, p.ClosedAs...), p.Cases)
		whole, _ := p.Interval(Birth, Closure, "")
		for k, class := range whole.All.Reasons {
			hidden, members := 0, 0
			for _, c := range p.ClosedAs {
				if int(ReasonCode(c.As)) == k+1 {
					members++
					if c.N.Hidden {
						hidden++
					}
				}
			}
			if !class.N.Hidden && hidden == 1 {
				t.Errorf("one of the closures %q is hidden beside their sum", class.As)
			}
			if class.N.Hidden && members > 0 && hidden == 0 {
				t.Errorf("the closures %q are shown, and their sum is hidden", class.As)
			}
		}
		for _, r := range p.Rates.Rates {
			switch r.Measure {
			case LostClosures:
				if p.Open.Hidden && !r.Of.Hidden && y.Open > 0 {
					t.Errorf("%d closed of %s tells the open cases", r.Of.N, p.Cases)
				}
			case PredictsCF:
				if !r.Count.Hidden && !p.closed("cf") {
					t.Errorf("%d with CF are shown among the rates, hidden above", r.Count.N)
				}
			}
		}
	})
}
