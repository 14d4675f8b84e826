package schedule_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
	"dunlin/cases/store"
)

var (
	ctx    = context.Background()
	nurse  = cases.Actor{ID: "nia", Name: "Nia Marsh", Role: cases.Nurse, Via: "test"}
	today  = cases.MakeDay(2026, 3, 20) // a Friday
	clinic = today + 4                  // Tuesday 24 March 2026
)

// world is a store with one site, and a clock that stands until it is set.
type world struct {
	db   *store.DB
	desk *schedule.Desk
	p    *cases.Protocol
	mu   sync.Mutex
	now  time.Time
}

func (w *world) clock() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now
}

func (w *world) set(d cases.Day, hour, minute int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	y, m, dd := d.Date()
	w.now = time.Date(y, time.Month(m), dd, hour, minute, 0, 0, time.UTC)
}

// tb is what tests of every kind can do.
type tb interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
	Fatal(args ...any)
}

// newWorld opens a world for one test; at the end its store must be sound.
func newWorld(t testing.TB) *world {
	t.Helper()
	w := openWorld(t, filepath.Join(t.TempDir(), "dunlin.db"))
	t.Cleanup(func() { w.close(t) })
	return w
}

func openWorld(t tb, path string) *world {
	t.Helper()
	w := &world{p: cases.DefaultProtocol()}
	w.set(today, 12, 0)
	db, err := store.Open(path, store.Options{
		Now: w.clock, Rand: rand.NewChaCha8([32]byte{1}), Release: "test", Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	w.db, w.desk = db, schedule.NewDesk(db, w.p)
	w.must(t, func(x cases.Writer) error {
		return schedule.PutSite(x, schedule.Site{Key: "alder-bay", Name: "Alder Bay Hospital", Weekdays: []int{1, 2, 3, 4, 5}})
	})
	return w
}

func (w *world) close(t tb) {
	t.Helper()
	problems, err := w.db.Check(ctx)
	if err != nil || len(problems) > 0 {
		t.Errorf("the store is not sound: %v %v", problems, err)
	}
	if err := w.db.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
}

func (w *world) must(t tb, f func(cases.Writer) error) {
	t.Helper()
	if err := w.db.Update(ctx, nurse, f); err != nil {
		t.Fatal(err)
	}
}

// session is a session of the one site on the day of the clinic, from 09:00.
func session(places, forRepeats int) schedule.Session {
	return schedule.Session{Site: "alder-bay", On: clinic, Start: "09:00", Places: places, Minutes: 60, ForRepeats: forRepeats}
}

func (w *world) put(t tb, list ...schedule.Session) {
	t.Helper()
	w.must(t, func(x cases.Writer) error { return schedule.PutSessions(x, w.p, list...) })
}

// infant opens the case of an infant that is ready on the day of the clinic, changed
// by f.
func (w *world) infant(t tb, f func(*cases.Case)) cases.Case {
	t.Helper()
	born := today - 20
	c := cases.Case{
		Infant:   cases.Infant{Family: "Wren", Born: born, Gestation: 39 * 7, BirthWeightG: 3200, Weights: []cases.Weight{{On: born + 10, G: 3300}}},
		Referral: cases.Referral{On: born + 5, Route: "screen"},
	}
	if f != nil {
		f(&c)
	}
	w.must(t, func(x cases.Writer) (err error) {
		c, err = x.PutCase(c, cases.Event{Kind: "test"})
		return err
	})
	return c
}

func ask(c cases.Case, at cases.Clock) schedule.Ask {
	return schedule.Ask{Case: c.ID, Rev: c.Rev, Site: "alder-bay", On: clinic, At: at}
}

func (w *world) book(t tb, asks ...schedule.Ask) []cases.Case {
	t.Helper()
	out, err := w.desk.Book(ctx, nurse, asks...)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func wantRefusal(t tb, err error, kind cases.Kind, says ...string) *cases.Error {
	t.Helper()
	if err == nil || cases.KindOf(err) != kind {
		t.Fatalf("got %v of kind %d, want kind %d", err, cases.KindOf(err), kind)
	}
	for _, s := range says {
		if !strings.Contains(err.Error(), s) {
			t.Errorf("%q does not say %q", err, s)
		}
	}
	var e *cases.Error
	errors.As(err, &e)
	return e
}

func TestBookWritesThePlace(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(3, 1))
	c := w.book(t, ask(w.infant(t, nil), "10:00"))[0]
	b := c.Bookings[0]
	if b.State != "booked" || b.On != clinic || b.At != "10:00" || b.Minutes != 60 || b.Session != "alder-bay-2026-03-24-0900" ||
		b.By != nurse.Name || b.Changed != today || len(b.UID) != 26 || strings.Contains(b.UID, c.Reference) || b.OverrideBy != "" {
		t.Errorf("booked: %+v", b)
	}
	if err := w.db.View(ctx, func(r cases.Reader) error {
		h, err := r.History(c.ID)
		if last := h[len(h)-1]; last.Event.Kind != "test-booked" || last.Event.Text != "Test booked for 2026-03-24 10:00" || last.Actor.Name != nurse.Name {
			t.Errorf("audit: %+v", last)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	_, err := w.desk.Book(ctx, cases.Actor{Role: cases.Manager}, ask(w.infant(t, nil), "09:00"))
	wantRefusal(t, err, cases.Forbidden, "coordinator or nurse")
}

//asvs:2.3.4
func TestNoSecondBookingOfAPlaceOrAnInfant(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	one, two := w.infant(t, nil), w.infant(t, nil)
	booked := w.book(t, ask(one, "09:00"))[0]

	_, err := w.desk.Book(ctx, nurse, ask(two, "09:00"))
	wantRefusal(t, err, cases.Conflict, "taken a moment ago", "next fitting place is Tue 24 Mar 2026, 10:00, Alder Bay Hospital")
	_, err = w.desk.Book(ctx, nurse, ask(booked, "10:00"))
	wantRefusal(t, err, cases.Refused, "booked already: Tue 24 Mar 2026, 09:00, Alder Bay Hospital. Move or cancel")
	_, err = w.desk.Book(ctx, nurse, ask(one, "10:00"))
	var ch *cases.Changed
	if !errors.As(err, &ch) || ch.Now.Rev != booked.Rev {
		t.Errorf("an old revision is answered with %v", err)
	}
	w.book(t, ask(two, "10:00"))
	_, err = w.desk.Book(ctx, nurse, ask(w.infant(t, nil), "10:00"))
	wantRefusal(t, err, cases.Conflict, "No session has a free place.")
}

// A booking made by hand at a time within a place takes that place.
func TestBookingsByHandCount(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	c := w.infant(t, nil)
	w.byHand(t, c, "09:40")
	_, err := w.desk.Book(ctx, nurse, ask(w.infant(t, nil), "09:00"))
	wantRefusal(t, err, cases.Conflict, "10:00")
}

func TestPlacesThatAreNone(t *testing.T) {
	w := newWorld(t)
	s := session(2, 1)
	w.put(t, s)
	c := w.infant(t, nil)
	for name, x := range map[string]struct {
		change func(*schedule.Ask)
		kind   cases.Kind
		says   string
	}{
		"no such site": {func(a *schedule.Ask) { a.Site = "marlow" }, cases.NotFound, "marlow"},
		"no session":   {func(a *schedule.Ask) { a.On++ }, cases.Refused, "no session with a place on Wed 25 Mar 2026 at 09:00"},
		"between":      {func(a *schedule.Ask) { a.At = "09:30" }, cases.Refused, "Select a place of a session"},
		"past the end": {func(a *schedule.Ask) { a.At = "11:00" }, cases.Refused, "no session with a place"},
		"yesterday":    {func(a *schedule.Ask) { a.On = today - 1 }, cases.Invalid, "has passed"},
		"no day":       {func(a *schedule.Ask) { a.On = 0 }, cases.Invalid, "Select a day"},
		"a weekend":    {func(a *schedule.Ask) { a.On = today + 1 }, cases.Invalid, "closed on Sat 21 Mar 2026"},
		"kept":         {func(a *schedule.Ask) { a.At = "10:00" }, cases.Refused, "kept for repeats. The next fitting place is Tue 24 Mar 2026, 09:00"},
		"no such case": {func(a *schedule.Ask) { a.Case = "01ARZ3NDEKTSV4RRFFQ69G5FAV" }, cases.NotFound, "no infant"},
	} {
		a := ask(c, "09:00")
		x.change(&a)
		_, err := w.desk.Book(ctx, nurse, a)
		t.Run(name, func(t *testing.T) { wantRefusal(t, err, x.kind, x.says) })
	}
	s.ID, s.Cancelled = "alder-bay-2026-03-24-0900", true
	w.put(t, s)
	_, err := w.desk.Book(ctx, nurse, ask(c, "09:00"))
	wantRefusal(t, err, cases.Refused, "cancelled its session")

	s.Cancelled = false
	w.put(t, s)
	w.set(clinic, 9, 0)
	_, err = w.desk.Book(ctx, nurse, ask(c, "09:00"))
	wantRefusal(t, err, cases.Invalid, "has passed")
}
