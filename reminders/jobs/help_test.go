package jobs

import (
	"context"
	"errors"
	"slices"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"dunlin/cases"
)

// ledger is a stand-in for the store: one caller a slot, crashed runs begin again
// after their limit, failed ones at once.
type ledger struct {
	mu   sync.Mutex
	now  func() time.Time
	runs map[string][]cases.JobRun
}

func newLedger(now func() time.Time) *ledger {
	return &ledger{now: now, runs: map[string][]cases.JobRun{}}
}

func (l *ledger) find(name string, slot time.Time) *cases.JobRun {
	for i := range l.runs[name] {
		if l.runs[name][i].Slot.Equal(slot) {
			return &l.runs[name][i]
		}
	}
	return nil
}

func (l *ledger) Begin(_ context.Context, name string, slot time.Time, stale time.Duration) (bool, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	run := l.find(name, slot)
	switch {
	case run == nil:
		l.runs[name] = append(l.runs[name], cases.JobRun{Name: name, Slot: slot.UTC(), Begun: l.now()})
		return true, nil
	case run.Ended.IsZero() && l.now().Sub(run.Begun) < stale, !run.Ended.IsZero() && !failed(run.Outcome):
		return false, nil
	}
	*run = cases.JobRun{Name: name, Slot: slot.UTC(), Begun: l.now()}
	return true, nil
}

func (l *ledger) End(_ context.Context, name string, slot time.Time, outcome string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	run := l.find(name, slot)
	if run == nil {
		return errors.New("ended without beginning")
	}
	run.Ended, run.Outcome = l.now(), outcome
	return nil
}

func (l *ledger) Last(_ context.Context, name string) (cases.JobRun, bool, error) {
	runs, _ := l.Runs(context.Background(), name, 1)
	if len(runs) == 0 {
		return cases.JobRun{}, false, nil
	}
	return runs[0], true, nil
}

func (l *ledger) Runs(_ context.Context, name string, n int) ([]cases.JobRun, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	runs := slices.Clone(l.runs[name])
	slices.SortFunc(runs, func(a, b cases.JobRun) int { return b.Slot.Compare(a.Slot) })
	return runs[:min(n, len(runs))], nil
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// bench is a runner with a clock that the test sets, and the slots it ran.
type bench struct {
	*testing.T
	z      *time.Location
	now    time.Time
	ledger *ledger
	runner *Runner
	ran    []string
	fail   error
}

func newBench(t *testing.T, spec string) *bench {
	b := &bench{T: t, z: zone(t, "America/New_York")}
	b.ledger = newLedger(func() time.Time { return b.now })
	b.restart(spec)
	return b
}

// restart makes a new runner on the same ledger, as after a crash.
func (b *bench) restart(spec string) {
	b.Helper()
	r, err := New(Options{Ledger: b.ledger, Zone: b.z, Now: func() time.Time { return b.now }},
		Job{Name: "daily", Spec: spec, Run: func(_ context.Context, slot time.Time) (string, error) {
			b.ran = append(b.ran, slot.Format("2006-01-02 15:04"))
			return "1 letter", b.fail
		}})
	if err != nil {
		b.Fatal(err)
	}
	b.runner = r
}

func (b *bench) at(s string) *bench {
	b.Helper()
	t, err := time.ParseInLocation("2006-01-02 15:04", s, b.z)
	if err != nil {
		b.Fatal(err)
	}
	b.now = t
	return b
}

func (b *bench) tick() {
	b.Helper()
	if err := b.runner.Tick(context.Background(), b.now); err != nil && b.fail == nil {
		b.Fatal(err)
	}
}

func (b *bench) want(slots ...string) {
	b.Helper()
	if !slices.Equal(b.ran, slots) {
		b.Errorf("ran %q, want %q", b.ran, slots)
	}
	b.ran = nil
}
