package schedule

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// place judges an ask for a case and gives the booking that it becomes. moved is the
// booking that is given up for it, which does not stand in its own way.
func (d *Desk) place(w cases.Writer, c *cases.Case, ask Ask, moved *cases.Booking) (cases.Booking, error) {
	var none cases.Booking
	site, known, err := siteFor(w, &ask)
	if err != nil {
		return none, err
	}
	a := d.protocol.Assess(c, w.Today())
	if err := mayBook(c, &a, ask.On); err != nil {
		return none, err
	}
	b := cases.Booking{On: ask.On, At: ask.At, Site: ask.Site, State: "booked", Changed: w.Today(), Made: w.Today(), Reason: ask.Reason}
	if ask.ByHand {
		b.Minutes, err = d.byHand(w, c, &site, known, ask)
	} else {
		b.Session, b.Minutes, err = d.inSession(w, c, &a, &site, ask, moved)
	}
	if err != nil {
		return none, err
	}
	if against := Against(d.protocol, c, &site, ask.On); len(against) > 0 {
		if err := ask.Override.answers(c, ask.On, against); err != nil {
			return none, err
		}
		b.OverrideBy, b.OverrideReason = ask.Override.By, ask.Override.Reason
		b.Reason = inSpiteOf(ask.Reason, strings.Join(against, "; "), ask.Override)
	}
	return b, nil
}

// inSession finds the place that is asked for free, and gives its session and length.
func (d *Desk) inSession(r cases.Reader, c *cases.Case, a *cases.Assessment, site *Site, ask Ask, moved *cases.Booking) (id string, minutes int, err error) {
	s, i, err := findPlace(r, d.protocol.Calendar(), site, ask)
	if err != nil {
		return "", 0, err
	}
	return s.ID, s.Minutes, d.free(r, &s, i, c, a, moved)
}

// MayBook refuses what nobody can lift, before a day is asked for: a closed case, a
// death, a refusal, a case that was handed over.
func MayBook(c *cases.Case, a *cases.Assessment) error { return mayBook(c, a, 0) }

// mayBook refuses what nobody can lift: a closed case, a death, a refusal, a second
// test on one day. A CRMS/CFSPID infant comes back for its re-tests while closed.
func mayBook(c *cases.Case, a *cases.Assessment, on cases.Day) error {
	switch {
	case c.Infant.Died != 0:
		return cases.Errorf(cases.Refused, "The death of this infant is recorded. Nothing is booked.")
	case a.Closed && a.ClosedAs != "crms-cfspid":
		return cases.Errorf(cases.Refused, "%s is closed. Reopen the case first.", c.Reference)
	case a.Supports.Has(cases.SupMoved):
		return cases.Errorf(cases.Refused, "%s was handed over. The program that took over books the test.", c.Reference)
	case c.Declined != nil && c.Declined.WithdrawnOn == 0:
		return cases.Errorf(cases.Refused, "The family of %s declined the test on %s. Record first that they changed their mind.", c.Reference, sayDay(c.Declined.On))
	case slices.ContainsFunc(c.SweatTests, func(t cases.SweatTest) bool { return t.On == on }):
		return cases.Errorf(cases.Refused, "%s was tested on %s. A repeat is on another day.", c.Reference, sayDay(on))
	}
	return nil
}

// findPlace finds the session that has a place at the time asked for.
func findPlace(r cases.Reader, cal cases.Calendar, site *Site, ask Ask) (Session, int, error) {
	var none Session
	if ask.On <= 0 {
		return none, 0, cases.FieldError("on", "Select a day")
	}
	if passed(r, ask.On, ask.At) {
		return none, 0, cases.FieldError("on", "The place on %s at %s has passed; select a later one", sayDay(ask.On), ask.At)
	}
	if open, why := site.Open(ask.On, cal); !open {
		return none, 0, cases.FieldError("on", "%s is closed on %s: %s", site.Name, sayDay(ask.On), why)
	}
	list, err := Sessions(r, site.Key, ask.On, ask.On)
	if err != nil {
		return none, 0, err
	}
	cancelled := false
	for _, s := range list {
		if i := s.PlaceAt(ask.At); i >= 0 && !s.Cancelled {
			return s, i, nil
		}
		cancelled = cancelled || s.Cancelled
	}
	text := "%s has no session with a place on %s at %s. Select a place of a session."
	if cancelled {
		text = "%s cancelled its session on %s; there is no place at %s. Select a place of another session."
	}
	return none, 0, cases.Errorf(cases.Refused, text, site.Name, sayDay(ask.On), ask.At)
}

// passed tells whether a time of a day has come; without a time, whether the day has
// begun.
func passed(r cases.Reader, on cases.Day, at cases.Clock) bool {
	if on != r.Today() {
		return on < r.Today()
	}
	return at <= clockNow(r)
}

// free refuses a place that somebody has, or that is kept for repeats, and says which
// place fits next.
func (d *Desk) free(r cases.Reader, s *Session, i int, c *cases.Case, a *cases.Assessment, moved *cases.Booking) error {
	places, err := BookedIn(r, s)
	if err != nil {
		return err
	}
	taken := slices.ContainsFunc(places[i], func(b cases.Booked) bool {
		return moved == nil || b.Case != c.ID || b.On != moved.On || b.At != moved.At
	})
	switch {
	case taken:
		return &cases.Error{Kind: cases.Conflict, Field: "at", Text: "That place was taken a moment ago. " + d.nextFitting(r, c, a)}
	case s.KeptForRepeats(i) && (a.Repeat == nil || a.Closed):
		return &cases.Error{Kind: cases.Refused, Field: "at", Text: fmt.Sprintf(
			"The place on %s at %s is kept for repeats. %s", sayDay(s.On), s.At(i), d.nextFitting(r, c, a))}
	}
	return nil
}

// lookAhead is how far the next fitting place is looked for, in days.
const lookAhead = 56

// nextFitting says in words which place fits next.
func (d *Desk) nextFitting(r cases.Reader, c *cases.Case, a *cases.Assessment) string {
	const other = "Select another place."
	w, waits := WaitOf(c, a, d.protocol)
	if !waits {
		return other
	}
	b, err := ReadBoard(r, d.protocol, lookAhead, d.Centroids)
	if err != nil {
		return other // what was asked for is refused all the same
	}
	o := b.Offer(&w)
	if len(o.Offers) == 0 {
		return o.None
	}
	return "The next fitting place is " + o.Offers[0].Places[0].Say() + "."
}

// ReadBoard reads the free places of every site on the days ahead, today included.
func ReadBoard(r cases.Reader, p *cases.Protocol, ahead int, ways Centroids) (*Board, error) {
	q := Query{Today: r.Today(), Now: clockNow(r), Calendar: p.Calendar(), Centroids: ways, Planning: p.Planning}
	var err error
	if q.Sites, err = Sites(r); err != nil {
		return nil, err
	}
	last := q.Today + cases.Day(ahead)
	for i := range q.Sites {
		key := q.Sites[i].Key
		list, err := Sessions(r, key, q.Today, last)
		if err != nil {
			return nil, err
		}
		q.Sessions = append(q.Sessions, list...)
		for b, err := range r.BookedAt(key, q.Today, last) {
			if err != nil {
				return nil, err
			}
			q.Taken = append(q.Taken, b)
		}
	}
	return NewBoard(q), nil
}

func clockNow(r cases.Reader) cases.Clock { return cases.Clock(r.Now().Format("15:04")) }
