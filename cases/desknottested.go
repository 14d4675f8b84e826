package cases

import (
	"context"
	"strings"
)

// NotTested is what is recorded when an infant came for a sweat test and was not
// tested: everything found on the visit, in one go.
type NotTested struct {
	On      Day    // the day of the visit; 0 is today
	Reason  string // in words, for the booking and the history
	Hold    string // reason of the hold that it implies; "" for none
	Until   Day    // first day without the hold, where known
	Look    Day    // day to ask again, where known
	WeightG float64
	Contact *Contact // the talk with the family; nil when there was none
	Note    string   // further words, kept as a note
}

// NotTested records that an infant came and was not tested. The booking of that day
// that is still booked or kept is cancelled with the reason: a kept one would wait for
// a result that never comes. A hold, a weight, a contact and a note are added where
// the visit gave them. All or nothing is written.
func (d *Desk) NotTested(ctx context.Context, a Actor, id ID, rev Rev, x NotTested) (Case, error) {
	if x.Hold != "" {
		if err := a.need(PlaceHolds); err != nil {
			return Case{}, err
		}
	}
	ev := Event{Kind: "not-tested", Text: "Came, not tested", Reason: x.Reason}
	return d.Change(ctx, a, RecordTests, id, rev, ev, func(c *Case, today Day) error {
		if strings.TrimSpace(x.Reason) == "" {
			return FieldError("reason", "Select why no test was made")
		}
		if x.On == 0 {
			x.On = today
		}
		for i := range c.SweatTests {
			if c.SweatTests[i].On == x.On {
				return Errorf(Refused, "A sweat test of %s is on file. Change or void that test instead.", x.On)
			}
		}
		x.apply(c, a, today)
		return nil
	})
}

// apply adds to the case what the visit gave.
func (x *NotTested) apply(c *Case, a Actor, today Day) {
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if b.On != x.On || b.State != "booked" && b.State != "kept" {
			continue
		}
		b.State, b.Changed, b.Reason = "cancelled", today, "Came, not tested: "+x.Reason
		if b.UID != "" {
			b.Sequence++ // calendars take the cancellation only as a newer version
		}
	}
	if x.WeightG != 0 {
		c.Infant.Weights = append(c.Infant.Weights, Weight{On: x.On, G: x.WeightG, By: a.Name})
	}
	if x.Hold != "" {
		x.hold(c)
	}
	if k := x.Contact; k != nil {
		k.On, k.With, k.Staff = x.On, "family", a.Name
		c.Contacts = append(c.Contacts, *k)
	}
	if x.Note != "" {
		c.Notes = append(c.Notes, Note{On: today, By: a.Name, Text: x.Note})
	}
}

// hold opens the hold, or gives the open one of the same reason its new days.
func (x *NotTested) hold(c *Case) {
	for i := range c.Holds {
		h := &c.Holds[i]
		if h.Reason == x.Hold && h.openOn(x.On) {
			if x.Until != 0 {
				h.Until = x.Until
			}
			if x.Look != 0 {
				h.LookAgain = x.Look
			}
			return
		}
	}
	c.Holds = append(c.Holds, Hold{Reason: x.Hold, From: x.On, Until: x.Until, LookAgain: x.Look, Note: x.Reason})
}

// HoldRepeat records a clinician's word that no day is set for a repeat now, and
// when to look again. It is a hold, so the case keeps a step with a due day and its
// clocks run on.
func (d *Desk) HoldRepeat(ctx context.Context, a Actor, id ID, rev Rev, by, why string, look Day) (Case, error) {
	ev := Event{Kind: "repeat-put-off", Text: "No repeat date set, decided by " + by, Reason: why}
	return d.Change(ctx, a, PlaceHolds, id, rev, ev, func(c *Case, today Day) error {
		switch {
		case by == "":
			return FieldError("by", "Enter the clinician who decided")
		case why == "":
			return FieldError("reason", "Enter the clinician's reason")
		case look <= today:
			return FieldError("look_again", "Look again on must be after today")
		}
		c.Holds = append(c.Holds, Hold{Reason: "other", From: today, LookAgain: look, Note: "No repeat date, decided by " + by + ": " + why})
		return nil
	})
}
