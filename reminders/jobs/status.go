package jobs

import (
	"context"
	"strings"
	"time"

	"dunlin/cases"
)

// The forms of a run's outcome in the ledger: "ok" or "ok: note", "failed: why",
// and the mark that the first start leaves.
const (
	failure    = "failed: "
	firstStart = "first start"
)

func good(outcome string) bool   { return outcome == "ok" || strings.HasPrefix(outcome, "ok:") }
func failed(outcome string) bool { return strings.HasPrefix(outcome, failure) }

// lateAfter is how long after its time a slot may be missing before people are told.
const lateAfter = 2*Every + time.Minute

// Status is how a job stands, for the page that people watch.
type Status struct {
	Name     string
	Spec     string
	Last     cases.JobRun // newest run; zero before the first
	LastGood cases.JobRun // newest run that ended well; zero without one
	Next     time.Time    // in the program's zone
	Running  bool
	// Warning says in words what a person should look at; "" when all is well.
	Warning string
}

// Status tells of every job how it stands now.
func (r *Runner) Status(ctx context.Context) ([]Status, error) {
	now := r.o.Now().In(r.o.Zone)
	out := make([]Status, 0, len(r.jobs))
	for _, j := range r.jobs {
		s := Status{Name: j.Name, Spec: j.Spec, Next: j.schedule.Next(now)}
		if err := r.runs(ctx, &s); err != nil {
			return nil, err
		}
		s.Running = !s.Last.Begun.IsZero() && s.Last.Ended.IsZero() && now.Sub(s.Last.Begun) < j.Stale
		s.Warning = j.warning(s, now)
		out = append(out, s)
	}
	return out, nil
}

// Runs looked through for the last good one: mostly the first few do, and a long
// outage of a job that runs every few minutes needs many.
const fewRuns, manyRuns = 60, 20000

// runs finds the newest run and the newest that ended well.
func (r *Runner) runs(ctx context.Context, s *Status) error {
	for _, n := range []int{fewRuns, manyRuns} {
		runs, err := r.o.Ledger.Runs(ctx, s.Name, n)
		if err != nil {
			return err
		}
		for _, run := range runs {
			if s.Last.Slot.Before(run.Slot) {
				s.Last = run
			}
			if good(run.Outcome) && s.LastGood.Slot.Before(run.Slot) {
				s.LastGood = run
			}
		}
		if len(runs) < n || !s.LastGood.Slot.IsZero() {
			return nil
		}
	}
	return nil
}

func (j entry) warning(s Status, now time.Time) string {
	switch {
	case s.Running:
		return ""
	case failed(s.Last.Outcome):
		return "The last run failed: " + firstLine(strings.TrimPrefix(s.Last.Outcome, failure))
	case !s.Last.Begun.IsZero() && s.Last.Ended.IsZero():
		return "The last run did not end. It will begin again by itself."
	case !s.Last.Slot.IsZero() && !newestSlot(j.schedule, s.Last.Slot.In(now.Location()), now.Add(-lateAfter)).IsZero():
		return "A run is missing. Check that the program was on at that time."
	}
	return ""
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
