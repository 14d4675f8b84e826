package jobs

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

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
