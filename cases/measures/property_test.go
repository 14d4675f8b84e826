package measures

import (
	"math/rand/v2"
	"slices"
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var someSpans = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Span {
	return Span{Days: rapid.IntRange(0, 90).Draw(t, "days"), Event: rapid.Bool().Draw(t, "event")}
}), 1, 60)

func TestCurveProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spans := someSpans.Draw(t, "spans")
		curve := KaplanMeier(spans)
		seen, before := 0, 1.0
		for i, p := range curve {
			if p.AtRisk != len(spans)-seen {
				t.Fatalf("day %d: %d at risk, want %d", p.Day, p.AtRisk, len(spans)-seen)
			}
			seen += p.Events + p.Censored
			if p.Waiting > before || p.Waiting < 0 || (p.Events > 0) != (p.Waiting < before) {
				t.Fatalf("day %d: the curve goes from %v to %v with %d events", p.Day, before, p.Waiting, p.Events)
			}
			if p.Limits != nil && (p.Limits.Lower > p.Waiting || p.Limits.Upper < p.Waiting || p.Limits.Lower < 0 || p.Limits.Upper > 1) {
				t.Fatalf("day %d: limits %+v do not hold %v", p.Day, *p.Limits, p.Waiting)
			}
			if i > 0 && curve[i-1].Day >= p.Day {
				t.Fatalf("days out of order at %d", p.Day)
			}
			before = p.Waiting
		}
		if seen != len(spans) {
			t.Fatalf("%d of %d cases on the curve", seen, len(spans))
		}
		shuffled := slices.Clone(spans)
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		if d := cmp.Diff(curve, KaplanMeier(shuffled)); d != "" {
			t.Fatal(d)
		}
	})
}

// Counting by day gives the same curve as sorting.
func TestTallyGivesTheSameCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spans := someSpans.Draw(t, "spans")
		var w waitTally
		done := 0
		for _, s := range spans {
			w.add(s, false)
			if s.Event {
				done++
			}
		}
		if d := cmp.Diff(KaplanMeier(spans), w.curve()); d != "" {
			t.Fatal(d)
		}
		if m := w.measure(); m.Done != done || m.Waiting != len(spans)-done || m.Cases != len(spans) {
			t.Fatalf("%d cases, %d done, %d waiting", m.Cases, m.Done, m.Waiting)
		}
	})
}

// Without open cases the curve is the plain share of the cases.
func TestNoCensoringIsPlainShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spans := someSpans.Draw(t, "spans")
		for i := range spans {
			spans[i].Event = true
		}
		day := rapid.IntRange(0, 95).Draw(t, "day")
		done := 0
		for _, s := range spans {
			if s.Days <= day {
				done++
			}
		}
		want := float64(done) / float64(len(spans))
		if got := KaplanMeier(spans).DoneBy(day).Share; got < want-1e-9 || got > want+1e-9 {
			t.Fatalf("share %v, want %d of %d", got, done, len(spans))
		}
	})
}

// Counting an open case never makes a program look faster than leaving it out.
func TestOpenCasesNeverFlatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spans := someSpans.Draw(t, "spans")
		closed := slices.DeleteFunc(slices.Clone(spans), func(s Span) bool { return !s.Event })
		day := rapid.IntRange(0, 95).Draw(t, "day")
		all, only := KaplanMeier(spans).DoneBy(day).Share, KaplanMeier(closed).DoneBy(day).Share
		if len(closed) > 0 && all > only+1e-9 {
			t.Fatalf("by day %d: %v with the open cases, %v without", day, all, only)
		}
	})
}

func TestReportCountsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		on := cases.MakeDay(2026, 6, 30)
		records := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Record {
			r := Record{Born: on - cases.Day(rapid.IntRange(0, 400).Draw(t, "age")), NotReady: rapid.Bool().Draw(t, "late"), ClosedAs: "carrier"}
			r.Referred = r.Born + cases.Day(rapid.IntRange(0, 20).Draw(t, "referred"))
			for _, d := range []*cases.Day{&r.FirstTest, &r.Closed, &r.Died} {
				if rapid.Bool().Draw(t, "has") {
					*d = r.Born + cases.Day(rapid.IntRange(0, 200).Draw(t, "after"))
				}
			}
			return r
		}), 0, 30).Draw(t, "records")
		rep := ClosureTimes(records, Window{AsOf: on})
		if rep.Open+rep.Closed != rep.Cases || rep.Ready.Cases+rep.NotReady.Cases != rep.Cases {
			t.Fatalf("%d cases, %d open, %d closed", rep.Cases, rep.Open, rep.Closed)
		}
		open := 0
		for _, b := range rep.Waiting {
			open += b.Open
		}
		for _, c := range rep.ClosedAs {
			open += c.N
		}
		if open != rep.Cases {
			t.Fatalf("bands and closures hold %d of %d cases", open, rep.Cases)
		}
		for _, c := range []Class{rep.All, rep.Ready, rep.NotReady} {
			for _, m := range []Measure{c.BirthToTest, c.ReferralToTest, c.BirthToClosure, c.ReferralToClosure} {
				if m.Done+m.Waiting+m.Left != m.Cases || m.Cases != c.Cases {
					t.Fatalf("%d done, %d waiting, %d left of %d", m.Done, m.Waiting, m.Left, m.Cases)
				}
			}
		}
	})
}

func TestCountsAt(t *testing.T) {
	c := KaplanMeier([]Span{{5, true}, {9, false}, {9, true}, {30, false}})
	for day, want := range map[int][3]int{0: {4, 0, 0}, 5: {3, 1, 0}, 9: {1, 2, 1}, 28: {1, 2, 1}, 30: {0, 2, 2}} {
		waiting, done, left := c.CountsAt(day)
		if got := [3]int{waiting, done, left}; got != want {
			t.Errorf("day %d: %v, want %v", day, got, want)
		}
	}
}
