package schedule_test

import (
	"fmt"
	"sync"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// Two hundred attempts at once on one session end with exactly its places filled.
//
//asvs:15.4.1 15.4.2
func TestTwoHundredAtOnce(t *testing.T) {
	w := newWorld(t)
	s := session(12, 2)
	s.Start, s.Minutes = "08:00", 30
	w.put(t, s)
	infants := make([]cases.Case, 200)
	w.must(t, func(x cases.Writer) error {
		for i := range infants {
			c := cases.Case{
				Infant:   cases.Infant{Family: fmt.Sprint("Wren", i), Born: today - 20, Gestation: 39 * 7, BirthWeightG: 3200},
				Referral: cases.Referral{On: today - 15, Route: "screen"},
			}
			if i%5 == 0 { // repeats may take the places that are kept for them
				c.SweatTests = []cases.SweatTest{{On: today - 4, Collector: "tubing", Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: new(float64)}}}}
			}
			var err error
			if infants[i], err = x.PutCase(c, cases.Event{Kind: "test"}); err != nil {
				return err
			}
		}
		return nil
	})
	var wg sync.WaitGroup
	var mu sync.Mutex
	won := map[cases.Clock]int{}
	for i := range infants {
		wg.Go(func() {
			at := s.At(i % s.Places)
			_, err := w.desk.Book(ctx, nurse, ask(infants[i], at))
			mu.Lock()
			defer mu.Unlock()
			switch k := cases.KindOf(err); {
			case err == nil:
				won[at]++
			case k != cases.Conflict && k != cases.Refused:
				t.Errorf("attempt %d: %v", i, err)
			}
		})
	}
	wg.Wait()
	w.filled(t, s, s.Places)
	if len(won) != s.Places {
		t.Errorf("%d places were given: %v", len(won), won)
	}
	for at, n := range won {
		if n != 1 {
			t.Errorf("the place at %s was given %d times", at, n)
		}
	}
}

// filled counts who has the places of a session: never two in one.
func (w *world) filled(t tb, s schedule.Session, want int) {
	t.Helper()
	n := 0
	if err := w.db.View(ctx, func(r cases.Reader) error {
		places, err := schedule.BookedIn(r, &s)
		for i, b := range places {
			if n += len(b); len(b) > 1 {
				t.Errorf("place %d has %v", i, b)
			}
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if n != want {
		t.Errorf("%d places are filled, want %d", n, want)
	}
}

// While infants are booked, moved and taken off at once, the session is made smaller
// and larger; nobody ends without a place of it, and no place has two.
func TestSessionEditedWhileBooking(t *testing.T) {
	w := newWorld(t)
	s := session(8, 0)
	s.Minutes = 30
	s.ID = schedule.NewSessionID(s.Site, s.On, s.Start)
	w.put(t, s)
	var wg sync.WaitGroup
	for i := range 24 {
		c := w.infant(t, nil)
		wg.Go(func() {
			_, err := w.desk.Book(ctx, nurse, ask(c, s.At(i%8)))
			if err == nil && i%3 > 0 {
				to := ask(c, s.At((i+5)%8))
				to.Rev, to.Reason = 0, "drawn"
				if _, err = w.desk.Move(ctx, nurse, 0, to); err == nil && i%3 == 2 {
					_, err = w.desk.Cancel(ctx, nurse, c.ID, 0, 1, "drawn")
				}
			}
			if k := cases.KindOf(err); err != nil && k != cases.Conflict && k != cases.Refused {
				t.Errorf("infant %d: %v", i, err)
			}
		})
		wg.Go(func() {
			x := s
			x.Places = 1 + i%8
			err := w.db.Update(ctx, nurse, func(wr cases.Writer) error { return schedule.PutSessions(wr, w.p, x) })
			if err != nil && cases.KindOf(err) != cases.Refused {
				t.Errorf("edit %d: %v", i, err)
			}
		})
	}
	wg.Wait()
	if err := w.db.View(ctx, func(r cases.Reader) error {
		list, err := schedule.Sessions(r, s.Site, s.On, s.On)
		if err != nil {
			return err
		}
		places, err := schedule.BookedIn(r, &list[0])
		in := 0
		for i, b := range places {
			if in += len(b); len(b) > 1 {
				t.Errorf("place %d has %v", i, b)
			}
		}
		for b, err := range r.BookedAt(s.Site, s.On, s.On) {
			if in--; err != nil {
				return err
			} else if list[0].PlaceAt(b.At) < 0 {
				t.Errorf("%v has no place in %v", b, list[0])
			}
		}
		if in != 0 {
			t.Errorf("%d bookings too many in the places", in)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
}
