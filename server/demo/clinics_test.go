package demo

import (
	"context"
	"slices"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// Every site has sessions in each of the weeks ahead, every booking ahead on a day
// of work lies in a place of one, nobody shares a place, and infants who wait are offered places.
func TestPlacesAreOffered(t *testing.T) {
	for _, today := range days {
		t.Run(today.String(), func(t *testing.T) {
			s := fill(t, today)
			err := s.db.View(context.Background(), func(r cases.Reader) error {
				list, err := schedule.Sites(r)
				if err != nil || len(list) != len(sites) {
					t.Fatalf("%d sites, %v", len(list), err)
				}
				for _, x := range list {
					if !slices.Contains(testedAt, x.Key) {
						t.Errorf("no story is tested at %s", x.Key)
					}
					s.checkSite(t, r, x.Key)
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			s.checkOffers(t)
			s.checkToday(t)
		})
	}
}

func (s *set) checkSite(t *testing.T, r cases.Reader, key string) {
	t.Helper()
	sessions, err := schedule.Sessions(r, key, s.today-28, s.today+56)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(sessions); n < 8 || sessions[0].On >= s.today || sessions[n-1].On < s.today+42 {
		t.Errorf("%s: %d sessions", key, n)
	}
	for i := range sessions {
		k := &sessions[i]
		places, err := schedule.BookedIn(r, k)
		if err != nil {
			t.Fatal(err)
		}
		for n, in := range places {
			if len(in) > 1 && k.On >= s.today {
				t.Errorf("%s: %d infants in place %d", k.ID, len(in), n)
			}
		}
	}
	for b, err := range r.BookedAt(key, s.today, s.today+56) {
		if err != nil {
			t.Fatal(err)
		}
		if !s.p.Calendar().Working(b.On) {
			continue
		}
		if !slices.ContainsFunc(sessions, func(k schedule.Session) bool { return k.On == b.On && k.PlaceAt(b.At) >= 0 }) {
			t.Errorf("%s is booked at %s on %s at %s, outside of sessions", b.Reference, key, b.On, b.At)
		}
	}
}

func (s *set) checkOffers(t *testing.T) {
	t.Helper()
	var board *schedule.Board
	s.clock.Set(s.today.Time().Add(8 * time.Hour))
	defer s.clock.Release()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		board, err = schedule.ReadBoard(r, s.p, 56, nil)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	waiting, offered := 0, 0
	s.each(t, func(c *cases.Case, a *cases.Assessment, _ *story) {
		w, ok := schedule.WaitOf(c, a, s.p)
		if !ok || w.Blocked != "" {
			return
		}
		waiting++
		if o := board.Offer(&w); len(o.Offers) == 3 {
			offered++
		} else {
			t.Logf("%s: %d offers. %s", c.Reference, len(o.Offers), o.None)
		}
	})
	if waiting == 0 || offered < waiting*9/10 {
		t.Errorf("%d of %d waiting infants have three offers", offered, waiting)
	}
}

// On whatever day the demo is started, Alder Bay has a session with infants to come
// today: twins, one whose day a named person answers for, one who needs an interpreter.
// Every booking of theirs lies in a place and can go into a calendar.
func (s *set) checkToday(t *testing.T) {
	t.Helper()
	s.clock.Set(s.today.Time().Add(8 * time.Hour))
	defer s.clock.Release()
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		visits, err := schedule.VisitsOn(r, "alder-bay", s.today)
		twins, answered, spoken := 0, 0, 0
		for i := range visits {
			v := &visits[i]
			if b := v.Booking(); b.Session == "" || b.UID == "" || b.Minutes == 0 {
				t.Errorf("%+v", b)
			} else if b.OverrideBy != "" {
				answered++
			}
			if len(v.Case.Siblings) > 0 {
				twins++
			}
			if v.Case.Family.Interpreter {
				spoken++
			}
		}
		if len(visits) < 4 || twins < 2 || answered < 1 || spoken < 1 {
			t.Errorf("%d infants, %d twins, %d answered for, %d with an interpreter", len(visits), twins, answered, spoken)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	n, all := 0, 0
	s.each(t, func(c *cases.Case, _ *cases.Assessment, _ *story) {
		for _, b := range c.Bookings {
			if all++; b.OverrideBy != "" {
				n++
			}
		}
	})
	if n < 1 || n > all/10 {
		t.Errorf("%d of %d bookings were made in spite of something", n, all)
	}
}
