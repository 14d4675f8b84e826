package schedule_test

import (
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

func hand(c cases.Case, on cases.Day, at cases.Clock) schedule.Ask {
	return schedule.Ask{Case: c.ID, Site: "by-phone", On: on, At: at, ByHand: true}
}

// A booking by hand keeps to what a booking of a place keeps to: readiness or a named
// person's word, one open booking, twins at different times; and it bypasses no session.
func TestBookByHand(t *testing.T) {
	w := newWorld(t)
	c := w.infant(t, nil)
	got := w.book(t, hand(c, clinic, "09:15"))[0]
	b := got.Bookings[0]
	if b.Session != "" || b.Minutes == 0 || b.UID == "" || b.State != "booked" || b.By != nurse.Name {
		t.Errorf("%+v", b)
	}
	_, err := w.desk.Book(ctx, nurse, hand(got, clinic+1, "09:15"))
	wantRefusal(t, err, cases.Refused, "booked already")

	young := w.infant(t, func(c *cases.Case) { born(c, today-9) })
	_, err = w.desk.Book(ctx, nurse, hand(young, today, "09:15"))
	if e := wantRefusal(t, err, cases.Refused, "9 days old on that day"); e.Field != schedule.NeedsOverride {
		t.Errorf("%+v", e)
	}
	ask := hand(young, today, "09:15")
	ask.Override = &schedule.Override{By: "Dr. Invented"}
	_, err = w.desk.Book(ctx, nurse, ask)
	wantRefusal(t, err, cases.Invalid, "Enter why")
	ask.Override.Reason = "Two variants"
	if b := w.book(t, ask)[0].Bookings[0]; b.OverrideBy != "Dr. Invented" || b.Reason == "" {
		t.Errorf("%+v", b)
	}
}

func TestBookByHandRefuses(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	c := w.infant(t, nil)
	for name, x := range map[string]struct {
		ask  schedule.Ask
		says string
	}{
		"past":            {hand(c, today-1, "09:00"), "has passed"},
		"mistyped year":   {hand(c, today+400, "09:00"), "Check the year"},
		"no time":         {hand(c, clinic, ""), "Enter the time"},
		"no day":          {hand(c, 0, "09:00"), "Enter the day"},
		"sessions":        {schedule.Ask{Case: c.ID, Site: "alder-bay", On: clinic + 1, At: "09:00", ByHand: true}, "has sessions. Select one of its places"},
		"closed that day": {schedule.Ask{Case: c.ID, Site: "alder-bay", On: today + 1, At: "09:00", ByHand: true}, "is closed on Sat 21 Mar 2026"},
	} {
		if _, err := w.desk.Book(ctx, nurse, x.ask); err == nil {
			t.Errorf("%s: booked", name)
		} else {
			wantRefusal(t, err, cases.Invalid, x.says)
		}
	}
	// A place is not booked at a site that has none.
	ask := hand(c, clinic, "09:00")
	ask.ByHand = false
	_, err := w.desk.Book(ctx, nurse, ask)
	wantRefusal(t, err, cases.NotFound, "no test site")
}

// A booking that moves from a place to a site without sessions stays the same
// appointment in calendars, and the other way round.
func TestMoveByHand(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(2, 0))
	placed := w.book(t, ask(w.infant(t, nil), "09:00"))[0]
	to := hand(placed, clinic, "11:00")
	to.Reason = "The family asked"
	moved, err := w.desk.Move(ctx, nurse, 0, to)
	if err != nil {
		t.Fatal(err)
	}
	a, b := moved.Bookings[0], moved.Bookings[1]
	if a.State != "cancelled" || b.UID != a.UID || b.Sequence != 1 || b.Session != "" || b.Site != "by-phone" {
		t.Errorf("%+v", moved.Bookings)
	}
	f := file(t, schedule.AppointmentOf(&b, &schedule.Site{Name: "By phone"}, ""))
	parse(t, encode(t, f))
}

// Twins are booked by hand together, at times of their own.
func TestTwinsByHand(t *testing.T) {
	w := newWorld(t)
	a := w.infant(t, nil)
	b := w.infant(t, func(c *cases.Case) { c.Siblings = []string{a.Reference} })
	w.book(t, hand(a, clinic, "09:00"))
	_, err := w.desk.Book(ctx, nurse, hand(b, clinic, "09:00"))
	wantRefusal(t, err, cases.Invalid, "Twins need different times")
	w.book(t, hand(b, clinic, "09:40"))
}
