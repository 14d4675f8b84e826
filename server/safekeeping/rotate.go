package safekeeping

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// Keep says how many back-ups stay: the newest of each of the last so many hours,
// days, weeks and months in which there is one. All zero keeps every one.
type Keep struct {
	Hourly  int `json:"hourly"`
	Daily   int `json:"daily"`
	Weekly  int `json:"weekly"`
	Monthly int `json:"monthly"`
}

// UsualKeep keeps a day by the hour, a week by the day, then weeks and months for a
// year: common practice, as the programs' own rules of retention do not speak of copies.
func UsualKeep() Keep { return Keep{Hourly: 24, Daily: 7, Weekly: 5, Monthly: 12} }

// all tells whether nothing is ever dropped.
func (r Keep) all() bool { return r == Keep{} }

// Drops chooses what the rule does not keep, from a list that is newest first. The
// newest verified back-up always stays, and so does what has no verification or is in
// trouble: that is for a person to look at.
func (r Keep) Drops(list []Held, zone *time.Location) (drop []Held) {
	if r.all() {
		return nil
	}
	newest := true
	seen := [4]map[string]bool{{}, {}, {}, {}}
	limit := [4]int{r.Hourly, r.Daily, r.Weekly, r.Monthly}
	for _, h := range list {
		if h.Verified.IsZero() || h.Trouble != "" {
			continue
		}
		stays := newest
		newest = false
		for i, key := range periods(h.At.In(zone)) {
			if !seen[i][key] && len(seen[i]) < limit[i] {
				seen[i][key] = true
				stays = true
			}
		}
		if !stays {
			drop = append(drop, h)
		}
	}
	return drop
}

// periods names the hour, day, week and month of a time. The hour is that of UTC, so
// that the hour that a clock change repeats is two.
func periods(t time.Time) [4]string {
	year, week := t.ISOWeek()
	return [4]string{t.UTC().Format("2006-01-02T15"), t.Format("2006-01-02"), fmt.Sprintf("%d-%d", year, week), t.Format("2006-01")}
}

// rotate removes what the rule drops, but never the back-up that was just made: the
// clock may have been set back.
func (k *Keeper) rotate(made string) (dropped int, err error) {
	list, err := List(k.o.Folder)
	if err != nil {
		return 0, err
	}
	mine := list[:0]
	for _, h := range list {
		if at, ok := timeOf(h.File); ok && h.File == fileName(k.base(), at, h.Encrypted()) {
			mine = append(mine, h)
		}
	}
	for _, h := range k.o.Keep.Drops(mine, k.o.Now().Location()) {
		if h.File == made {
			continue
		}
		// The back-up goes first: a manifest without it says that it is gone.
		rerr := os.Remove(h.Path)
		if rerr == nil {
			rerr = os.Remove(filepath.Join(k.o.Folder, manifestOf(h.File)))
		}
		if rerr != nil {
			err = errors.Join(err, rerr)
			continue
		}
		dropped++
	}
	return dropped, err
}
