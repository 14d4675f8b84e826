package schedule

import (
	"context"
	"slices"
	"strings"

	"dunlin/cases"
)

// Desk holds the use cases of bookings: each is one transaction that compares the
// revision the person saw, finds the place free, and writes the case with its audit
// entry, or changes nothing. So two nurses who press at once cannot get one place.
type Desk struct {
	store    cases.Store
	protocol *cases.Protocol

	// Centroids tell how far families live from the sites, for the next place that is
	// named when one is gone; nil leaves distance out.
	Centroids Centroids
}

// NewDesk makes a desk over a store with the program's protocol.
func NewDesk(s cases.Store, p *cases.Protocol) *Desk { return &Desk{store: s, protocol: p} }

// Ask asks for one place: a start time of a session, or a time by hand.
type Ask struct {
	Case     cases.ID
	Rev      cases.Rev // of the case as the person saw it; 0: whatever it is
	Site     string
	On       cases.Day
	At       cases.Clock
	Reason   string    // as typed, where there is one
	ByHand   bool      // a day and time as typed, at a site without sessions
	Override *Override // needed when something speaks against the day
}

// Override is a named person's word that an infant is booked although readiness or
// the site speaks against it, and why (guideline exceptions differ by program).
type Override struct {
	By, Reason string

	// Seen is the mark (SeenOf) of what spoke against the day when the person answered
	// for it; when something else does by now, the person is asked again. "" answers for
	// whatever speaks against it.
	Seen string
}

// NeedsOverride is the Field of the Refused error that an Override lifts.
const NeedsOverride = "override"

// Book books the places asked for, all or none: one infant, or twins at one session.
// The error is Conflict when a place was taken meanwhile, and Refused with Field
// NeedsOverride when the infant would not be ready on that day.
func (d *Desk) Book(ctx context.Context, a cases.Actor, asks ...Ask) ([]cases.Case, error) {
	if err := a.Need(cases.BookTests); err != nil {
		return nil, err
	}
	if err := oneSession(asks); err != nil {
		return nil, err
	}
	var out []cases.Case
	err := d.store.Update(ctx, a, func(w cases.Writer) error {
		out = out[:0]
		for _, ask := range asks {
			c, err := d.book(w, a, ask)
			if err != nil {
				return err
			}
			out = append(out, c)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// oneSession refuses to book several infants in one go on different days or sites:
// only twins are booked together, and they come together.
func oneSession(asks []Ask) error {
	for i := range asks {
		if asks[i].On != asks[0].On || asks[i].Site != asks[0].Site {
			return cases.FieldError("on", "Infants booked together come to one site on one day")
		}
		for j := range i {
			if asks[j].At == asks[i].At {
				return cases.FieldError("at", "Each twin needs a place of its own")
			}
		}
	}
	if len(asks) == 0 {
		return cases.FieldError("at", "Select a place")
	}
	return nil
}

func (d *Desk) book(w cases.Writer, a cases.Actor, ask Ask) (cases.Case, error) {
	c, err := w.Case(ask.Case)
	if err != nil {
		return c, err
	}
	ev := cases.Event{Kind: "test-booked", Reason: ask.Reason}
	var b cases.Booking
	if ask.Rev == 0 || ask.Rev == c.Rev {
		if err := noOpenBooking(w, &c); err != nil {
			return c, err
		}
		if b, err = d.place(w, &c, ask, nil); err != nil {
			return c, err
		}
		b.By, b.UID = a.Name, strings.ToLower(w.NewID())
		ev.Text, ev.Reason = "Test booked for "+cases.BookingOccasion(&b), b.Reason
	}
	return cases.ChangeIn(w, d.protocol, ask.Case, ask.Rev, ev, func(c *cases.Case, _ cases.Day) error {
		c.Bookings = append(c.Bookings, b)
		return nil
	})
}

// Move gives up booking i, which is booked, for another place. The appointment keeps
// its UID in calendars and its sequence is raised.
func (d *Desk) Move(ctx context.Context, a cases.Actor, i int, to Ask) (cases.Case, error) {
	ev := cases.Event{Kind: "booking-moved", Reason: to.Reason}
	return d.change(ctx, a, to.Case, to.Rev, i, &ev, func(w cases.Writer, c *cases.Case) error {
		old := &c.Bookings[i]
		switch {
		case old.State != "booked":
			return cases.Errorf(cases.Refused, "That booking is %s and cannot be moved.", old.State)
		case to.Reason == "":
			return cases.FieldError("bookings.reason", "Enter why the booking moves")
		case old.On == to.On && old.At == to.At && old.Site == to.Site:
			return cases.Errorf(cases.Refused, "The infant is booked for that place already.")
		}
		before := *old
		old.Become("cancelled", w.Today())
		old.Reason = to.Reason
		if err := noOpenBooking(w, c); err != nil {
			return err
		}
		b, err := d.place(w, c, to, &before)
		if err != nil {
			return err
		}
		b.By, b.UID, b.Sequence = a.Name, before.UID, before.Sequence+1
		if b.UID == "" {
			b.UID, b.Sequence = strings.ToLower(w.NewID()), 0
		}
		c.Bookings = append(c.Bookings, b)
		ev.Text, ev.Reason = "Booking moved to "+cases.BookingOccasion(&b), b.Reason
		return nil
	})
}

// Cancel cancels booking i, which is booked, for a reason.
func (d *Desk) Cancel(ctx context.Context, a cases.Actor, id cases.ID, rev cases.Rev, i int, reason string) (cases.Case, error) {
	ev := cases.Event{Kind: "booking-cancelled", Text: "Booking cancelled", Reason: reason}
	return d.change(ctx, a, id, rev, i, &ev, func(w cases.Writer, c *cases.Case) error {
		b := &c.Bookings[i]
		switch {
		case b.State != "booked":
			return cases.Errorf(cases.Refused, "That booking is %s already.", b.State)
		case reason == "":
			return cases.FieldError("bookings.reason", "Enter why the booking is cancelled")
		}
		b.Become("cancelled", w.Today())
		b.Reason = reason
		if b.UID != "" {
			b.Sequence++
		}
		return nil
	})
}

// Kept records that the family came to booking i; a booking marked missed by mistake
// can be put right.
func (d *Desk) Kept(ctx context.Context, a cases.Actor, id cases.ID, rev cases.Rev, i int) (cases.Case, error) {
	return d.came(ctx, a, id, rev, i, "kept", "")
}

// Missed records that the family did not come to booking i, once its time has passed.
func (d *Desk) Missed(ctx context.Context, a cases.Actor, id cases.ID, rev cases.Rev, i int, reason string) (cases.Case, error) {
	return d.came(ctx, a, id, rev, i, "missed", reason)
}

func (d *Desk) came(ctx context.Context, a cases.Actor, id cases.ID, rev cases.Rev, i int, state, reason string) (cases.Case, error) {
	ev := cases.Event{Kind: "booking-" + state, Text: "Booking " + state, Reason: reason}
	return d.change(ctx, a, id, rev, i, &ev, func(w cases.Writer, c *cases.Case) error {
		b := &c.Bookings[i]
		switch {
		case b.State == "cancelled":
			return cases.Errorf(cases.Refused, "That booking was cancelled already.")
		case b.On > w.Today():
			return cases.Errorf(cases.Refused, "The booked day, %s, has not come yet.", sayDay(b.On))
		case (state == "missed" || b.State == "missed") && !passed(w, b.On, b.At):
			return cases.Errorf(cases.Refused, "The booked time, %s today, has not come yet.", b.At)
		}
		b.Become(state, w.Today())
		if reason != "" {
			b.Reason = reason
		}
		return nil
	})
}

// change lets f change a copy of the case with booking i, and writes it.
func (d *Desk) change(ctx context.Context, a cases.Actor, id cases.ID, rev cases.Rev, i int, ev *cases.Event, f func(cases.Writer, *cases.Case) error) (cases.Case, error) {
	if err := a.Need(cases.BookTests); err != nil {
		return cases.Case{}, err
	}
	var out cases.Case
	err := d.store.Update(ctx, a, func(w cases.Writer) error {
		old, err := w.Case(id)
		if err != nil {
			return err
		}
		c := old.Clone()
		if rev == 0 || rev == old.Rev {
			if i < 0 || i >= len(c.Bookings) {
				return cases.Errorf(cases.NotFound, "There is no such booking.")
			}
			if err := f(w, &c); err != nil {
				return err
			}
		}
		out, err = cases.ChangeIn(w, d.protocol, id, rev, *ev, func(x *cases.Case, _ cases.Day) error {
			x.Bookings = c.Bookings
			return nil
		})
		return err
	})
	return out, err
}

// noOpenBooking refuses a second open booking: one without a test on or after it.
func noOpenBooking(r cases.Reader, c *cases.Case) error {
	for i := range c.Bookings {
		b := &c.Bookings[i]
		done := slices.ContainsFunc(c.SweatTests, func(t cases.SweatTest) bool { return t.On >= b.On })
		if b.State == "booked" && !done {
			return cases.Errorf(cases.Refused, "%s is booked already: %s. Move or cancel that booking, or record that it was kept or missed.", c.Reference, sayBooking(r, b))
		}
	}
	return nil
}

func sayBooking(r cases.Reader, b *cases.Booking) string {
	out := sayDay(b.On)
	if b.At != "" {
		out += ", " + string(b.At)
	}
	if site, err := SiteByKey(r, b.Site); err == nil {
		out += ", " + site.Name
	} else if b.Site != "" {
		out += ", " + b.Site
	}
	return out
}
