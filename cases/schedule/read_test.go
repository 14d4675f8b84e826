package schedule_test

import (
	"fmt"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// What the desk has booked is off the board, and who has a place waits no
// more; what the plan then proposes can be booked as it stands.
func TestPlanIsBookable(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(4, 1))
	first := w.infant(t, nil)
	for range 4 {
		w.infant(t, nil)
	}
	w.book(t, ask(first, "10:00"))
	var plan *schedule.Plan
	read := func() {
		if err := w.db.View(ctx, func(r cases.Reader) error {
			b, err := schedule.ReadBoard(r, w.p, 28, nil)
			if err != nil {
				return err
			}
			ws, err := schedule.ReadWaits(r, w.p)
			plan = b.Plan(ws)
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	read()
	if len(plan.Lines) != 2 || len(plan.Unplaced) != 2 {
		t.Fatalf("%d lines, %d unplaced: %+v", len(plan.Lines), len(plan.Unplaced), plan)
	}
	for i, at := range []cases.Clock{"09:00", "11:00"} {
		l := plan.Lines[i]
		if l.Place.At != at || l.Wait.Reference == first.Reference {
			t.Errorf("line %d: %s at %s", i, l.Wait.Reference, l.Place.At)
		}
		w.must(t, func(x cases.Writer) error {
			c, err := x.Case(l.Wait.ID)
			if err == nil && c.Reference != l.Wait.Reference {
				t.Errorf("%s is %s", l.Wait.Reference, c.Reference)
			}
			return err
		})
		c := cases.Case{ID: l.Wait.ID, Rev: 1}
		w.book(t, ask(c, at))
	}
	if read(); len(plan.Lines) != 0 || len(plan.Unplaced) != 2 {
		t.Errorf("after booking: %+v", plan)
	}
	if why := plan.Unplaced[0].Why; why != "None of the 1 free place fits: 1 kept for repeats." {
		t.Errorf("unplaced because: %s", why)
	}
}

func TestCentroidsAreKept(t *testing.T) {
	w := newWorld(t)
	want := schedule.Centroids{"70001": {Lat: 45, Lon: -93.5}}
	w.must(t, func(x cases.Writer) error {
		if c, err := schedule.KeptCentroids(x); err != nil || len(c) != 0 {
			t.Errorf("at first: %v %v", c, err)
		}
		return schedule.PutCentroids(x, want)
	})
	w.must(t, func(x cases.Writer) error {
		c, err := schedule.KeptCentroids(x)
		if c["70001"] != want["70001"] || len(c) != 1 {
			t.Errorf("kept %v", c)
		}
		return err
	})
}

// BenchmarkReadWaits reads 2,000 waiting infants from the store.
func BenchmarkReadWaits(b *testing.B) {
	w := openWorld(b, b.TempDir()+"/dunlin.db")
	defer w.close(b)
	w.must(b, func(x cases.Writer) error {
		for i := range 2000 {
			born := today - 20 - cases.Day(i%20)
			c := cases.Case{Infant: cases.Infant{Family: fmt.Sprint("Wren ", i), Born: born, Gestation: 39 * 7, BirthWeightG: 3200, Weights: []cases.Weight{{On: born + 10, G: 3300}}},
				Referral: cases.Referral{On: born + 5, Route: "screen"}}
			if _, err := x.PutCase(c, cases.Event{Kind: "test"}); err != nil {
				return err
			}
		}
		return nil
	})
	b.ReportAllocs()
	for b.Loop() {
		if err := w.db.View(ctx, func(r cases.Reader) error {
			ws, err := schedule.ReadWaits(r, w.p)
			if len(ws) != 2000 {
				b.Fatalf("%d wait", len(ws))
			}
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
}
