package safekeeping

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestRotation(t *testing.T) {
	at := time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC)
	var list []Held // every 30 minutes for 40 days, newest first
	for i := range 40 * 48 {
		when := at.Add(-time.Duration(i) * 30 * time.Minute)
		list = append(list, Held{Manifest: Manifest{At: when, Verified: when}})
	}
	rule := UsualKeep()
	kept := map[time.Time]bool{}
	for _, h := range list {
		kept[h.At] = true
	}
	for _, h := range rule.Drops(list, time.UTC) {
		delete(kept, h.At)
	}
	// 24 hours and the newest of 6 earlier days; weeks and months add four older ones.
	for _, want := range []time.Time{at, at.Add(-30 * time.Minute), at.Add(-90 * time.Minute), time.Date(2026, 3, 3, 23, 30, 0, 0, time.UTC), time.Date(2026, 2, 28, 23, 30, 0, 0, time.UTC),
		time.Date(2026, 2, 22, 23, 30, 0, 0, time.UTC), time.Date(2026, 1, 31, 23, 30, 0, 0, time.UTC)} {
		if !kept[want] {
			t.Errorf("%s was dropped", want)
		}
	}
	if kept[at.Add(-time.Hour)] || kept[at.Add(-60*time.Hour)] {
		t.Error("two of one hour stay, or one of three days ago by the hour")
	}
	if len(kept) > 24+7+5+12 {
		t.Errorf("%d stay", len(kept))
	}
	if d := (Keep{}).Drops(list, time.UTC); len(d) > 0 {
		t.Errorf("the empty rule drops %d", len(d))
	}
}

// Whatever the rule, the clock and the state of the files: the newest verified back-up
// stays, what is in trouble stays, and each day within reach keeps one.
func TestRotationNeverDropsTheLast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := Keep{rapid.IntRange(0, 5).Draw(t, "h"), rapid.IntRange(0, 5).Draw(t, "d"), rapid.IntRange(0, 3).Draw(t, "w"), rapid.IntRange(0, 3).Draw(t, "m")}
		at := time.Date(2026, 11, 2, 3, 0, 0, 0, time.UTC)
		var list []Held
		for range rapid.IntRange(0, 60).Draw(t, "n") {
			at = at.Add(-time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes")) * time.Minute)
			h := Held{Manifest: Manifest{At: at, Verified: at}}
			switch rapid.IntRange(0, 5).Draw(t, "state") {
			case 0:
				h.Verified = time.Time{}
			case 1:
				h.Trouble = "The file is gone."
			}
			list = append(list, h)
		}
		gone := map[time.Time]bool{}
		for _, h := range rule.Drops(list, time.UTC) {
			if h.Trouble != "" || h.Verified.IsZero() {
				t.Fatalf("%s is in trouble and was dropped", h.At)
			}
			gone[h.At] = true
		}
		first, days := true, map[string]bool{}
		for _, h := range list {
			if h.Trouble != "" || h.Verified.IsZero() {
				continue
			}
			if first && gone[h.At] {
				t.Fatal("the newest was dropped")
			}
			first = false
			day := h.At.Format(time.DateOnly)
			if !days[day] && len(days) < rule.Daily && gone[h.At] {
				t.Fatalf("the newest of %s was dropped", day)
			}
			days[day] = true
		}
	})
}

func TestRotateTouchesOnlyItsOwn(t *testing.T) {
	f := newFixture(t, func(o *Options) { o.Keep = Keep{Hourly: 1} })
	for _, name := range []string{"notes.json", "other-20260305T084000Z.db.age", "program-old.db"} {
		if err := os.WriteFile(filepath.Join(f.folder(), name), []byte("{}"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for range 4 {
		f.make()
	}
	// The clock is set back by a year: what is made then stays, and so does the newest.
	f.now = f.now.AddDate(-1, 0, 0)
	m := f.make()
	list, err := List(f.folder())
	if err != nil || len(list) != 2 || list[1].File != m.File {
		t.Errorf("%v, %+v", err, list)
	}
	for _, name := range []string{"notes.json", "other-20260305T084000Z.db.age", "program-old.db"} {
		if _, err := os.Stat(filepath.Join(f.folder(), name)); err != nil {
			t.Errorf("%s is gone", name)
		}
	}
}
