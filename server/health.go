package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"dunlin/cases"
	"dunlin/reminders/jobs"
	"dunlin/server/metrics"
	"dunlin/server/safekeeping"
)

// finding is one thing that was looked at. Its words name no person and no case.
type finding struct {
	what, words string
	bad         bool
}

// lookLimit is how long one look at the program may take.
const lookLimit = 4 * time.Second

// health looks at everything that a program needs to go on working.
func (w *working) health(ctx context.Context) (out []finding) {
	ctx, cancel := context.WithTimeout(ctx, lookLimit)
	defer cancel()
	now := w.site.clock()
	out = append(out, w.storeHealth(ctx, now), diskHealth(w.site.cfg.Store))
	out = append(out, w.jobHealth(ctx)...)
	if w.box != nil {
		out = append(out, w.mailHealth(ctx, now))
	}
	return append(out, w.backupHealth())
}

func (w *working) storeHealth(ctx context.Context, now time.Time) finding {
	f := finding{what: "store"}
	if err := w.site.db.MayWrite(); err != nil {
		f.bad, f.words = true, "nothing is written any more; see the log, and start the program again"
		return f
	}
	err := w.site.db.View(ctx, func(r cases.Reader) error {
		_, err := r.DayLists(1)
		return err
	})
	if err != nil {
		f.bad, f.words = true, "it cannot be read; see the log"
		w.log.Error("health: the store cannot be read", "err", err)
		return f
	}
	f.words = "it can be read"
	if ahead, err := w.site.clockBehind(ctx, now); err == nil && !ahead.IsZero() {
		f.bad, f.words = true, "the clock is behind the last entry of the audit trail; set the clock"
	}
	return f
}

// Space below which a person should look: less than both.
const (
	leastFree  = 5 << 30
	leastShare = 0.10
)

func diskHealth(path string) finding {
	f := finding{what: "disk"}
	free, size, err := diskSpace(filepath.Dir(path))
	switch {
	case err != nil:
		f.bad, f.words = true, "its space cannot be read"
	case size > 0:
		share := float64(free) / float64(size)
		f.words = fmt.Sprintf("%.1f GB free of %.1f GB", float64(free)/(1<<30), float64(size)/(1<<30))
		f.bad = free < leastFree && share < leastShare
	}
	return f
}

// diskSpace gives what this user may still write to the disk of a folder, and its size;
// tests put a disk of their own in its place.
var diskSpace = spaceOf

func spaceOf(folder string) (free, size int64, err error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return 0, 0, err
	}
	unit := uint64(max(s.Bsize, 0))
	return bytesOf(s.Bavail, unit), bytesOf(s.Blocks, unit), nil
}

func bytesOf(blocks, unit uint64) int64 {
	if unit > 0 && blocks > math.MaxInt64/unit {
		return math.MaxInt64
	}
	return int64(blocks * unit) // #nosec G115 -- bounded above
}

// jobHealth tells of each job. The reason of a failure stays on the page of jobs: it may
// name what must not leave it.
func (w *working) jobHealth(ctx context.Context) (out []finding) {
	for _, r := range w.runners {
		list, err := r.Status(ctx)
		if err != nil {
			return append(out, finding{"jobs", "how they stand cannot be read", true})
		}
		for i := range list {
			out = append(out, jobFinding(&list[i], w.zone))
		}
	}
	return out
}

func jobFinding(s *jobs.Status, zone *time.Location) finding {
	f := finding{what: "job " + s.Name, bad: s.Warning != ""}
	switch {
	case s.Running:
		f.words = "it is running"
	case f.bad:
		f.words = "the last run failed, did not end, or is missing; see Settings, Jobs and mailbox"
	case s.LastGood.Ended.IsZero():
		f.words = "not run yet"
	default:
		f.words = "ended well"
	}
	if !s.LastGood.Ended.IsZero() {
		f.words += ", last good run " + moment(s.LastGood.Ended, zone)
	}
	return f
}

func moment(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("2006-01-02 15:04 MST")
}

func (w *working) mailHealth(ctx context.Context, now time.Time) finding {
	m, err := w.Mailbox(ctx)
	f := finding{what: "mailbox"}
	switch {
	case err != nil:
		f.bad, f.words = true, "how it stands cannot be read"
	case m.Good.IsZero() && m.Tried.IsZero():
		f.words = "not read yet"
	case m.Good.IsZero():
		f.bad, f.words = true, "it was never read well"
	default:
		f.bad = !m.Due.IsZero() && now.After(m.Due)
		f.words = "last read well " + moment(m.Good, w.zone)
	}
	return f
}

func (w *working) backupHealth() finding {
	f := finding{what: "back-ups"}
	newest, n, err := w.verified()
	switch {
	case w.site.keeper == nil:
		f.words = "none are set up"
	case err != nil:
		f.bad, f.words = true, "the folder cannot be read"
	case n == 0:
		f.words = "none yet"
	default:
		f.words = fmt.Sprintf("%d verified, the newest of %s", n, moment(newest, w.zone))
	}
	return f
}

// verified gives the newest verified back-up's time, and how many there are.
func (w *working) verified() (newest time.Time, n int, err error) {
	k := w.site.keeper
	if k == nil {
		return newest, 0, nil
	}
	list, err := safekeeping.List(k.Folder())
	for _, h := range list {
		if h.Verified.IsZero() {
			continue
		}
		if n++; h.At.After(newest) {
			newest = h.At
		}
	}
	return newest, n, err
}

// facts is how the program stands, in numbers.
func (w *working) facts(ctx context.Context) (f metrics.Facts) {
	f.StoreReadable = !w.storeHealth(ctx, w.site.clock()).bad
	if info, err := os.Stat(w.site.cfg.Store); err == nil {
		f.StoreBytes = info.Size()
	}
	f.DiskFree, f.DiskSize, _ = diskSpace(filepath.Dir(w.site.cfg.Store))
	for _, r := range w.runners {
		list, err := r.Status(ctx)
		if err != nil {
			continue
		}
		for _, s := range list {
			f.Jobs = append(f.Jobs, metrics.Job{Name: s.Name, Good: s.LastGood.Ended, Next: s.Next, Trouble: s.Warning != ""})
		}
	}
	if m, err := w.Mailbox(ctx); err == nil && w.box != nil {
		f.Mailbox, f.MailboxGood = true, m.Good
	}
	if o, err := w.Outbox(ctx); err == nil && o.SetUp {
		f.Outbox = true
		f.Messages = map[string]int{"queued": o.Queued, "held": o.Held, "failed": o.Failed, "uncertain": o.Uncertain, "bounced": o.Bounced}
	}
	f.BackupGood, f.Backups, _ = w.verified()
	return f
}

// clockSlack is how far entries may lie ahead of the clock: clocks are set by little
// amounts all the time.
const clockSlack = 10 * time.Minute

// clockBehind gives the time of the newest entry of the audit trail where it lies ahead of
// the clock by more than the slack; zero where it does not.
func (s *site) clockBehind(ctx context.Context, now time.Time) (time.Time, error) {
	last, err := s.db.LastWritten(ctx)
	if err != nil || last.Before(now.Add(clockSlack)) {
		return time.Time{}, err
	}
	return last, nil
}

// checkClock refuses to serve with a clock that went back: days, letters and the trail
// would get wrong dates. A person who knows that the clock was wrong before says so once.
func (s *site) checkClock(ctx context.Context, right bool) error {
	ahead, err := s.clockBehind(ctx, s.clock())
	if err != nil || ahead.IsZero() {
		return err
	}
	if !right {
		return cases.Errorf(cases.Refused, "The clock of this machine says %s, and the last entry in the store is of %s. Set the clock, then start again. If the clock was wrong then and is right now, start once with --clock-is-right.",
			moment(s.clock(), s.cfg.zone), moment(ahead, s.cfg.zone))
	}
	return s.db.Update(ctx, cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "start"}, func(tx cases.Writer) error {
		return tx.Note(cases.Event{Kind: "clock", Text: "Started with --clock-is-right: the entry before this one is dated " + moment(ahead, s.cfg.zone)})
	})
}

// findingsText puts the findings into lines; well tells that none is bad.
func findingsText(findings []finding) (text string, well bool) {
	var b strings.Builder
	well = true
	for _, f := range findings {
		mark := "ok  "
		if f.bad {
			mark, well = "LOOK", false
		}
		fmt.Fprintf(&b, "%s  %s: %s\n", mark, f.what, f.words)
	}
	if well {
		return "in order\n" + b.String(), true
	}
	return "look at this\n" + b.String(), false
}
