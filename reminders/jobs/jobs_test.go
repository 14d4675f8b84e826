package jobs

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"
)

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

// However the program was off and on, a slot runs once, and after each time it was on
// for a quarter of an hour the newest slot has run, as if it had always been on.
func TestAnyOffPeriodsEndAsIfAlwaysOn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBench(t, "0 6 * * *")
		b.at("2027-03-01 12:00").tick() // the clocks change on 14 March
		start := b.now
		seen := map[string]bool{}
		for range rapid.IntRange(1, 12).Draw(rt, "periods") {
			off := rapid.IntRange(0, 5*24*60).Draw(rt, "minutes off")
			on := rapid.IntRange(1, 3*24*4).Draw(rt, "quarters on")
			b.now = b.now.Add(time.Duration(off) * time.Minute)
			b.restart("0 6 * * *")
			for range on {
				b.tick()
				b.now = b.now.Add(Every)
			}
			b.tick()
			for _, slot := range b.ran {
				if seen[slot] {
					rt.Fatalf("%s ran twice", slot)
				}
				seen[slot] = true
			}
			b.ran = nil
			newest := time.Date(b.now.Year(), b.now.Month(), b.now.Day(), 6, 0, 0, 0, b.z)
			if newest.After(b.now) {
				newest = newest.AddDate(0, 0, -1)
			}
			if newest.After(start) && !seen[newest.Format("2006-01-02 15:04")] {
				rt.Fatalf("at %s the slot %s has not run", b.now, newest)
			}
		}
	})
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
