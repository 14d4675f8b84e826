package store

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"dunlin/cases"
)

// The lists that the store keeps of letters say what a look at every letter says.
func TestLatestLettersAreThoseOfAllLetters(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	kinds := []string{cases.LetterReferral, cases.LetterRepeatNeeded}
	states := []string{"mailed", "mailed-late", "printed", "mailed"}
	err := db.Update(ctx, clerk, func(w cases.Writer) error {
		for i := range 60 {
			day := w.Today() - cases.Day(i*7%30)
			l := cases.Letter{Case: c.ID, Kind: kinds[i%2], Occasion: fmt.Sprint("test ", i), State: states[i%4], MadeOn: day, Changed: day,
				PrintRun: fmt.Sprint("run-", i%3), Tracking: fmt.Sprint("TRACK", i), Data: json.RawMessage(`{}`)}
			l, err := w.PutLetter(l)
			if err != nil {
				return err
			}
			if i%5 == 0 { // moved afterwards
				l.State, l.Changed, l.PrintRun = "mailed", w.Today(), "run-9"
				if _, err := w.PutLetter(l); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	err = db.View(ctx, func(r cases.Reader) error {
		for _, state := range []string{"mailed", "mailed-late", "printed", "held"} {
			for _, kind := range append(kinds, "") {
				fits := func(k string) bool { return kind == "" || k == kind }
				var want []cases.Day
				for l, err := range r.Letters(state) {
					if err != nil {
						return err
					}
					if fits(l.Kind) {
						want = append(want, l.Changed)
					}
				}
				slices.SortFunc(want, func(a, b cases.Day) int { return int(b) - int(a) })
				list, n, err := r.LatestLetters(state, fits, 7)
				if err != nil {
					return err
				}
				var got []cases.Day
				for i := range list {
					if list[i].State != state || !fits(list[i].Kind) {
						t.Errorf("%s %q: %s %s", state, kind, list[i].State, list[i].Kind)
					}
					got = append(got, list[i].Changed)
				}
				if n != len(want) || !slices.Equal(got, want[:min(7, len(want))]) {
					t.Errorf("%s %q: %d of %d: %v, want %v", state, kind, n, len(want), got, want)
				}
			}
		}
		run, err := r.LettersOfRun("run-9")
		if err != nil || len(run) != 12 {
			t.Errorf("run: %d %v", len(run), err)
		}
		if one, err := r.LettersTracked("TRACK7"); err != nil || len(one) != 1 || one[0].Occasion != "test 7" {
			t.Errorf("tracked: %+v %v", one, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
