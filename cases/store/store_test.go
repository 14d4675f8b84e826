package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
)

var (
	ctx   = context.Background()
	clerk = cases.Actor{ID: "ina", Name: "Ina Reed", Role: cases.Coordinator, Via: "test"}
	noon  = time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
)

// clock is a settable clock that moves a second at every look.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(time.Second)
	return c.at
}

func testOptions() Options {
	c := &clock{at: noon}
	return Options{Now: c.now, Rand: rand.NewChaCha8([32]byte{1}), Release: "test", Wait: 200 * time.Millisecond}
}

// openTest opens a store in a folder of the test; at the end it must be sound.
func openTest(t testing.TB) *DB {
	t.Helper()
	o := testOptions()
	o.Scratch = true
	return openAt(t, filepath.Join(t.TempDir(), "dunlin.db"), o)
}

func openAt(t testing.TB, path string, o Options) *DB {
	t.Helper()
	db, err := Open(path, o)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	t.Cleanup(func() {
		if !db.closed.Load() {
			checkSound(t, db)
			if err := db.Close(); err != nil {
				t.Errorf("close: %v", err)
			}
		}
	})
	return db
}

func checkSound(t testing.TB, db *DB) {
	t.Helper()
	problems, err := db.Check(ctx)
	if err != nil {
		t.Fatalf("check: %v", err)
	}
	for _, p := range problems {
		t.Errorf("check: %s", p)
	}
}

// newCase is a plain referral, n days old on 20 March 2026.
func newCase(n int, given, family string) cases.Case {
	born := cases.MakeDay(2026, 3, 20) - cases.Day(n)
	return cases.Case{
		Infant:   cases.Infant{Given: given, Family: family, Sex: "female", Born: born, Gestation: 39 * 7, BirthWeightG: 3200},
		Referral: cases.Referral{On: born + 3, Route: "screen", Screen: &cases.Screen{Accession: fmt.Sprintf("AB26-%05d", n), Laboratory: "Alder Bay Laboratory"}},
	}
}

func update(t testing.TB, db *DB, f func(w cases.Writer) error) {
	t.Helper()
	if err := db.Update(ctx, clerk, f); err != nil {
		t.Fatalf("update: %v", err)
	}
}

func view(t testing.TB, db *DB, f func(r cases.Reader) error) {
	t.Helper()
	if err := db.View(ctx, f); err != nil {
		t.Fatalf("view: %v", err)
	}
}

// put writes a case in its own transaction.
func put(t testing.TB, db *DB, c cases.Case, kind string) cases.Case {
	t.Helper()
	update(t, db, func(w cases.Writer) (err error) {
		c, err = w.PutCase(c, cases.Event{Kind: kind})
		return err
	})
	return c
}

func wantKind(t testing.TB, err error, kind cases.Kind) {
	t.Helper()
	if err == nil || cases.KindOf(err) != kind {
		t.Fatalf("got error %v of kind %d, want kind %d", err, cases.KindOf(err), kind)
	}
}

func wantFault(t testing.TB, err, why error) {
	t.Helper()
	var f *Fault
	if !errors.As(err, &f) || !errors.Is(err, why) {
		t.Fatalf("got %v, want a fault: %v", err, why)
	}
}
