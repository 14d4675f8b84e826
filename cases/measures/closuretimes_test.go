package measures

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
)

var asOf = cases.MakeDay(2026, 6, 30)

// closedAt is a case born age days before the report and closed at the given
// age; 0 leaves it open. It is referred 7 days after birth.
func closedAt(age, closed int) Record {
	r := Record{Route: "screen", Born: asOf - cases.Day(age)}
	r.Referred = r.Born + 7
	if closed > 0 {
		r.Closed, r.ClosedAs = r.Born+cases.Day(closed), "not-affected"
	}
	return r
}

// Worked by hand: ages at closure 20, 28 and 30, open at ages 28 and 10. Just
// before day 20 four of five are left, before day 28 three, before day 30 one:
// S = 3/4, then 3/4 x 2/3 = 1/2, then 0.
func TestClosureTimesByHand(t *testing.T) {
	records := []Record{closedAt(100, 20), closedAt(90, 28), closedAt(80, 30), closedAt(28, 0), closedAt(10, 0)}
	rep := ClosureTimes(records, Window{AsOf: asOf})
	m := rep.All.BirthToClosure
	var got []float64
	for _, p := range m.Curve {
		got = append(got, p.Waiting)
	}
	if want := []float64{1, 0.75, 0.5, 0}; !cmp.Equal(got, want, cmp.Comparer(near)) {
		t.Errorf("curve %v, want %v", got, want)
	}
	for name, c := range map[string]struct{ got, want string }{
		"quarter": {Days(m.Quarter.Day), "24"}, "median": {Days(m.Median.Day), "29"},
		"three quarters": {Days(m.ThreeQuarters.Day), "30"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %s, want %s", name, c.got, c.want)
		}
	}
	if s := m.By(28); !near(s.Share, 0.5) || s.AtRisk != 1 || !s.Known {
		t.Errorf("done by day 28: %+v, want 0.5 with one case left", s)
	}
	// The median of the closed cases alone would be 28, a day better.
	if ref := rep.All.ReferralToClosure.Median; Days(ref.Day) != "22" {
		t.Errorf("from referral the median is %s, want 7 days less: 22", Days(ref.Day))
	}
	if rep.Cases != 5 || rep.Open != 2 || rep.Closed != 3 {
		t.Errorf("counts %d %d %d", rep.Cases, rep.Open, rep.Closed)
	}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-12 }

func TestFirstTestSpans(t *testing.T) {
	born := asOf - 40
	base := Record{Born: born, Referred: born + 7}
	with := func(f func(*Record)) Record { r := base; f(&r); return r }
	for name, c := range map[string]struct {
		r    Record
		want Span
	}{
		"tested":                           {with(func(r *Record) { r.FirstTest = born + 21 }), Span{21, true}},
		"open and untested":                {base, Span{40, false}},
		"closed untested":                  {with(func(r *Record) { r.Closed = born + 30 }), Span{30, false}},
		"died before closure":              {with(func(r *Record) { r.Died = born + 9; r.Closed = born + 30 }), Span{9, false}},
		"test after the day of the report": {with(func(r *Record) { r.FirstTest = asOf + 1 }), Span{40, false}},
		"closure after the report":         {with(func(r *Record) { r.Closed = asOf + 1 }), Span{40, false}},
	} {
		if got := c.r.toTest(born, asOf); got != c.want {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
	early := with(func(r *Record) { r.FirstTest = born + 3 })
	if got := early.toTest(early.Referred, asOf); got != (Span{0, true}) {
		t.Errorf("a test before the referral counts as day 0, got %+v", got)
	}
}

func TestWindowIsByReferral(t *testing.T) {
	records := []Record{closedAt(100, 20), closedAt(50, 30), closedAt(20, 0), closedAt(3, 0)}
	for _, c := range []struct {
		w    Window
		want int
	}{
		{Window{AsOf: asOf}, 3}, // the last is referred four days after the report
		{Window{AsOf: asOf, From: asOf - 43}, 2},
		{Window{AsOf: asOf, From: asOf - 42}, 1},
		{Window{AsOf: asOf, To: asOf - 43}, 2},
		{Window{AsOf: asOf, To: asOf - 44}, 1},
		{Window{AsOf: asOf - 90}, 1},
	} {
		if got := ClosureTimes(records, c.w).Cases; got != c.want {
			t.Errorf("%+v: %d cases, want %d", c.w, got, c.want)
		}
	}
}

func TestBandsAndClasses(t *testing.T) {
	late := closedAt(59, 0)
	late.NotReady = true
	tested := closedAt(28, 0)
	tested.FirstTest, tested.FirstQNS = asOf-3, true
	dry := closedAt(90, 60)
	dry.FirstTest = dry.Born + 25
	rep := ClosureTimes([]Record{late, tested, dry, closedAt(13, 0), closedAt(14, 0), closedAt(200, 0)}, Window{AsOf: asOf})
	want := []Band{{From: 0, To: 13, Open: 1, Untested: 1}, {From: 14, To: 27, Open: 1, Untested: 1},
		{From: 28, To: 41, Open: 1}, {From: 42, To: 59, Open: 1, Untested: 1, NotReady: 1},
		{From: 60, To: 179}, {From: 180, Open: 1, Untested: 1}}
	if d := cmp.Diff(want, rep.Waiting); d != "" {
		t.Error(d)
	}
	if rep.NotReady.Cases != 1 || rep.Ready.Cases != 5 || rep.NotReady.Open != 1 {
		t.Errorf("classes: %d not ready, %d ready", rep.NotReady.Cases, rep.Ready.Cases)
	}
	if rep.FirstQNS.Count != 1 || rep.FirstQNS.Of != 2 {
		t.Errorf("QNS first tests: %+v", rep.FirstQNS)
	}
	if want := []Count{{As: "not-affected", N: 1}}; !slices.Equal(rep.ClosedAs, want) {
		t.Errorf("closed as %v", rep.ClosedAs)
	}
}

func TestShareBeyondObservation(t *testing.T) {
	c := KaplanMeier([]Span{{5, true}, {9, false}})
	if s := c.DoneBy(28); s.Known || s.AtRisk != 0 {
		t.Errorf("nobody was watched to day 28: %+v", s)
	}
	if s := c.DoneBy(3); !s.Known || s.Share != 0 || s.AtRisk != 2 {
		t.Errorf("before the first event: %+v", s)
	}
	if s := KaplanMeier(nil).DoneBy(28); s.Known {
		t.Errorf("no cases, no share: %+v", s)
	}
	if s := KaplanMeier([]Span{{5, true}}).DoneBy(28); !s.Known || s.Share != 1 || s.Limits != nil {
		t.Errorf("all done: %+v", s)
	}
}

func TestTextAndJSON(t *testing.T) {
	records := []Record{closedAt(100, 20), closedAt(90, 28), closedAt(80, 30), closedAt(28, 0), closedAt(10, 0)}
	for _, rep := range []Report{ClosureTimes(records, Window{AsOf: asOf}), ClosureTimes(nil, Window{AsOf: asOf, From: asOf - 9})} {
		var b strings.Builder
		if err := rep.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		want := []string{"as of 2026-06-30", "5 cases: 3 closed, 2 open", "birth to closure", "29 (20 to not reached)", "50.0 %", "14 to 27"}
		if rep.Cases == 0 {
			want = []string{"infants referred from 2026-06-21 on", "nothing to measure"}
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("the table lacks %q:\n%s", w, b.String())
			}
		}
		raw, err := json.Marshal(rep)
		if err != nil {
			t.Fatal(err)
		}
		var back Report
		if err := json.Unmarshal(raw, &back); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(rep, back); d != "" {
			t.Error(d)
		}
	}
}
