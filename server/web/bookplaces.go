package web

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// Places are looked for in these weeks; the list of every free place is cut.
const (
	placesAhead = 7 * weeksAhead
	mostPlaces  = 200
)

// bySessions tells which sites have sessions in the weeks ahead; only these offer
// places, and they are not booked by hand.
func bySessions(r cases.Reader) (map[string]bool, error) {
	list, err := booking.Sites(r)
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for i := range list {
		if out[list[i].Key], err = booking.HasSessions(r, list[i].Key, r.Today()); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// bookedBySession tells whether a site is booked by the places of its sessions.
func (s *server) bookedBySession(c Ctx, key string) (yes bool, err error) {
	err = s.view(c, func(r cases.Reader) error {
		of, err := bySessions(r)
		yes = of[key]
		return err
	})
	return yes, err
}

// addPlaces puts the offers and the free places of sessions on a booking page.
func (s *server) addPlaces(c Ctx, p *templates.BookPage, o *opened, f *form, moving int) error {
	return s.view(c, func(r cases.Reader) error {
		of, err := bySessions(r)
		if err != nil || !slices.Contains(slices.Collect(maps.Values(of)), true) {
			return err
		}
		b, err := booking.ReadBoard(r, s.protocol(), placesAhead, s.places.Centroids)
		if err != nil {
			return err
		}
		at, form, from := "/infants/"+o.c.Reference, "/book", fromQuery(c)
		if moving >= 0 {
			at, form = fmt.Sprintf("%s/bookings/%d", at, moving), "/move"
		}
		part := &templates.PlacesPart{Action: at + "/place" + from, Button: p.Button}
		p.Action = at + form + from
		s.offer(part, b, o, moving)
		part.Pick = f.group(freePlaces(b, mayUseKept(o)))
		p.Places = part
		p.Site.Options = slices.DeleteFunc(p.Site.Options, func(x templates.Option) bool { return of[x.Value] })
		p.ByHand = slices.ContainsFunc(p.Site.Options, func(x templates.Option) bool { return x.Value != "" })
		return nil
	})
}

// offer fills in the three earliest places, for twins together where that goes.
func (s *server) offer(part *templates.PlacesPart, b *booking.Board, o *opened, moving int) {
	w, waits := s.waitOf(o, moving)
	if !waits {
		part.None = "No place is looked for: the infant is booked, or a result or a decision comes first. Select a free place below where it is needed all the same."
		return
	}
	var found booking.Offers
	if twin := s.unbookedTwin(o); twin != nil && moving < 0 {
		a := s.protocol().Assess(twin, o.today)
		if w2, ok := booking.WaitOf(twin, &a, s.protocol()); ok && len(booking.Twins([]booking.Wait{w, w2})) == 1 {
			found = b.Offer(&w, &w2)
			part.Note = fmt.Sprintf("Twins: %s (%s) is booked too, in the place that follows.", infantName(&twin.Infant), twin.Reference)
			part.Twin = uint64(twin.Rev)
			if len(found.Offers) == 0 {
				part.Note = fmt.Sprintf("No two places that follow each other fit both twins; %s (%s) is booked alone.", infantName(&twin.Infant), twin.Reference)
				part.Twin = 0
			}
		}
	}
	if twin, _ := bookedSibling(o); twin != nil {
		part.Note = "The other infant of the birth is booked: " + s.bookingWords(twin) + "."
	}
	if part.Twin == 0 {
		found = b.Offer(&w)
	}
	part.None = found.None
	for i := range found.Offers {
		part.Offers = append(part.Offers, s.placeOffer(&found.Offers[i]))
	}
}

// waitOf says what an infant waits for; the booking that moves is not in its way.
func (s *server) waitOf(o *opened, moving int) (booking.Wait, bool) {
	if moving < 0 {
		return booking.WaitOf(&o.c, &o.a, s.protocol())
	}
	k := o.c.Clone()
	k.Bookings[moving].State = "cancelled"
	a := s.protocol().Assess(&k, o.today)
	return booking.WaitOf(&k, &a, s.protocol())
}

// mayUseKept tells whether the infant comes for a repeat.
func mayUseKept(o *opened) bool { return o.a.Repeat != nil && !o.a.Closed }

func (s *server) placeOffer(x *booking.Offer) templates.PlaceOffer {
	first := &x.Places[0]
	out := templates.PlaceOffer{Value: placeValue(first), Say: shown(first.Say()), Why: x.Why}
	for i := range x.Places[1:] {
		out.Value += " " + string(x.Places[i+1].At)
		out.Say += ", and " + string(x.Places[i+1].At) + " for the twin"
	}
	if x.Km != nil {
		out.Far = fmt.Sprintf("About %.0f km from the family in a straight line", *x.Km)
	}
	if x.DaysLate > 0 {
		out.Late = templates.Tag{Kind: "late", Text: templates.Days(x.DaysLate) + " late"}
	}
	return out
}

// placeValue is how a place is sent: alder-bay 2026-03-06 09:30.
func placeValue(p *booking.Place) string {
	return p.Site.Key + " " + p.On().String() + " " + string(p.At)
}

// freePlaces is the select of every free place that the infant may have.
func freePlaces(b *booking.Board, kept bool) templates.Choice {
	c := templates.Choice{ID: "place", Legend: "Free places in the next 8 weeks"}
	for i := range b.Places {
		p := &b.Places[i]
		if p.Kept && !kept || len(c.Options) > mostPlaces {
			continue
		}
		if len(c.Options) == 0 {
			c.Options = append(c.Options, templates.Option{Text: "Choose a place"})
		}
		c.Options = append(c.Options, templates.Option{Value: placeValue(p), Text: shown(p.Say())})
	}
	return c
}

// bookPlace answers POST /infants/:ref/place.
func (s *server) bookPlace(c Ctx) error { return s.takePlace(c, false) }

// movePlace answers POST /infants/:ref/bookings/:n/place.
func (s *server) movePlace(c Ctx) error { return s.takePlace(c, true) }

func (s *server) takePlace(c Ctx, moves bool) error {
	o, i, err := s.loadBooking(c, moves)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	asks := f.readPlace(s, &o)
	held := &templates.HeldPlace{Value: f.typed("place"), Button: "Book"}
	var list []templates.Warning
	if o.a.Clocks.FamilyReached.MetOn == 0 {
		list = append(list, templates.Warning{ID: "family-not-reached", Text: "No talk with the family is recorded.", Tick: "Book it all the same; the contact will be logged"})
	}
	goOn, reason := f.goOn(list, "Why it is booked all the same")
	held.GoOn = goOn
	if reason != "" {
		reason = "Booked in spite of: " + warningIDs(list) + ". " + reason
	}
	if moves {
		held.Button = "Move"
		why := f.need("why", "Why it moves", "Enter why the booking moves", 300)
		field := f.field(templates.Field{ID: "why", Label: "Why it moves", Width: "w20"})
		held.Why, reason = &field, strings.TrimSpace(why+" "+reason)
	}
	over := f.readOverride()
	for k := range asks {
		asks[k].Reason, asks[k].Override = reason, over
	}
	if !f.ok() {
		return s.placeProblem(c, &o, f, i, held, asks, http.StatusUnprocessableEntity)
	}
	err = s.submit(c, f, back(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		return s.savePlace(ctx, actorOf(c), &o, i, asks)
	})
	return s.refusePlace(c, &o, f, i, held, asks, err)
}

// readPlace reads a place as placeValue wrote it, with a second time for a twin.
func (f *form) readPlace(s *server, o *opened) []booking.Ask {
	parts := strings.Fields(f.typed("place"))
	if f.rev() == 0 { // without it the desk would compare nothing
		f.fail("place", "The page was sent without its version. Open it again and select a place")
		return nil
	}
	if len(parts) < 3 || len(parts) > 4 {
		f.fail("place", "Select a place")
		return nil
	}
	on, err := cases.ParseDay(parts[1])
	at, err2 := cases.ParseClock(parts[2])
	if err != nil || err2 != nil {
		f.fail("place", "Select a place")
		return nil
	}
	asks := []booking.Ask{{Case: o.c.ID, Rev: f.rev(), Site: parts[0], On: on, At: at}}
	if len(parts) == 3 {
		return asks
	}
	twin := s.unbookedTwin(o)
	second, err := cases.ParseClock(parts[3])
	rev, err2 := strconv.ParseUint(f.typed("twin-rev"), 10, 63)
	if err != nil || err2 != nil || rev == 0 || twin == nil {
		f.fail("place", "The twin needs no place any more. Select a place for this infant")
		return asks
	}
	return append(asks, booking.Ask{Case: twin.ID, Rev: cases.Rev(rev), Site: parts[0], On: on, At: second})
}

// readOverride reads who decided to book all the same, and why; nil when nothing was
// typed and the domain has not asked.
func (f *form) readOverride() *booking.Override {
	by, why := f.text("override-by", "Who decided", 120), f.text("override-reason", "Why", 300)
	if _, asked := f.values["override-by"]; !asked {
		return nil
	}
	return &booking.Override{By: by, Reason: why}
}

// savePlace books the places, or moves booking i to the one place.
func (s *server) savePlace(ctx context.Context, who cases.Actor, o *opened, i int, asks []booking.Ask) (n templates.Notice, err error) {
	var list []cases.Case
	n.Head = "Booked"
	if i >= 0 {
		var k cases.Case
		n.Head = "Booking moved"
		k, err = s.places.Move(ctx, who, i, asks[0])
		list = []cases.Case{k}
	} else {
		list, err = s.places.Book(ctx, who, asks...)
	}
	if err != nil {
		return n, err
	}
	for k := range list {
		b := &list[k].Bookings[len(list[k].Bookings)-1]
		n.Text += fmt.Sprintf("%s, %s: %s. ", infantName(&list[k].Infant), list[k].Reference, s.bookingWords(b))
	}
	n.Text, n.LinkText, n.Link = strings.TrimSpace(n.Text), "Open the infant", "/infants/"+o.c.Reference
	return n, nil
}

// refusePlace answers what the domain would not book: a place that is gone with the
// next that fits, an infant that is not ready with the fields of the override.
func (s *server) refusePlace(c Ctx, o *opened, f *form, i int, held *templates.HeldPlace, asks []booking.Ask, err error) error {
	var e *cases.Error
	var ch *cases.Changed
	if err == nil || errors.As(err, &ch) || !errors.As(err, &e) {
		return s.refuse(c, f, nil, err, sent{"the booking", []labelled{{"place", "Place"}, {"why", "Why it moves"}, {"go-on-why", "Why it is booked all the same"}, {"override-by", "Who decided"}, {"override-reason", "Why"}}, nil})
	}
	switch {
	case e.Kind == cases.Refused && e.Field == booking.NeedsOverride:
		f.problems = append(f.problems, templates.Problem{Field: "override-by", Text: e.Text})
		held.Refused = e.Text
	case e.Field == "override.by" || e.Field == "override.reason":
		f.fail(strings.ReplaceAll(e.Field, ".", "-"), "%s", faultText(e))
		held.Refused = "Readiness or the site speaks against this day. A named person may decide to book all the same."
	case e.Kind == cases.Conflict || e.Kind == cases.Refused || e.Kind == cases.Invalid:
		f.problems = append(f.problems, templates.Problem{Text: faultText(e)})
		return s.placeProblem(c, o, f, i, nil, asks, http.StatusConflict)
	default:
		return err
	}
	return s.placeProblem(c, o, f, i, held, asks, http.StatusUnprocessableEntity)
}

// faultText is what an error says: its first fault, or its text.
func faultText(e *cases.Error) string {
	if len(e.Faults) > 0 {
		return sentence(e.Faults[0].Reason)
	}
	return e.Text
}

// placeProblem shows the page again: what is wrong, and the place that was asked for
// with what it needs.
func (s *server) placeProblem(c Ctx, o *opened, f *form, i int, held *templates.HeldPlace, asks []booking.Ask, status int) error {
	p, err := s.bookPage(c, o, f, i)
	if err != nil {
		return err
	}
	if p.Places == nil { // the last session was cancelled meanwhile
		f.problems = append(f.problems, templates.Problem{Text: "No site has sessions ahead any more. Book by hand."})
		held = nil
	}
	if held != nil && len(asks) > 0 && f.errs["place"] == "" {
		held.Say = date(asks[0].On).Weekday() + ", " + string(asks[0].At) + ", " + s.siteName(asks[0].Site)
		if held.Refused != "" || f.errs["override-by"]+f.errs["override-reason"] != "" || f.typed("override-by") != "" {
			held.Refused = or(held.Refused, "Readiness or the site speaks against this day.")
			held.Button += " all the same"
			held.By = f.field(templates.Field{ID: "override-by", Label: "Who decided", Hint: "Name and role", Width: "w20", NoSpell: true})
			held.Reason = f.field(templates.Field{ID: "override-reason", Label: "Why", Width: "w20"})
		}
		p.Places.Held, p.ByHand = held, false
		if len(asks) > 1 {
			held.Say += ", and " + string(asks[1].At) + " for the twin"
			p.Places.Twin = uint64(asks[1].Rev)
		}
	}
	p.Problems = f.problems
	return s.render(c, status, p)
}
