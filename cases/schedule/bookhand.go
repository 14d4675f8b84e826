package schedule

import (
	"fmt"
	"slices"

	"dunlin/cases"
)

// handMinutes is the length of a booking made by hand, in minutes: two arms one after
// the other, about 5 of induction and 30 of collection each (protocol.md, collection),
// and time to say who it is. A choice of this project; it fills calendars only.
const handMinutes = 75

// handAhead is how far ahead a day may be typed: further is a mistyped year.
const handAhead = 366

// byHand judges a day and time as typed, at a site without sessions, and gives their
// length. A site that has sessions is booked by its places, so that none is bypassed.
func (d *Desk) byHand(r cases.Reader, c *cases.Case, site *Site, known bool, ask Ask) (minutes int, err error) {
	switch {
	case ask.At == "":
		return 0, cases.FieldError("at", "Enter the time")
	case ask.On <= 0:
		return 0, cases.FieldError("on", "Enter the day")
	case ask.On < r.Today(): // earlier today may be entered: a family that came unannounced
		return 0, cases.FieldError("on", "%s has passed; enter today or a later day", sayDay(ask.On))
	case ask.On > r.Today()+handAhead:
		return 0, cases.FieldError("on", "%s is more than a year ahead. Check the year", sayDay(ask.On))
	}
	if known {
		if open, why := site.Open(ask.On, d.protocol.Calendar()); !open {
			return 0, cases.FieldError("on", "%s is closed on %s: %s", site.Name, sayDay(ask.On), why)
		}
	}
	has, err := HasSessions(r, site.Key, ask.On)
	if err != nil {
		return 0, err
	}
	if has {
		return 0, cases.FieldError("site", "%s has sessions. Select one of its places", or(site.Name, site.Key))
	}
	for b, err := range r.BookedAt(site.Key, ask.On, ask.On) {
		if err != nil {
			return 0, err
		}
		if b.At == ask.At && slices.Contains(c.Siblings, b.Reference) {
			return 0, cases.FieldError("at", "%s, of the same birth, has that time. Twins need different times, so that samples cannot be swapped", b.Reference)
		}
	}
	return handMinutes, nil
}

// HasSessions tells whether a site is booked by the places of its sessions: it has some
// in the 8 weeks from today, or on that day.
func HasSessions(r cases.Reader, site string, on cases.Day) (bool, error) {
	list, err := Sessions(r, site, r.Today(), r.Today()+lookAhead)
	if err != nil {
		return false, err
	}
	if on > r.Today()+lookAhead {
		that, err := Sessions(r, site, on, on)
		if err != nil {
			return false, err
		}
		list = append(list, that...)
	}
	return slices.ContainsFunc(list, func(s Session) bool { return !s.Cancelled }), nil
}

// siteFor reads the site that is asked for. One that the store does not know stands in
// the program's settings and can be booked by hand only.
func siteFor(r cases.Reader, ask *Ask) (site Site, known bool, err error) {
	site, err = SiteByKey(r, ask.Site)
	if err != nil && ask.ByHand && cases.KindOf(err) == cases.NotFound && ask.Site != "" {
		return Site{Key: ask.Site, Name: ask.Site}, false, nil
	}
	return site, err == nil, err
}

func or(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// inSpiteOf is the reason of a booking that a named person answers for.
func inSpiteOf(reason, against string, o *Override) string {
	out := fmt.Sprintf("Booked in spite of: %s. %s (%s)", against, o.Reason, o.By)
	if reason != "" {
		out = reason + " " + out
	}
	return out
}
