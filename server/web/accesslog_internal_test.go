package web

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"dunlin/cases"
)

// TestEveryRouteSaysWhatItDoes: a route that nobody gave an act fails here. It would be
// in the access log all the same.
func TestEveryRouteSaysWhatItDoes(t *testing.T) {
	s := &server{}
	acts := append(cases.AccessActs(), actQuiet, actFigures)
	n := 0
	for _, r := range slices.Concat(s.coreRoutes(), s.formRoutes(), s.peopleRoutes()) {
		n++
		act, known := accessAct(r.method, r.path)
		if !known || !slices.Contains(acts, act) {
			t.Errorf("%s %s has no act of the access log: add it to routeActs or accessAct", r.method, r.path)
		}
		if r.right&(seeCases|seeWaiting) != 0 && act == actQuiet && r.path != "/infants/find" {
			t.Errorf("%s %s shows cases and stands in the log as quiet", r.method, r.path)
		}
	}
	if _, known := accessAct("GET", "/new-page"); known || n < 100 {
		t.Errorf("of %d routes, one that does not exist has an act", n)
	}
}

func TestReferencesIn(t *testing.T) {
	for text, want := range map[string][]string{
		"":                                    nil,
		"AB-2026-0042":                        {"AB-2026-0042"},
		"row-AB-2026-0042 AB-2026-0042":       {"AB-2026-0042"},
		`<a href="/infants/XY-2026-123456?">`: {"XY-2026-123456"},
		"AB-2026-004, AB26-0001234, ab-2026-0042, AAB-2026-0042, 1AB-2026-0042, AB-202-60042": nil,
		"AB-2026-0001AB-2026-0002":  {"AB-2026-0001"},
		"AB-2026-0001,CD-2027-0002": {"AB-2026-0001", "CD-2027-0002"},
	} {
		if got := referencesIn([]byte(text)); !slices.Equal(got, want) {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
}

// slowStore counts transactions and takes its time for each.
type slowStore struct {
	cases.Store
	transactions, lines atomic.Int64
	fail                atomic.Bool
	one                 sync.Mutex
}

type lineWriter struct {
	cases.Writer
	n *atomic.Int64
}

func (w lineWriter) LogAccess(cases.Access) error { w.n.Add(1); return nil }

func (s *slowStore) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	s.one.Lock()
	defer s.one.Unlock()
	if s.fail.Load() {
		return errors.New("made to fail")
	}
	s.transactions.Add(1)
	err := f(lineWriter{n: &s.lines})
	time.Sleep(2 * time.Millisecond)
	return err
}

// TestLinesGoTogether: what many people do at once costs few transactions, and each
// line is told whether it was written.
func TestLinesGoTogether(t *testing.T) {
	store := &slowStore{}
	l := &accessLines{store: store}
	const people, looks = 40, 10
	var wg sync.WaitGroup
	for range people {
		wg.Go(func() {
			for range looks {
				if err := l.log(t.Context(), cases.Access{}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if n, tx := store.lines.Load(), store.transactions.Load(); n != people*looks || tx > n/4 {
		t.Errorf("%d lines in %d transactions", n, tx)
	}
	store.fail.Store(true)
	for range 5 {
		wg.Go(func() {
			if l.log(t.Context(), cases.Access{}) == nil {
				t.Error("a line that was not written was taken for written")
			}
		})
	}
	wg.Wait()
	store.fail.Store(false)
	if err := l.log(t.Context(), cases.Access{}); err != nil {
		t.Error(err)
	}
}
