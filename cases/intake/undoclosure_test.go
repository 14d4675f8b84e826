package intake_test

import (
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

// TestUndoReopensWhatRestedOnIt: a case that was closed on a result of another infant
// is open again once the result is taken off, and a person is told first thing; one
// that was closed for a reason of its own stays closed.
func TestUndoReopensWhatRestedOnIt(t *testing.T) {
	for _, x := range []struct {
		as     string
		agreed bool
		opens  bool
		first  bool
	}{{"not-affected", true, true, false}, {"not-affected", false, true, false}, {"cf", true, true, false}, {"other-diagnosis", true, true, false}, {"moved", true, false, false}, {"not-affected", true, true, true}} {
		b := referred(t, func(c *cases.Case) { c.Genotype = nil })
		it := b.receive("sweat", sweat(t, normal)).Items[0]
		eq(t, "outcome", it.Outcome, "attached")
		k := cases.Closure{On: march23 + 2, As: x.as, By: "Wren Castellano", Clinician: "Dr Plover", Reason: "chloride 14 and 16 mmol/L"}
		if x.as != "moved" {
			k.RestsOn = []cases.Day{march23}
		}
		if x.agreed {
			k.AgreedBy, k.AgreedOn = "Ines Marlow", march23+2
		}
		b.change(func(c *cases.Case) { c.Closures = append(c.Closures, k) })
		p := cases.DefaultProtocol()
		c := b.of("AB-2026-0001")
		if got := p.Assess(&c, cases.DayOf(today)).Closed; x.agreed && !got {
			t.Fatalf("%s: the case is not closed, so nothing is tested", x.as)
		}
		if x.first { // a person reopened it before
			if _, err := cases.NewDesk(b.db, p).Reopen(t.Context(), coordinator, c.ID, c.Rev, "another infant's test"); err != nil {
				t.Fatal(err)
			}
		}
		back, err := b.undo(it.ID, "the test of another infant")
		if err != nil {
			t.Fatalf("%s: %v", x.as, err)
		}
		c = b.of("AB-2026-0001")
		eq(t, x.as+" tests", len(c.SweatTests), 0)
		eq(t, x.as+" closed", p.Assess(&c, cases.DayOf(today)).Closed, x.agreed && !x.opens)
		switch {
		case x.as == "not-affected": // which needs its test: the closure is a note now
			if len(c.Closures) != 0 || len(c.Notes) == 0 || !strings.Contains(c.Notes[len(c.Notes)-1].Text, "Wren Castellano closed the case as not-affected") {
				t.Errorf("%s: %+v, %+v", x.as, c.Closures, c.Notes)
			}
		default:
			eq(t, x.as+" taken back", c.Closures[0].Reopened != nil, x.opens)
		}
		told := strings.Contains(strings.Join(back.Reasons, " "), "is open again")
		eq(t, x.as+" told", told, x.opens && !x.first)
		eq(t, x.as+" first", back.Top, x.opens && !x.first)
		if x.opens && !slices.ContainsFunc(b.waiting(), func(w0 cases.Item) bool { return w0.ID == it.ID && w0.Due == cases.DayOf(today) }) {
			t.Errorf("%s: nobody is told today", x.as)
		}
	}
}
