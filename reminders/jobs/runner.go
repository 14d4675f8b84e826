package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync"
	"time"

	"github.com/robfig/cron/v3"

	"dunlin/cases"
)

// Every is how often Tick is called besides the jobs' own times, so that a clock
// that was set, or a machine that slept, is noticed soon.
const Every = 15 * time.Minute

// Options is what a Runner needs. All fields but Log are required.
type Options struct {
	Ledger cases.Ledger
	Zone   *time.Location   // the program's zone
	Now    func() time.Time // the program's clock
	Log    *slog.Logger
}

// Runner runs jobs by the ledger.
type Runner struct {
	o    Options
	jobs []entry

	ticking sync.Mutex
	alarm   *cron.Cron
	stop    context.CancelFunc
	running sync.WaitGroup
}

type entry struct {
	Job
	schedule cron.Schedule
}

// New checks every job's times and makes a runner of them. All faults come at once.
func New(o Options, jobs ...Job) (*Runner, error) {
	if o.Ledger == nil || o.Zone == nil || o.Now == nil {
		return nil, errors.New("jobs: ledger, zone and clock are required")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	r := &Runner{o: o}
	var faults []error
	seen := map[string]bool{}
	for _, j := range jobs {
		s, err := CheckSpec(j.Spec)
		if err == nil && (j.Name == "" || j.Run == nil || seen[j.Name]) {
			err = errors.New("it needs a name of its own and work to run")
		}
		if err != nil {
			faults = append(faults, fmt.Errorf("job %q: %w", j.Name, err))
			continue
		}
		seen[j.Name] = true
		if j.Stale <= 0 {
			j.Stale = time.Hour
		}
		r.jobs = append(r.jobs, entry{j, s})
	}
	return r, errors.Join(faults...)
}

// Start sets the alarms and makes up for the newest missed slots at once, in the
// background. Stop must be called in the end.
func (r *Runner) Start(ctx context.Context) error {
	if r.alarm != nil {
		return errors.New("jobs: already started")
	}
	ctx, r.stop = context.WithCancel(ctx)
	log := cronLog{r.o.Log}
	// The order matters: the other way around, a panic keeps the alarm taken for good.
	chain := cron.WithChain(cron.SkipIfStillRunning(log), cron.Recover(log))
	r.alarm = cron.New(cron.WithLocation(r.o.Zone), cron.WithLogger(log), chain)
	tick := func() {
		if err := r.Tick(ctx, r.o.Now()); err != nil {
			r.o.Log.Error("jobs", "err", err)
		}
	}
	for _, j := range r.jobs {
		r.alarm.Schedule(j.schedule, cron.FuncJob(tick))
	}
	r.alarm.Schedule(cron.Every(Every), cron.FuncJob(tick))
	r.running.Go(cron.Recover(log)(cron.FuncJob(tick)).Run)
	r.alarm.Start()
	return nil
}

// Stop takes the alarms away and waits for a running job until ctx ends; then the
// job's own context is cancelled and it is waited for. The slot of a job that was
// cut off is left begun, and begins again after its limit.
func (r *Runner) Stop(ctx context.Context) error {
	if r.alarm == nil {
		return nil
	}
	alarms := r.alarm.Stop()
	done := make(chan struct{})
	go func() {
		<-alarms.Done()
		r.running.Wait()
		close(done)
	}()
	var err error
	select {
	case <-done:
	case <-ctx.Done():
		err = fmt.Errorf("jobs: a job was cut off: %w", ctx.Err())
	}
	r.stop()
	<-done
	r.alarm = nil
	return err
}

// Tick runs, for each job, the newest slot that has passed and has not run. It may
// be called at any time and from anywhere; a call during another does nothing. One
// job's failure does not keep the others from running.
func (r *Runner) Tick(ctx context.Context, now time.Time) error {
	if !r.ticking.TryLock() {
		return nil
	}
	defer r.ticking.Unlock()
	now = now.In(r.o.Zone)
	var faults []error
	for _, j := range r.jobs {
		if err := r.tick(ctx, j, now); err != nil {
			faults = append(faults, fmt.Errorf("job %s: %w", j.Name, err))
		}
	}
	return errors.Join(faults...)
}

func (r *Runner) tick(ctx context.Context, j entry, now time.Time) error {
	last, known, err := r.o.Ledger.Last(ctx, j.Name)
	if err != nil {
		return err
	}
	if !known {
		return r.firstStart(ctx, j, now)
	}
	slot := newestSlot(j.schedule, last.Slot.In(r.o.Zone), now)
	switch {
	case !slot.IsZero():
	case last.Slot.After(now.Add(26 * time.Hour)):
		// The clock was far ahead when the last slot ran and is right again. Without
		// this the job would sleep until that day comes.
		slot = newestSlot(j.schedule, now.Add(-maxLookBack), now)
		r.o.Log.Warn("the job's last slot lies ahead of the clock", "job", j.Name, "slot", last.Slot)
	case last.Ended.IsZero() || failed(last.Outcome):
		slot = last.Slot.In(r.o.Zone)
	}
	if slot.IsZero() {
		return nil
	}
	return r.run(ctx, j, slot)
}

// firstStart writes down that the job is known from now on, so that nothing old is
// made up, and a night missed right after the first start still is.
func (r *Runner) firstStart(ctx context.Context, j entry, now time.Time) error {
	slot := now.Truncate(time.Second)
	begun, err := r.o.Ledger.Begin(ctx, j.Name, slot, j.Stale)
	if err != nil || !begun {
		return err
	}
	return r.o.Ledger.End(ctx, j.Name, slot, firstStart)
}

func (r *Runner) run(ctx context.Context, j entry, slot time.Time) error {
	begun, err := r.o.Ledger.Begin(ctx, j.Name, slot, j.Stale)
	if err != nil || !begun {
		return err
	}
	note, err := protected(ctx, j, slot)
	if err != nil && ctx.Err() != nil {
		return fmt.Errorf("cut off: %w", err) // left begun; see Stop
	}
	outcome := "ok"
	if note != "" {
		outcome += ": " + note
	}
	if err != nil {
		outcome = failure + firstLine(err.Error())
		if note != "" {
			outcome += " (" + note + ")"
		}
	}
	// The work is done: writing it down must not depend on being stopped just now.
	return errors.Join(err, r.o.Ledger.End(context.WithoutCancel(ctx), j.Name, slot, outcome))
}

// protected runs a job's work within its limit and turns a panic into an error.
func protected(ctx context.Context, j entry, slot time.Time) (note string, err error) {
	ctx, cancel := context.WithTimeout(ctx, j.Stale)
	defer cancel()
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("it broke off: %v\n%s", p, debug.Stack())
		}
	}()
	return j.Run(ctx, slot)
}

// RunNow runs the newest passed slot of a job by hand, and tells whether there was
// one that had not run yet.
func (r *Runner) RunNow(ctx context.Context, name string) (bool, error) {
	r.ticking.Lock()
	defer r.ticking.Unlock()
	now := r.o.Now().In(r.o.Zone)
	for _, j := range r.jobs {
		if j.Name != name {
			continue
		}
		slot := newestSlot(j.schedule, now.Add(-maxLookBack), now)
		last, _, err := r.o.Ledger.Last(ctx, name)
		if err != nil || slot.IsZero() || last.Slot.Equal(slot) && good(last.Outcome) {
			return false, err
		}
		return true, r.run(ctx, j, slot)
	}
	return false, fmt.Errorf("jobs: no job %q", name)
}

// cronLog hands the library's own messages to the program's log.
type cronLog struct{ log *slog.Logger }

func (l cronLog) Info(msg string, kv ...any) { l.log.Debug("alarm: "+msg, kv...) }
func (l cronLog) Error(err error, msg string, kv ...any) {
	l.log.Error("alarm: "+msg, append(kv, "err", err)...)
}
