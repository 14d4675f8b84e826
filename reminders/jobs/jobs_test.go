package jobs

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
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

func TestFirstStartMakesNothingOldUp(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-20 09:00").tick()
	b.want()
	b.at("2026-11-20 23:00").tick()
	b.want()
	// The night after the first start counts, even if the program was off.
	b.restart("0 6 * * *")
	b.at("2026-11-21 08:00").tick()
	b.want("2026-11-21 06:00")
}

func TestDownForThreeDaysRunsOnlyTheNewestSlot(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2026-11-20 06:00").tick()
	b.want("2026-11-20 06:00")
	b.at("2026-11-23 10:12").tick()
	b.want("2026-11-23 06:00")
	b.tick()
	b.at("2026-11-23 10:27").tick()
	b.want()
}

func TestCrashedRunBeginsAgainAfterItsLimit(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2026-11-20 06:00")
	if ok, _ := b.ledger.Begin(context.Background(), "daily", b.now, time.Hour); !ok {
		t.Fatal("not begun")
	}
	b.at("2026-11-20 06:40").tick() // it may still be running in another process
	b.want()
	b.at("2026-11-20 07:00").tick()
	b.want("2026-11-20 06:00")
	b.tick()
	b.want()
}

func TestCrashedRunIsNotMadeUpOnceANewerSlotHasPassed(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2026-11-20 06:00")
	if ok, _ := b.ledger.Begin(context.Background(), "daily", b.now, time.Hour); !ok {
		t.Fatal("not begun")
	}
	b.at("2026-11-22 06:01").tick()
	b.want("2026-11-22 06:00")
}

func TestFailedRunIsTriedAgain(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.fail = errors.New("the disk is full")
	b.at("2026-11-20 06:00").tick()
	b.want("2026-11-20 06:00")
	s, err := b.runner.Status(context.Background())
	if err != nil || s[0].Warning != "The last run failed: the disk is full (1 letter)" {
		t.Errorf("warning %q, err %v", s[0].Warning, err)
	}
	b.fail = nil
	b.at("2026-11-20 06:15").tick()
	b.want("2026-11-20 06:00")
	b.at("2026-11-20 06:30").tick()
	b.want()
}

func TestClockBackAnHourRunsNothingTwice(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2026-11-20 06:00").tick()
	b.want("2026-11-20 06:00")
	b.at("2026-11-20 05:00").tick()
	b.at("2026-11-20 06:00").tick()
	b.want()
	b.at("2026-11-21 06:00").tick()
	b.want("2026-11-21 06:00")
}

func TestClockFarAheadAndBackDoesNotSilenceTheJob(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2031-11-20 06:00").tick()
	b.want("2031-11-20 06:00")
	b.at("2026-11-20 06:10").tick()
	b.want("2026-11-20 06:00")
	b.tick()
	b.want()
}

// Clock changes in New York: 2 a.m. on 14 March and 7 November 2027, and 1 November
// 2026 (tz database). 06:00 comes once on each of these days.
func TestDaysOfClockChangeRunOnce(t *testing.T) {
	for _, day := range []string{"2026-11-01", "2027-03-14", "2027-11-07"} {
		b := newBench(t, "0 6 * * *")
		b.at(day + " 00:10").tick()
		for range 24 * 12 { // every five minutes of real time
			b.now = b.now.Add(5 * time.Minute)
			b.tick()
		}
		b.want(day + " 06:00")
	}
}

func TestPanicIsAFailureOfItsJobOnly(t *testing.T) {
	z := zone(t, "America/New_York")
	now := time.Date(2026, 11, 19, 9, 0, 0, 0, z)
	l := newLedger(func() time.Time { return now })
	ran := 0
	r, err := New(Options{Ledger: l, Zone: z, Now: func() time.Time { return now }},
		Job{Name: "a", Spec: "0 6 * * *", Run: func(context.Context, time.Time) (string, error) { panic("no such bird") }},
		Job{Name: "b", Spec: "0 6 * * *", Run: func(context.Context, time.Time) (string, error) { ran++; return "", nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Tick(context.Background(), now); err != nil {
		t.Fatal(err)
	}
	now = now.Add(24 * time.Hour)
	err = r.Tick(context.Background(), now)
	if err == nil || !strings.Contains(err.Error(), "no such bird") || ran != 1 {
		t.Errorf("err %v, the other job ran %d times", err, ran)
	}
	last, _, _ := l.Last(context.Background(), "a")
	if last.Outcome != "failed: it broke off: no such bird" {
		t.Errorf("outcome %q", last.Outcome)
	}
}

func TestTwentyAtOnceRunOneSlotOnce(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-19 09:00").tick()
	b.at("2026-11-20 06:00")
	var mu sync.Mutex
	ran := 0
	var wg sync.WaitGroup
	for range 20 { // twenty programs on one ledger
		r, err := New(Options{Ledger: b.ledger, Zone: b.z, Now: func() time.Time { return b.now }},
			Job{Name: "daily", Spec: "0 6 * * *", Run: func(context.Context, time.Time) (string, error) {
				mu.Lock()
				defer mu.Unlock()
				ran++
				return "", nil
			}})
		if err != nil {
			t.Fatal(err)
		}
		wg.Go(func() { _ = r.Tick(context.Background(), b.now) })
	}
	wg.Wait()
	if ran != 1 {
		t.Errorf("ran %d times, want once", ran)
	}
}

func TestRunNowRunsTheMissedSlotOrNothing(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	b.at("2026-11-20 09:00")
	if ran, err := b.runner.RunNow(context.Background(), "daily"); !ran || err != nil {
		t.Errorf("ran %v, err %v", ran, err)
	}
	b.want("2026-11-20 06:00")
	if ran, err := b.runner.RunNow(context.Background(), "daily"); ran || err != nil {
		t.Errorf("a second time: ran %v, err %v", ran, err)
	}
	if _, err := b.runner.RunNow(context.Background(), "weekly"); err == nil {
		t.Error("no error for an unknown job")
	}
}

func TestStatus(t *testing.T) {
	b := newBench(t, "0 6 * * *")
	status := func() Status {
		s, err := b.runner.Status(context.Background())
		if err != nil || len(s) != 1 {
			t.Fatalf("%v, err %v", s, err)
		}
		return s[0]
	}
	b.at("2026-11-19 09:00").tick()
	if s := status(); s.Warning != "" || !s.LastGood.Slot.IsZero() || s.Next.Format("2006-01-02 15:04 MST") != "2026-11-20 06:00 EST" {
		t.Errorf("after the first start: %+v", s)
	}
	b.at("2026-11-20 06:00").tick()
	if s := status(); s.LastGood.Outcome != "ok: 1 letter" || s.Warning != "" {
		t.Errorf("after a run: %+v", s)
	}
	b.at("2026-11-21 06:20")
	if s := status(); s.Warning != "" {
		t.Errorf("a little late: %q", s.Warning)
	}
	b.at("2026-11-21 06:40")
	if s := status(); s.Warning != "A run is missing. Check that the program was on at that time." {
		t.Errorf("missing: %q", s.Warning)
	}
}

func TestCheckSpec(t *testing.T) {
	good := []string{"0 6 * * *", "30 5 * * 1-5", "0 22 * * *", "15 * * * *", "*/5 * * * *", "@every 5m", "0 6 29 2 *"}
	for _, spec := range good {
		if _, err := CheckSpec(spec); err != nil {
			t.Errorf("%q refused: %v", spec, err)
		}
	}
	bad := map[string]string{
		"":                 "cannot be read",
		"TZ=UTC":           "time zone",
		"CRON_TZ=":         "time zone",
		"TZ=UTC 0 6 * * *": "time zone",
		"0 0 31 2 *":       "never come",
		"@every 0s":        "one minute",
		"@every 30s":       "one minute",
		"@daily":           "05:00 to 22:00",
		"0 3 * * *":        "05:00 to 22:00",
		"30 22 * * *":      "05:00 to 22:00",
		"* 22 * * *":       "05:00 to 22:00",
		"0 2,6 * * *":      "05:00 to 22:00",
		"61 6 * * *":       "cannot be read",
		"0 6 * *":          "cannot be read",
		"every day at six": "cannot be read",
	}
	for spec, want := range bad {
		if _, err := CheckSpec(spec); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: err = %v, want %q", spec, err, want)
		}
	}
	_, err := New(Options{Ledger: newLedger(time.Now), Zone: time.UTC, Now: time.Now}, Job{Name: "x", Spec: "0 3 * * *"}, Job{Spec: "0 6 * * *"})
	if err == nil || !strings.Contains(err.Error(), `job "x"`) || !strings.Contains(err.Error(), `job ""`) {
		t.Errorf("err = %v, want both faults", err)
	}
}

// The real alarm clock over five days, one of them with a clock change.
func TestAlarmsFireAtSixEachDay(t *testing.T) {
	z := zone(t, "America/New_York")
	synctest.Test(t, func(t *testing.T) {
		// The bubble's clock starts on 1 January 2000; sleep to the eve of the change
		// of 2 April 2000 in New York.
		time.Sleep(time.Until(time.Date(2000, 3, 31, 22, 0, 0, 0, z)))
		var mu sync.Mutex
		var slots, fired []string
		r, err := New(Options{Ledger: newLedger(time.Now), Zone: z, Now: time.Now},
			Job{Name: "daily", Spec: "0 6 * * *", Run: func(_ context.Context, slot time.Time) (string, error) {
				mu.Lock()
				defer mu.Unlock()
				slots = append(slots, slot.Format("01-02 15:04"))
				fired = append(fired, time.Now().In(z).Format("01-02 15:04"))
				return "", nil
			}})
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Start(t.Context()); err != nil {
			t.Fatal(err)
		}
		time.Sleep(5*24*time.Hour - 2*time.Hour)
		if err := r.Stop(t.Context()); err != nil {
			t.Fatal(err)
		}
		want := []string{"04-01 06:00", "04-02 06:00", "04-03 06:00", "04-04 06:00", "04-05 06:00"}
		if !slices.Equal(slots, want) || !slices.Equal(fired, want) {
			t.Errorf("slots %q fired at %q, want %q", slots, fired, want)
		}
	})
}

func TestStopCutsAHangingJobOffAndItBeginsAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(time.Date(2000, 3, 1, 5, 0, 0, 0, time.UTC)))
		l := newLedger(time.Now)
		hang := true
		ends := 0
		job := Job{Name: "daily", Spec: "0 6 * * *", Run: func(ctx context.Context, _ time.Time) (string, error) {
			if hang {
				<-ctx.Done()
				return "", ctx.Err()
			}
			ends++
			return "", nil
		}}
		start := func() *Runner {
			r, err := New(Options{Ledger: l, Zone: time.UTC, Now: time.Now}, job)
			if err != nil {
				t.Fatal(err)
			}
			if err := r.Start(t.Context()); err != nil {
				t.Fatal(err)
			}
			return r
		}
		r := start()
		time.Sleep(70 * time.Minute) // 06:10, the job hangs
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		if err := r.Stop(ctx); err == nil {
			t.Error("Stop does not tell that a job was cut off")
		}
		hang = false
		r = start()
		time.Sleep(2 * time.Hour)
		if err := r.Stop(t.Context()); err != nil {
			t.Error(err)
		}
		if ends != 1 {
			t.Errorf("ended %d times, want once", ends)
		}
	})
}

// A panic must not keep the alarm taken: the other order of the chain would.
func TestAlarmSurvivesAPanickingTick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var ticks atomic.Int32
		r, err := New(Options{Ledger: newLedger(time.Now), Zone: time.UTC, Now: func() time.Time {
			if ticks.Add(1) > 1 {
				panic("the clock broke")
			}
			return time.Now()
		}}, Job{Name: "daily", Spec: "0 6 * * *", Run: func(context.Context, time.Time) (string, error) { return "", nil }})
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Start(t.Context()); err != nil {
			t.Fatal(err)
		}
		time.Sleep(46 * time.Minute)
		if err := r.Stop(t.Context()); err != nil {
			t.Error(err)
		}
		if n := ticks.Load(); n != 4 { // at start, and at 15, 30 and 45 minutes
			t.Errorf("%d ticks, want 4", n)
		}
	})
}
