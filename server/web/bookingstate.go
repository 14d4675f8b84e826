package web

import (
	"context"
	"net/http"

	"dunlin/cases"
	"dunlin/templates"
)

// cancelReasons are why a booking is cancelled.
var cancelReasons = []word{{"family", "The family asked"}, {"unwell", "The infant is unwell"}, {"hold", "A hold was placed"},
	{"site", "The test site asked"}, {"travel", "Weather or travel"}, {"other", "Another reason"}}

// cancelForm answers GET /infants/:ref/bookings/:n/cancel.
func (s *server) cancelForm(c Ctx) error {
	p, _, _, err := s.cancelPage(c, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) cancelPage(c Ctx, f *form) (*templates.CancelBookingPage, opened, int, error) {
	o, err := s.load(c)
	if err != nil {
		return nil, o, 0, err
	}
	i, err := index(c, len(o.c.Bookings))
	if err != nil {
		return nil, o, 0, err
	}
	p := &templates.CancelBookingPage{Base: s.base(c, &o, "Cancel a booking", "schedule"), Head: "Cancel the booking of " + shortName(&o.c.Infant), Booking: s.bookingWords(&o.c.Bookings[i]),
		Action: action(c), Back: back(c, o.c.Reference)}
	p.Reason = f.group(templates.Choice{ID: "reason", Legend: "Why is it cancelled?", Down: true, Options: optionsOf(cancelReasons)})
	p.Words = f.field(templates.Field{ID: "words", Label: "In words", Optional: true, Kind: "area", Rows: 2})
	return p, o, i, nil
}

// cancel answers POST /infants/:ref/bookings/:n/cancel.
func (s *server) cancel(c Ctx) error {
	f := s.readForm(c)
	why := f.choice("reason", "Select why the booking is cancelled", valuesOf(cancelReasons)...)
	words := f.lines("words", "In words", 300)
	if why == "other" && words == "" {
		f.fail("words", "Enter the reason in words")
	}
	p, o, i, err := s.cancelPage(c, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	reason := wordOf(cancelReasons, why)
	if words != "" {
		reason += ": " + words
	}
	err = s.submit(c, f, back(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		err := s.cancelBooking(ctx, actorOf(c), &o, f.rev(), i, reason)
		return templates.Notice{Head: "Booking cancelled", Text: "for " + infantName(&o.c.Infant) + ", " + o.c.Reference + ".", LinkText: "Book another day", Link: "/infants/" + o.c.Reference + "/book"}, err
	})
	return s.refuse(c, f, p, err, sent{"the cancelling", []labelled{{"reason", "Reason"}, {"words", "In words"}}, func(string) string { return "reason-0" }})
}

// kept answers POST /infants/:ref/bookings/:n/kept.
func (s *server) kept(c Ctx) error { return s.setBooking(c, "kept") }

// missed answers POST /infants/:ref/bookings/:n/missed.
func (s *server) missed(c Ctx) error { return s.setBooking(c, "missed") }

func (s *server) setBooking(c Ctx, state string) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	i, err := index(c, len(o.c.Bookings))
	if err != nil {
		return err
	}
	f := s.readForm(c)
	if _, err := s.Desk.SetBooking(c.Request().Context(), actorOf(c), o.c.ID, f.rev(), i, state, ""); err != nil {
		return s.conflict(c, err, f, "the mark", action(c), "/infants/"+o.c.Reference, nil)
	}
	n := templates.Notice{Text: infantName(&o.c.Infant) + ", " + o.c.Reference + ".", Head: "Marked as kept"}
	n.LinkText, n.Link = "Record the test", testPath(&o.c, &o.c.Bookings[i])
	if state == "missed" {
		n.Head, n.LinkText, n.Link = "Marked as missed", "Book another day", "/infants/"+o.c.Reference+"/book"
	}
	return s.saved(c, back(c, o.c.Reference), n)
}

// cancelBooking cancels booking i; a place of a session tells its calendars.
func (s *server) cancelBooking(ctx context.Context, who cases.Actor, o *opened, rev cases.Rev, i int, reason string) (err error) {
	if o.c.Bookings[i].Session != "" && rev != 0 { // without a version the desk would compare nothing
		_, err = s.places.Cancel(ctx, who, o.c.ID, rev, i, reason)
	} else {
		_, err = s.Desk.SetBooking(ctx, who, o.c.ID, rev, i, "cancelled", reason)
	}
	return err
}
