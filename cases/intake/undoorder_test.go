package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// otherDay is the normal sweat result of another day, with numbers of its own.
func otherDay(t *testing.T, pairs ...string) []byte {
	return sweat(t, normal, append([]string{"20260323", "20260326", "SW260323", "SW260326", "D08-0001", "D08-0002"}, pairs...)...)
}

// withoutChecks is what a case holds, apart from its list of fields to be checked.
func withoutChecks(t *testing.T, c cases.Case) string {
	t.Helper()
	c.Rev, c.ToCheck = 0, nil
	return document(t, c)
}

// TestUndoInAnyOrder: two results of different days are taken off, the earlier or the
// later one first, and the case is what it was.
func TestUndoInAnyOrder(t *testing.T) {
	for _, order := range [][]int{{0, 1}, {1, 0}} {
		b := referred(t, nil)
		before := withoutChecks(t, b.of("AB-2026-0001"))
		its := []cases.Item{b.receive("a", sweat(t, normal)).Items[0], b.receive("b", otherDay(t)).Items[0]}
		for _, i := range order {
			eq(t, "outcome", its[i].Outcome, "attached")
			if _, err := b.undo(its[i].ID, "another infant"); err != nil {
				t.Fatalf("%v: %v", order, err)
			}
		}
		if now := withoutChecks(t, b.of("AB-2026-0001")); now != before {
			t.Errorf("%v: the case is not what it was:\n%s", order, now)
		}
	}
}

// TestUndoOfAnEntryChangedSince: the entry goes also where an earlier one has gone
// before it and a person has written on it.
func TestUndoOfAnEntryChangedSince(t *testing.T) {
	b := referred(t, nil)
	before := withoutChecks(t, b.of("AB-2026-0001"))
	first, second := b.receive("a", sweat(t, normal)).Items[0], b.receive("b", otherDay(t)).Items[0]
	if _, err := b.undo(first.ID, "another infant"); err != nil {
		t.Fatal(err)
	}
	b.change(func(c *cases.Case) { c.SweatTests[0].Note = "Seen by Nora Wren." })
	it, err := b.undo(second.ID, "another infant")
	if err != nil {
		t.Fatal(err)
	}
	if now := withoutChecks(t, b.of("AB-2026-0001")); now != before {
		t.Errorf("the case is not what it was:\n%s", now)
	}
	if said := strings.Join(it.Reasons, " "); !strings.Contains(said, "Taken off with what was recorded on it since") {
		t.Errorf("nothing says that more was taken off: %s", said)
	}
}

// TestUndoWaitsForTheLaterOne: what a later message has built on is not taken from
// under it; the later one goes first, and then the case is what it was.
func TestUndoWaitsForTheLaterOne(t *testing.T) {
	for name, x := range map[string]struct {
		file func(*cases.Case)
		docs [][]byte
	}{
		"corrected":       {nil, [][]byte{sweat(t, normal), sweat(t, corrected)}},
		"corrected twice": {bedside(42, 38), [][]byte{sweat(t, normal), sweat(t, corrected), sweat(t, corrected, "||61|", "||71|", "D13-0001", "D13-0002")}},
		"filled after it": {nil, [][]byte{sweat(t, normal), otherDay(t)}},
	} {
		t.Run(name, func(t *testing.T) {
			b := referred(t, x.file)
			var states []string
			var its []cases.Item
			for i, raw := range x.docs {
				if name == "filled after it" && i == 1 { // the nurse's test stands behind the laboratory's
					b.change(func(c *cases.Case) {
						bedside(42, 38)(c)
						c.SweatTests[1].On, c.SweatTests[1].At, c.Bookings = march23+3, "13:20", nil
					})
				}
				states = append(states, withoutChecks(t, b.of("AB-2026-0001")))
				it := b.receive("m", raw).Items[0]
				eq(t, "outcome", it.Outcome, "attached")
				its = append(its, it)
			}
			full := withoutChecks(t, b.of("AB-2026-0001"))
			for i := range len(its) - 1 {
				_, err := b.undo(its[i].ID, "another infant")
				if cases.KindOf(err) != cases.Refused || !strings.Contains(err.Error(), "first") {
					t.Fatalf("message %d from under the later one: %v", i, err)
				}
			}
			eq(t, "nothing changed", withoutChecks(t, b.of("AB-2026-0001")), full)
			for i := len(its) - 1; i >= 0; i-- {
				if _, err := b.undo(its[i].ID, "another infant"); err != nil {
					t.Fatal(err)
				}
				c := b.of("AB-2026-0001")
				if name == "filled after it" && i == 0 { // what the nurse recorded stays
					if len(c.SweatTests) != 1 || c.SweatTests[0].By != "Nora Wren" || c.SweatTests[0].Arms[0].Chloride != nil || c.SweatTests[0].Laboratory != nil {
						t.Errorf("the nurse's test: %+v", c.SweatTests)
					}
					c.SweatTests = nil
				}
				if now := withoutChecks(t, c); now != states[i] {
					t.Errorf("after message %d was taken off:\n%s\nwant\n%s", i, now, states[i])
				}
			}
		})
	}
}
