package store

import (
	"slices"
	"testing"

	"dunlin/cases"
)

// The index of re-tests holds the day to look again of cases that stand closed as
// CRMS/CFSPID, and nothing once they are reopened.
func TestRetestsThrough(t *testing.T) {
	db := openTest(t)
	day := cases.MakeDay(2026, 3, 19)
	closed := func(n int, as string, look cases.Day) cases.Case {
		c := put(t, db, newCase(n, "Ada", "Wren"), "opened")
		c.Closures = []cases.Closure{{On: day, As: as, By: "ina", AgreedBy: "max", AgreedOn: day, Reason: "told so", LookAgain: look}}
		return put(t, db, c, "closed")
	}
	late, soon := closed(40, "crms-cfspid", day+30), closed(41, "crms-cfspid", day+20)
	closed(42, "lost", day+20)
	put(t, db, newCase(43, "Open", "Lark"), "opened")
	read := func(through cases.Day) []cases.ID {
		var got []cases.Case
		view(t, db, func(r cases.Reader) error {
			for c, err := range r.RetestsThrough(through) {
				if err != nil {
					return err
				}
				got = append(got, c)
			}
			return nil
		})
		return ids(got)
	}
	for through, want := range map[cases.Day][]cases.ID{day + 19: nil, day + 20: {soon.ID}, day + 29: {soon.ID}, day + 30: {soon.ID, late.ID}} {
		if got := read(through); !slices.Equal(got, want) {
			t.Errorf("through %s: %v, want %v", through, got, want)
		}
	}
	soon.Closures[0].Reopened = &cases.Reopened{On: day + 1, By: "ina", Reason: "a call"}
	put(t, db, soon, "reopened")
	if got := read(day + 40); !slices.Equal(got, []cases.ID{late.ID}) {
		t.Errorf("after reopening: %v", got)
	}
}
