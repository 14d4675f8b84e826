package measures

import (
	"fmt"
	"testing"

	"dunlin/cases"

	"pgregory.net/rapid"
)

// A report of days counts collections and appointments by their own day, whenever the
// infant was referred, and a first test only when that day is in it.
func TestRatesOfDays(t *testing.T) {
	born := asOf - 400
	tally := NewDayTally(Window{From: born + 26, To: born + 100, AsOf: asOf}, cases.DefaultProtocol())
	for _, m := range someCohort() {
		tally.Add(&m)
	}
	r := tally.Report()
	if !r.ByDay || r.Cases != 3 || r.Calls.PerCase != nil {
		t.Errorf("by day %v, %d cases, contacts %v", r.ByDay, r.Cases, r.Calls.PerCase)
	}
	got := map[string]string{}
	for _, x := range r.Rates {
		got[x.Measure] = fmt.Sprintf("%d/%d", x.Count, x.Of)
	}
	// Collections on days 27, 30, 40 and 100; first ones on days 30 and 40.
	want := map[string]string{QNSTestsYoung: "1/3", QNSTestsOlder: "1/1", QNSInfants: "1/2", QNSFirstYoung: "1/2", MissedVisits: "0/2"}
	for k, v := range want {
		if got[k] != v {
			t.Errorf("%s is %s, want %s", k, got[k], v)
		}
	}
	if len(got) != len(want) || len(r.Definitions) != len(want) {
		t.Errorf("rates of infants are in a report of days: %v", got)
	}
}

func repeated(n int, m cases.Milestones) []cases.Milestones {
	out := make([]cases.Milestones, n)
	for i := range out {
		out[i] = m
	}
	return out
}

func published(below int, all ...[]cases.Milestones) map[string]HiddenRate {
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	for _, ms := range all {
		for i := range ms {
			tally.Add(&ms[i])
		}
	}
	out := map[string]HiddenRate{}
	for _, x := range tally.Report().Publish(SmallNumbers{Below: below}).Rates {
		out[x.Measure] = x.HiddenRate
	}
	return out
}

// Three infants tested between day 28 and day 35 could be worked out from the shares
// by both days, so the second is hidden; those of day 42 differ by enough.
func TestSharesAtGrowingAgesHideWhoCameBetween(t *testing.T) {
	born := asOf - 400
	tested := func(age int) cases.Milestones {
		return cases.Milestones{Born: born, Referred: born + 5, Route: "screen", FirstSufficient: born + cases.Day(age)}
	}
	never := tested(0)
	never.FirstSufficient = 0
	got := published(11, repeated(40, tested(20)), repeated(3, tested(30)), repeated(20, tested(40)), repeated(30, never))
	for days, want := range map[int]string{28: "40 of 93", 35: "hidden of hidden", 42: "63 of 93", 60: "63 of 93"} {
		h := got[TestedBy(days)]
		if s := fmt.Sprintf("%s of %s", h.Count, h.Of); s != want {
			t.Errorf("by day %d: %s, want %s", days, s, want)
		}
		if (h.Rate == nil) != (want == "hidden of hidden") {
			t.Errorf("by day %d: rate %v", days, h.Rate)
		}
	}
	full := published(0, repeated(40, tested(20)), repeated(3, tested(30)))
	if h := full[TestedBy(35)]; h.Count.Hidden || h.Count.N != 43 {
		t.Errorf("full figures hide %v", h)
	}
}

// The two predictive values differ by the infants with CRMS/CFSPID.
func TestPredictiveValuesDoNotGiveTheirDifferenceAway(t *testing.T) {
	born := asOf - 400
	as := func(s string) cases.Milestones {
		m := cases.Milestones{Born: born, Referred: born + 5, Route: "screen", Closed: born + 40, ClosedAs: s}
		return m
	}
	got := published(11, repeated(20, as("cf")), repeated(3, as("crms-cfspid")), repeated(60, as("carrier")))
	a, b := got[PredictsCF], got[PredictsEither]
	if !a.Count.Hidden && !b.Count.Hidden {
		t.Errorf("%s and %s: the three with CRMS/CFSPID can be worked out", a.Count, b.Count)
	}
	got = published(11, repeated(20, as("cf")), repeated(15, as("crms-cfspid")), repeated(60, as("carrier")))
	if a, b := got[PredictsCF], got[PredictsEither]; a.Count.N != 20 || b.Count.N != 35 || b.Of.N != 95 || a.Rate == nil || b.Rate == nil {
		t.Errorf("nothing is small, yet %v and %v", a, b)
	}
}

// Who is not counted can be few as well: two open cases, two infants referred otherwise.
func TestTotalsDoNotGiveAwayWhoIsLeftOut(t *testing.T) {
	born := asOf - 400
	closed := cases.Milestones{Born: born, Referred: born + 5, Route: "screen", Closed: born + 40, ClosedAs: "cf"}
	lost, open, sibling := closed, closed, closed
	lost.ClosedAs = "lost"
	open.Closed, open.ClosedAs = 0, ""
	sibling.Route = "sibling"
	sibling.ClosedAs = "carrier"
	got := published(11, repeated(40, closed), repeated(30, lost), repeated(2, open), repeated(3, sibling))
	if h := got[LostClosures]; !h.Of.Hidden || h.Rate != nil {
		t.Errorf("%s of %s closed of 75 cases: two are open", h.Count, h.Of)
	}
	for _, key := range []string{PredictsCF, PredictsEither} {
		if h := got[key]; !h.Of.Hidden || h.Rate != nil {
			t.Errorf("%s: %s of %s of 75 cases: three were not referred by the screen", key, h.Count, h.Of)
		}
	}
	if h := published(11, repeated(40, closed), repeated(30, lost), repeated(20, open))[LostClosures]; h.Count.N != 30 || h.Of.N != 70 || h.Rate == nil {
		t.Errorf("nothing is small, yet %s of %s", h.Count, h.Of)
	}
}

// A total is a count as well: of two cases in all, no rate shows that they are two.
func TestSmallTotalsAreHidden(t *testing.T) {
	open := cases.Milestones{Born: asOf - 40, Referred: asOf - 30, Route: "screen"}
	for key, h := range published(11, repeated(2, open)) {
		if !h.Count.Hidden && h.Count.N > 0 && h.Count.N < 11 || !h.Of.Hidden && h.Of.N > 0 && h.Of.N < 11 {
			t.Errorf("%s: %s of %s", key, h.Count, h.Of)
		}
	}
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	tally.Add(&open)
	for _, b := range tally.Report().Publish(SmallNumbers{Below: 11}).Breakdowns {
		for _, r := range b.Rows {
			if !r.Of.Hidden && r.Of.N > 0 {
				t.Errorf("%s by %s, %s: of %s", b.Measure, b.By, r.Name, r.Of)
			}
		}
	}
}

// Once no count is hidden, publishing changes nothing; with a rule no published count
// is small, and no two shares of a chain differ by a small number.
func TestPublishedShares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []cases.Milestones
		for range rapid.IntRange(0, 80).Draw(t, "cases") {
			m := cases.Milestones{Born: asOf - cases.Day(rapid.IntRange(0, 120).Draw(t, "age")), Route: "screen", Gestation: cases.Gestation(rapid.IntRange(24, 41).Draw(t, "weeks") * 7)}
			m.Referred = m.Born + 4
			if d := rapid.IntRange(0, 90).Draw(t, "tested"); d > 10 {
				m.FirstSufficient = m.Born + cases.Day(d)
			}
			all = append(all, m)
		}
		const below = 5
		rule := SmallNumbers{Below: below}
		hidden, full := published(below, all), published(0, all)
		last := -1
		for _, days := range TestedAges {
			h, f := hidden[TestedBy(days)], full[TestedBy(days)]
			if f.Count.Hidden || f.Of.Hidden {
				t.Fatalf("full figures hide day %d", days)
			}
			if h.Count.Hidden || h.Of.Hidden {
				continue
			}
			if h.Count != f.Count || h.Of != f.Of || rule.Small(h.Count.N) || rule.Small(h.Of.N-h.Count.N) {
				t.Fatalf("day %d: %s of %s, is %s of %s", days, h.Count, h.Of, f.Count, f.Of)
			}
			if d := h.Count.N - last; last >= 0 && d != 0 && rule.Small(max(d, -d)) {
				t.Fatalf("day %d differs by %d from the share shown before", days, d)
			}
			last = h.Count.N
		}
	})
}

// The chance of a false flag is that of its own count of sites, by hand: at 10 % the
// upper 95 % limit for 10 is 0.2787, so that 3 of 10 and more are above it.
func TestChanceOfAFalseFlag(t *testing.T) {
	one := Funnel(0.1, []string{"a"}, []Proportion{NewProportion(1, 10)})
	above := binomialAtLeast(3, 10, 0.1)
	if alert, _ := FalseFlags(0.1, one); !near(alert, above) {
		t.Errorf("one site: %v, want %v", alert, above)
	}
	three := Funnel(0.1, []string{"a", "b", "few", "c"}, []Proportion{NewProportion(1, 10), NewProportion(9, 10), NewProportion(1, 3), NewProportion(0, 10)})
	if alert, alarm := FalseFlags(0.1, three); !near(alert, 1-(1-above)*(1-above)*(1-above)) || !(alarm < alert) {
		t.Errorf("three placed sites: %v and %v", alert, alarm)
	}
}
