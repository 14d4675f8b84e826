package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
)

func jobTable() *table[cases.JobRun] {
	return &table[cases.JobRun]{name: "jobs", key: func(j *cases.JobRun) string { return jobKey(j.Name, j.Slot) }}
}

// slotKey is the slot in UTC, in seconds.
func slotKey(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05Z") }

func jobKey(name string, slot time.Time) string { return closed(name) + slotKey(slot) }

// ledgerActor writes the ledger; runs are no change of a record and leave no
// audit entry of their own.
var ledgerActor = cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "ledger"}

// Begin takes a slot of a job. It is true for one caller only, unless the run
// that took it failed (its outcome begins with "failed"), or never ended and
// began before this store was opened, or more than stale ago.
func (db *DB) Begin(ctx context.Context, name string, slot time.Time, stale time.Duration) (bool, error) {
	if err := checkField("the name of a job", name); err != nil {
		return false, err
	}
	took := false
	err := db.update(ctx, ledgerActor, func(w *writer) error {
		took = false
		old, err := db.jobs.get(w.tx, jobKey(name, slot))
		switch {
		case errors.Is(err, errNoRecord):
		case err != nil:
			return err
		case !old.Ended.IsZero() && !strings.HasPrefix(old.Outcome, "failed"),
			old.Ended.IsZero() && !old.Begun.Before(db.opened) && w.now.Sub(old.Begun) < stale:
			return nil
		}
		took = true
		_, err = db.jobs.put(w.tx, &cases.JobRun{Name: name, Slot: slot.UTC().Truncate(time.Second), Begun: w.now.UTC()})
		return err
	})
	return took && err == nil, err
}

// End records what became of a run that Begin started.
func (db *DB) End(ctx context.Context, name string, slot time.Time, outcome string) error {
	return db.update(ctx, ledgerActor, func(w *writer) error {
		run, err := db.jobs.get(w.tx, jobKey(name, slot))
		if err != nil {
			return fmt.Errorf("end of job %s at %s: %w", name, slotKey(slot), err)
		}
		run.Ended, run.Outcome = w.now.UTC(), outcome
		if _, err = db.jobs.put(w.tx, run); err != nil {
			return err
		}
		if strings.HasPrefix(outcome, "ok") {
			return w.forgetRuns(name, slot)
		}
		return nil
	})
}

// keepRuns is how long runs of a job stay in the ledger, and forgetAtOnce how many
// are dropped at the end of one run, so that no run pays for a long time.
const (
	keepRuns     = 60 * 24 * time.Hour
	forgetAtOnce = 20
)

// forgetRuns drops old runs of a job after a good one, so that a job of every few
// minutes does not fill the store. The audit trail holds what the runs changed.
func (w *writer) forgetRuns(name string, slot time.Time) error {
	to := jobKey(name, slot.Add(-keepRuns))
	for i, key := range scanKeys(w.tx.Bucket([]byte(w.db.jobs.name)), closed(name), to, 0) {
		if i == forgetAtOnce {
			break
		}
		if err := w.db.jobs.delete(w.tx, key); err != nil {
			return err
		}
	}
	return nil
}

// Last gives the run with the newest slot of a job; false when it never ran.
func (db *DB) Last(ctx context.Context, name string) (cases.JobRun, bool, error) {
	runs, err := db.Runs(ctx, name, 1)
	if err != nil || len(runs) == 0 {
		return cases.JobRun{}, false, err
	}
	return runs[0], true, nil
}

// Runs lists the last n runs of a job, newest slot first.
func (db *DB) Runs(ctx context.Context, name string, n int) (runs []cases.JobRun, err error) {
	err = db.view(ctx, func(r *reader) error {
		from := closed(name)
		runs, err = db.jobs.list(r.tx, lastKeys(r.tx.Bucket([]byte(db.jobs.name)), from, after(from), 0, n))
		return err
	})
	return runs, err
}
