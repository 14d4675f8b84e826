package schedule_test

import (
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

func (w *world) cancel(t tb, c cases.Case) cases.Case {
	t.Helper()
	c, err := w.desk.Cancel(ctx, nurse, c.ID, c.Rev, len(c.Bookings)-1, "the family asked")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// history gives the last entry of a case.
func (w *world) history(t tb, id cases.ID) (e cases.Entry) {
	t.Helper()
	if err := w.db.View(ctx, func(r cases.Reader) error {
		h, err := r.History(id)
		e = h[len(h)-1]
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return e
}

func wantText(t tb, text string, says ...string) {
	t.Helper()
	for _, s := range says {
		if !strings.Contains(text, s) {
			t.Errorf("%q does not say %q", text, s)
		}
	}
}

func TestMoveKeepsTheAppointment(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(3, 0))
	c := w.book(t, ask(w.infant(t, nil), "09:00"))[0]
	uid := c.Bookings[0].UID
	to := ask(c, "10:00")
	_, err := w.desk.Move(ctx, nurse, 0, to)
	wantRefusal(t, err, cases.Invalid, "why the booking moves")
	to.Reason = "no car that early"
	c, err = w.desk.Move(ctx, nurse, 0, to)
	if err != nil {
		t.Fatal(err)
	}
	old, now := c.Bookings[0], c.Bookings[1]
	if old.State != "cancelled" || old.Reason != to.Reason || old.Sequence != 0 || now.State != "booked" || now.At != "10:00" || now.UID != uid || now.Sequence != 1 {
		t.Errorf("moved: %+v\n%+v", old, now)
	}
	if e := w.history(t, c.ID); e.Event.Kind != "booking-moved" || e.Event.Reason != to.Reason {
		t.Errorf("audit: %+v", e.Event)
	}
	w.filled(t, session(3, 0), 1)

	to.Rev = c.Rev
	_, err = w.desk.Move(ctx, nurse, 1, to)
	wantRefusal(t, err, cases.Refused, "for that place already")
	_, err = w.desk.Move(ctx, nurse, 0, to)
	wantRefusal(t, err, cases.Refused, "is cancelled and cannot be moved")
	_, err = w.desk.Move(ctx, nurse, 7, to)
	wantRefusal(t, err, cases.NotFound, "no such booking")

	// A move that is refused leaves the booking where it was.
	other := w.book(t, ask(w.infant(t, nil), "09:00"))[0]
	to.At = "09:00"
	_, err = w.desk.Move(ctx, nurse, 1, to)
	wantRefusal(t, err, cases.Conflict, "taken", "11:00")
	w.filled(t, session(3, 0), 2)
	w.cancel(t, other)
	if c, err = w.desk.Move(ctx, nurse, 1, to); err != nil || c.Bookings[2].Sequence != 2 {
		t.Errorf("moved again: %+v, %v", c.Bookings, err)
	}
	c = w.cancel(t, c)
	if b := c.Bookings[2]; b.State != "cancelled" || b.UID != uid || b.Sequence != 3 {
		t.Errorf("cancelled: %+v", b)
	}
	if list := schedule.Newest(append(c.Bookings, cases.Booking{State: "booked"})); len(list) != 1 || list[0] != c.Bookings[2] {
		t.Errorf("in calendars: %+v", list)
	}
}

// A booking made by hand gets its calendar entry when it moves to a place.
func TestMoveFromByHand(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	c := w.infant(t, nil)
	c = w.byHand(t, c, "09:40")
	to := ask(c, "09:00")
	to.Reason = "a place of the session"
	c, err := w.desk.Move(ctx, nurse, 0, to)
	if err != nil || c.Bookings[1].UID == "" || c.Bookings[1].Sequence != 0 {
		t.Errorf("moved: %+v, %v", c.Bookings, err)
	}
	if c, err = w.desk.Cancel(ctx, nurse, c.ID, c.Rev, 1, "ill"); err != nil || c.Bookings[1].Sequence != 1 {
		t.Errorf("cancelled: %+v, %v", c.Bookings, err)
	}
}

func TestCancelKeptMissed(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(3, 0))
	c := w.book(t, ask(w.infant(t, nil), "09:00"))[0]
	_, err := w.desk.Cancel(ctx, nurse, c.ID, c.Rev, 0, "")
	wantRefusal(t, err, cases.Invalid, "why the booking is cancelled")
	_, err = w.desk.Kept(ctx, nurse, c.ID, c.Rev, 0)
	wantRefusal(t, err, cases.Refused, "Tue 24 Mar 2026, has not come")

	w.set(clinic, 8, 50)
	_, err = w.desk.Missed(ctx, nurse, c.ID, c.Rev, 0, "")
	wantRefusal(t, err, cases.Refused, "09:00 today, has not come")
	w.set(clinic, 9, 30)
	if c, err = w.desk.Missed(ctx, nurse, c.ID, c.Rev, 0, "no answer"); err != nil || c.Bookings[0].State != "missed" || c.Bookings[0].Reason != "no answer" {
		t.Fatalf("missed: %+v, %v", c.Bookings, err)
	}
	if c, err = w.desk.Kept(ctx, nurse, c.ID, c.Rev, 0); err != nil || c.Bookings[0].State != "kept" || c.Bookings[0].Changed != clinic {
		t.Fatalf("kept: %+v, %v", c.Bookings, err)
	}
	_, err = w.desk.Cancel(ctx, nurse, c.ID, c.Rev, 0, "late")
	wantRefusal(t, err, cases.Refused, "is kept already")
	_, err = w.desk.Missed(ctx, nurse, c.ID, c.Rev-1, 0, "")
	wantRefusal(t, err, cases.Conflict, "changed by Nia Marsh")
}

func TestSessionsKeepWhatIsBooked(t *testing.T) {
	w := newWorld(t)
	s := session(4, 0)
	w.put(t, s)
	s.ID = schedule.NewSessionID(s.Site, s.On, s.Start)
	c := w.book(t, ask(w.infant(t, nil), "11:00"))[0]
	change := func(f func(*schedule.Session)) error {
		x := s
		f(&x)
		return w.db.Update(ctx, nurse, func(wr cases.Writer) error { return schedule.PutSessions(wr, w.p, x) })
	}
	for name, f := range map[string]func(*schedule.Session){
		"fewer places": func(s *schedule.Session) { s.Places = 2 },
		"later":        func(s *schedule.Session) { s.Start = "10:00" },
		"longer":       func(s *schedule.Session) { s.Minutes = 30 },
	} {
		t.Run(name, func(t *testing.T) {
			wantRefusal(t, change(f), cases.Refused, c.Reference+" (11:00)", "nothing was changed")
		})
	}
	wantRefusal(t, change(func(s *schedule.Session) { s.On++ }), cases.Invalid, "cannot change")
	wantRefusal(t, change(func(s *schedule.Session) { s.ForRepeats = 9 }), cases.Invalid, "for_repeats")
	wantRefusal(t, change(func(s *schedule.Session) { s.ID += "x" }), cases.Invalid, "overlaps")
	wantRefusal(t, change(func(s *schedule.Session) { s.Site = "marlow" }), cases.NotFound, "marlow")
	err := w.db.Update(ctx, nurse, func(x cases.Writer) error { return schedule.RemoveSession(x, s.Site, s.On, s.ID) })
	wantRefusal(t, err, cases.Refused, c.Reference)

	for name, f := range map[string]func(*schedule.Session){
		"only free places go": func(s *schedule.Session) { s.Places = 3 },
		"more places":         func(s *schedule.Session) { s.Places = 6 },
		"a note":              func(s *schedule.Session) { s.Note = "room 2" },
		"cancelled":           func(s *schedule.Session) { s.Cancelled = true },
	} {
		if err := change(f); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	said := false
	w.must(t, func(x cases.Writer) error {
		last := s
		last.Cancelled = true
		if err := schedule.PutSessions(x, w.p, last); err != nil {
			return err
		}
		for e, err := range x.EntriesSince(w.clock()) {
			if err == nil && strings.Contains(e.Event.Text, "cancelled false to true") {
				said = true
			}
		}
		lost, err := schedule.Stranded(x, cases.Calendar{}, "alder-bay", today, clinic)
		if len(lost) != 1 || lost[0].Reference != c.Reference {
			t.Errorf("to be moved by hand: %v", lost)
		}
		return err
	})
	if !said {
		t.Error("the audit trail does not say that the session was cancelled")
	}
	w.cancel(t, c)
	w.must(t, func(x cases.Writer) error { return schedule.RemoveSession(x, s.Site, s.On, s.ID) })
	err = w.db.Update(ctx, nurse, func(x cases.Writer) error { return schedule.RemoveSession(x, s.Site, s.On, s.ID) })
	wantRefusal(t, err, cases.NotFound, "no such session")
}

// All or none, and every fault with its session; what changed is in the audit trail.
func TestSitesAndSessionsAreKept(t *testing.T) {
	w := newWorld(t)
	late := session(2, 0)
	late.Start = "14:00"
	may := session(2, 0)
	may.On = cases.MakeDay(2026, 5, 5)
	bad := session(2, 0)
	bad.Places, bad.Minutes = 0, 5
	err := w.db.Update(ctx, nurse, func(x cases.Writer) error { return schedule.PutSessions(x, w.p, may, bad) })
	wantRefusal(t, err, cases.Invalid, "sessions[1].places", "sessions[1].minutes")
	w.put(t, late, may, session(3, 1))
	if err := w.db.View(ctx, func(r cases.Reader) error {
		list, err := schedule.Sessions(r, "alder-bay", today, may.On)
		if len(list) != 3 || list[0].Start != "09:00" || list[1].Start != "14:00" || list[2].On != may.On {
			t.Errorf("sessions: %+v", list)
		}
		if few, _ := schedule.Sessions(r, "alder-bay", clinic+1, may.On-1); len(few) != 0 {
			t.Errorf("between: %+v", few)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	for _, s := range []schedule.Site{{Key: "Alder Bay", Name: "x"}, {Key: "", Name: "x"}, {Key: "bay"}} {
		err := w.db.Update(ctx, nurse, func(x cases.Writer) error { return schedule.PutSite(x, s) })
		wantRefusal(t, err, cases.Invalid)
	}
	w.must(t, func(x cases.Writer) error {
		if err := schedule.PutSite(x, schedule.Site{Key: "a", Name: "A"}); err != nil {
			return err
		}
		list, err := schedule.Sites(x)
		if len(list) != 2 || list[0].Key != "a" {
			t.Errorf("sites: %+v", list)
		}
		return err
	})
	var kinds []string
	if err := w.db.View(ctx, func(r cases.Reader) error {
		for e, err := range r.EntriesSince(w.clock().Add(-1)) {
			if err != nil {
				return err
			}
			kinds = append(kinds, e.Event.Kind+" "+e.Event.Text)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	wantText(t, strings.Join(kinds, "\n"), "site-changed Test site added: a", "session-changed Sessions added alder-bay-2026-05-05-0900", "session-changed Sessions added alder-bay-2026-03-24-1400; added alder-bay-2026-03-24-0900", "setting-changed sessions alder-bay 2026-05")
}

// byHand puts a booking as it was made before the site had sessions: without a place,
// a length or an identity in calendars.
func (w *world) byHand(t tb, c cases.Case, at cases.Clock) cases.Case {
	w.must(t, func(tx cases.Writer) (err error) {
		c, err = cases.ChangeIn(tx, w.p, c.ID, c.Rev, cases.Event{Kind: "test-booked"}, func(c *cases.Case, _ cases.Day) error {
			c.Bookings = append(c.Bookings, cases.Booking{On: clinic, At: at, Site: "alder-bay", State: "booked"})
			return nil
		})
		return err
	})
	return c
}
