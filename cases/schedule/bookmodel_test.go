package schedule_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// model says in the plainest way who has which place.
type model struct {
	w        *world
	sessions []schedule.Session // as they should be kept
	infants  []cases.Case       // as last read
	repeat   []bool
	has      map[spot]int // place -> infant
}

type spot struct{ session, place int }

// TestBookingsAgainstModel runs random bookings, moves, cancellations and edits of
// sessions, and compares what may be done, and who has which place, with the model.
func TestBookingsAgainstModel(t *testing.T) {
	dir, runs := t.TempDir(), 0
	rapid.Check(t, func(rt *rapid.T) {
		runs++
		m := &model{w: openWorld(rt, filepath.Join(dir, strconv.Itoa(runs)+".db")), has: map[spot]int{}}
		defer m.w.close(rt)
		for i := range 4 {
			s := session(rapid.IntRange(1, 4).Draw(rt, "places"), 0)
			s.On, s.Minutes = clinic+cases.Day(i/2), 30
			s.Start = []cases.Clock{"09:00", "13:00"}[i%2]
			s.ID = schedule.NewSessionID(s.Site, s.On, s.Start)
			s.ForRepeats = rapid.IntRange(0, s.Places).Draw(rt, "for repeats")
			m.sessions = append(m.sessions, s)
		}
		m.w.put(rt, m.sessions...)
		for i := range 6 {
			m.repeat = append(m.repeat, i%2 == 0)
			m.infants = append(m.infants, m.w.infant(rt, func(c *cases.Case) {
				if m.repeat[i] {
					c.SweatTests = []cases.SweatTest{qns(today - 3)}
				}
			}))
		}
		rt.Repeat(map[string]func(*rapid.T){
			"book": m.book, "move": m.move, "cancel": m.cancel, "edit a session": m.edit, "": m.compare,
		})
	})
}

func (m *model) draw(t *rapid.T) (infant int, at spot, ask schedule.Ask) {
	infant = rapid.IntRange(0, len(m.infants)-1).Draw(t, "infant")
	at = spot{rapid.IntRange(0, len(m.sessions)-1).Draw(t, "session"), rapid.IntRange(0, 5).Draw(t, "place")}
	s := m.sessions[at.session]
	s.Places = 6 // a time beyond the last place too
	return infant, at, schedule.Ask{Case: m.infants[infant].ID, Site: s.Site, On: s.On, At: s.At(at.place), Reason: "drawn"}
}

// fits tells whether an infant may have a place that is free, or its own.
func (m *model) fits(infant int, at spot) bool {
	s := &m.sessions[at.session]
	who, taken := m.has[at]
	return at.place < s.Places && !s.Cancelled && (!taken || who == infant) && (m.repeat[infant] || at.place < s.Places-s.ForRepeats)
}

func (m *model) of(infant int) (spot, bool) {
	for at, who := range m.has {
		if who == infant {
			return at, true
		}
	}
	return spot{}, false
}

func (m *model) book(t *rapid.T) {
	infant, at, ask := m.draw(t)
	_, open := m.of(infant)
	got, err := m.w.desk.Book(ctx, nurse, ask)
	if want := m.fits(infant, at) && !open; want != (err == nil) {
		t.Fatalf("book %v for %d: %v, want success %v", at, infant, err, want)
	}
	if err == nil {
		m.infants[infant], m.has[at] = got[0], infant
	}
}

func (m *model) move(t *rapid.T) {
	infant, at, ask := m.draw(t)
	from, open := m.of(infant)
	if !open {
		t.Skip("not booked")
	}
	last := len(m.infants[infant].Bookings) - 1
	before := m.infants[infant].Bookings[last]
	got, err := m.w.desk.Move(ctx, nurse, last, ask)
	if want := m.fits(infant, at) && at != from; want != (err == nil) {
		t.Fatalf("move %d from %v to %v: %v, want success %v", infant, from, at, err, want)
	}
	if err != nil {
		return
	}
	delete(m.has, from)
	m.infants[infant], m.has[at] = got, infant
	if now := got.Bookings[last+1]; now.UID != before.UID || now.Sequence != before.Sequence+1 {
		t.Fatalf("calendar entry: %+v after %+v", now, before)
	}
}

func (m *model) cancel(t *rapid.T) {
	infant, _, _ := m.draw(t)
	at, open := m.of(infant)
	if !open {
		t.Skip("not booked")
	}
	c := m.infants[infant]
	got, err := m.w.desk.Cancel(ctx, nurse, c.ID, c.Rev, len(c.Bookings)-1, "drawn")
	if err != nil {
		t.Fatal(err)
	}
	delete(m.has, at)
	m.infants[infant] = got
}

func (m *model) edit(t *rapid.T) {
	i := rapid.IntRange(0, len(m.sessions)-1).Draw(t, "session")
	s := m.sessions[i]
	s.Places = rapid.IntRange(1, 5).Draw(t, "places")
	s.ForRepeats = rapid.IntRange(0, s.Places).Draw(t, "for repeats")
	s.Cancelled = rapid.IntRange(0, 3).Draw(t, "cancelled") == 0
	want := true
	for at := range m.has {
		want = want && (at.session != i || at.place < s.Places)
	}
	err := m.w.db.Update(ctx, nurse, func(x cases.Writer) error { return schedule.PutSessions(x, m.w.p, s) })
	if want != (err == nil) {
		t.Fatalf("edit %v: %v, want success %v", s, err, want)
	}
	if err == nil {
		m.sessions[i] = s
	}
}

func (m *model) compare(t *rapid.T) {
	if err := m.w.db.View(ctx, func(r cases.Reader) error {
		kept, err := schedule.Sessions(r, "alder-bay", clinic, clinic+1)
		if err != nil || fmt.Sprint(kept) != fmt.Sprint(m.sessions) {
			t.Fatalf("kept %v, %v, want %v", kept, err, m.sessions)
		}
		for i := range kept {
			places, err := schedule.BookedIn(r, &kept[i])
			if err != nil {
				return err
			}
			for j, b := range places {
				who, taken := m.has[spot{i, j}]
				if len(b) > 1 || taken != (len(b) == 1) || taken && b[0].Case != m.infants[who].ID {
					t.Fatalf("place %d of %s has %v; the model has %d, %v", j, kept[i].ID, b, who, taken)
				}
			}
		}
		return m.free(t, r)
	}); err != nil {
		t.Fatal(err)
	}
}

// free compares the places that are offered with those nobody has.
func (m *model) free(t *rapid.T, r cases.Reader) error {
	b, err := schedule.ReadBoard(r, m.w.p, 14, nil)
	if err != nil {
		return err
	}
	want := -len(m.has)
	for i := range m.sessions {
		if s := &m.sessions[i]; !s.Cancelled {
			want += s.Places
		}
	}
	for at := range m.has {
		if m.sessions[at.session].Cancelled {
			want++ // it was not counted
		}
	}
	for _, p := range b.Places {
		i := slices.IndexFunc(m.sessions, func(s schedule.Session) bool { return s.ID == p.Session.ID })
		if _, taken := m.has[spot{i, p.Number}]; taken {
			t.Fatalf("%s is offered and taken", p.Say())
		}
	}
	if len(b.Places) != want {
		t.Fatalf("%d places are free, want %d", len(b.Places), want)
	}
	return nil
}
