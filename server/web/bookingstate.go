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

// missedReasons are why a family did not come, as far as is known.
var missedReasons = []word{{"no-word", "Nobody came, no word from the family"}, {"called-off", "The family called it off that day"}, {"unwell", "The infant was unwell"},
	{"travel", "Weather or travel"}, {"late", "Came too late to be tested"}, {"not-told", "The family did not know of it"}, {"other", "Another reason"}}

// endBooking is how a booking ends without a test, for the form that asks why.
type endBooking struct {
	name, head, ask, none, button, keep, after string
	reasons                                    []word
	do                                         func(s *server, ctx context.Context, who cases.Actor, id cases.ID, rev cases.Rev, i int, reason string) error
	done                                       string
}

var cancelling = endBooking{name: "Cancel a booking", head: "Cancel the booking of ", ask: "Why is it cancelled?", none: "Select why the booking is cancelled",
	button: "Cancel booking", keep: "Keep the booking", after: "The infant goes back to the list of those without a booking.", reasons: cancelReasons, done: "Booking cancelled",
	do: func(s *server, ctx context.Context, who cases.Actor, id cases.ID, rev cases.Rev, i int, reason string) error {
		_, err := s.places.Cancel(ctx, who, id, rev, i, reason)
		return err
	}}

var missing = endBooking{name: "Missed", head: "Missed: the booking of ", ask: "Why did the family not come?", none: "Select why the family did not come, as far as you know",
	button: "Mark as missed", keep: "Go back", after: "The infant goes back to the list of those without a booking. Call the family: a missed test is often a missed message.", reasons: missedReasons, done: "Marked as missed",
	do: func(s *server, ctx context.Context, who cases.Actor, id cases.ID, rev cases.Rev, i int, reason string) error {
		_, err := s.places.Missed(ctx, who, id, rev, i, reason)
		return err
	}}

// cancelForm answers GET /infants/:ref/bookings/:n/cancel.
func (s *server) cancelForm(c Ctx) error { return s.endForm(c, &cancelling) }

// cancel answers POST /infants/:ref/bookings/:n/cancel.
func (s *server) cancel(c Ctx) error { return s.end(c, &cancelling) }

// missedForm answers GET /infants/:ref/bookings/:n/missed.
func (s *server) missedForm(c Ctx) error { return s.endForm(c, &missing) }

// missed answers POST /infants/:ref/bookings/:n/missed.
func (s *server) missed(c Ctx) error { return s.end(c, &missing) }

func (s *server) endForm(c Ctx, e *endBooking) error {
	p, o, i, err := s.endPage(c, s.emptyForm(), e)
	if err != nil {
		return err
	}
	if b := &o.c.Bookings[i]; b.State != "kept" || e != &missing { // kept by mistake can be put right
		if err := stillBooked(b); err != nil {
			return err
		}
	}
	return s.render(c, http.StatusOK, p)
}

// stillBooked refuses to ask about a booking that has ended: an old page, or the way
// back after it was moved.
func stillBooked(b *cases.Booking) error {
	if b.State == "booked" {
		return nil
	}
	return cases.Errorf(cases.Refused, "That booking is %s already. Open the infant's page to see what is booked now.", b.State)
}

func (s *server) endPage(c Ctx, f *form, e *endBooking) (*templates.CancelBookingPage, opened, int, error) {
	o, i, err := s.loadBooking(c, true)
	if err != nil {
		return nil, o, 0, err
	}
	p := &templates.CancelBookingPage{Base: s.base(c, &o, e.name, "schedule"), Head: e.head + shortName(&o.c.Infant), Booking: s.bookingWords(&o.c.Bookings[i]),
		Action: action(c), Back: back(c, o.c.Reference), Note: e.after, Button: e.button, Keep: e.keep}
	p.Reason = f.group(templates.Choice{ID: "reason", Legend: e.ask, Down: true, Options: optionsOf(e.reasons)})
	p.Words = f.field(templates.Field{ID: "words", Label: "In words", Optional: true, Kind: "area", Rows: 2})
	return p, o, i, nil
}

func (s *server) end(c Ctx, e *endBooking) error {
	f := s.readForm(c)
	why := f.choice("reason", e.none, valuesOf(e.reasons)...)
	words := f.lines("words", "In words", 300)
	if why == "other" && words == "" {
		f.fail("words", "Enter the reason in words")
	}
	f.needVersion()
	p, o, i, err := s.endPage(c, f, e)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	reason := wordOf(e.reasons, why)
	if words != "" {
		reason += ": " + words
	}
	err = s.submit(c, f, back(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		err := e.do(s, ctx, actorOf(c), o.c.ID, f.rev(), i, reason)
		return templates.Notice{Head: e.done, Text: "for " + infantName(&o.c.Infant) + ", " + o.c.Reference + ".", LinkText: "Book another day", Link: "/infants/" + o.c.Reference + "/book"}, err
	})
	return s.refuse(c, f, p, err, sent{"the booking", []labelled{{"reason", "Reason"}, {"words", "In words"}}, func(string) string { return "reason-0" }})
}

// needVersion refuses a form without the version of the case: the desk would compare
// nothing.
func (f *form) needVersion() {
	if f.rev() == 0 {
		f.problems = append(f.problems, templates.Problem{Text: "The page was sent without its version. Open it again."})
	}
}

// kept answers POST /infants/:ref/bookings/:n/kept: the family came. A booking that was
// marked as missed by mistake is put right the same way.
func (s *server) kept(c Ctx) error {
	o, i, err := s.loadBooking(c, true)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	if f.needVersion(); !f.ok() {
		return cases.Errorf(cases.Refused, "%s", f.problems[0].Text)
	}
	if _, err := s.places.Kept(c.Request().Context(), actorOf(c), o.c.ID, f.rev(), i); err != nil {
		return s.conflict(c, err, f, "the mark", action(c), "/infants/"+o.c.Reference, nil)
	}
	return s.saved(c, back(c, o.c.Reference), templates.Notice{Head: "Marked as kept", Text: infantName(&o.c.Infant) + ", " + o.c.Reference + ".",
		LinkText: "Record the test", Link: testPath(&o.c, &o.c.Bookings[i])})
}
