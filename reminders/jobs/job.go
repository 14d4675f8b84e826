package jobs

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"
)

// Job is work that is owed at set times.
type Job struct {
	Name string // key in the ledger: "daily"
	Spec string // five cron fields in the program's zone, or "@every 5m"
	// Stale is how long a run may take. A run that began longer ago and did not end
	// is taken for crashed and may begin again. 0 means one hour.
	Stale time.Duration
	// Run does the work of one slot. It takes its day from the slot, never from the
	// clock, so that a late run makes that day's work. Note is one line for the
	// ledger, such as "23 on the list, 4 letters". A run may happen again after a
	// crash: it must make nothing twice.
	Run func(ctx context.Context, slot time.Time) (note string, err error)
}

// maxLookBack bounds how far back missed slots are looked for; only the newest is run.
const maxLookBack = 40 * 24 * time.Hour

const (
	firstHour = 5  // daily jobs run from 05:00
	lastHour  = 22 // to 22:00: no clock change falls into these hours
	starBit   = 1 << 63
)

// CheckSpec reads a job's times and refuses what the library would take but never
// fire, fire at a wrong hour, or crash on.
func CheckSpec(spec string) (cron.Schedule, error) {
	if strings.Contains(spec, "TZ=") {
		return nil, fmt.Errorf("job times %q: leave out the time zone; the program's own is used", spec)
	}
	schedule, err := cron.ParseStandard(spec)
	if err != nil {
		return nil, fmt.Errorf("job times %q cannot be read: %w", spec, err)
	}
	switch s := schedule.(type) {
	case cron.ConstantDelaySchedule:
		// The library turns anything below a second into a second.
		if s.Delay < time.Minute {
			return nil, fmt.Errorf("job times %q: at least one minute must lie between two runs", spec)
		}
	case *cron.SpecSchedule:
		if s.Next(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)).IsZero() {
			return nil, fmt.Errorf("job times %q never come: no such day is in the calendar", spec)
		}
		if err := checkHours(s); err != nil {
			return nil, fmt.Errorf("job times %q: %w", spec, err)
		}
	}
	return schedule, nil
}

// checkHours keeps jobs with set hours out of the night, in which a clock change
// would drop them or run them twice. Jobs of every hour are not concerned.
func checkHours(s *cron.SpecSchedule) error {
	if s.Hour&starBit != 0 {
		return nil
	}
	for h := range 24 {
		if s.Hour&(1<<h) == 0 {
			continue
		}
		past := h == lastHour && s.Minute&^uint64(starBit) != 1
		if h < firstHour || h > lastHour || past {
			return fmt.Errorf("set hours must lie from %02d:00 to %02d:00, because clocks change at night", firstHour, lastHour)
		}
	}
	return nil
}

// newestSlot gives the last slot after from and not after now; zero when none has
// passed.
func newestSlot(s cron.Schedule, from, now time.Time) time.Time {
	if limit := now.Add(-maxLookBack); from.Before(limit) {
		from = limit
	}
	var newest time.Time
	for t := s.Next(from); !t.IsZero() && !t.After(now); t = s.Next(t) {
		newest = t
	}
	return newest
}
