package schedule

import (
	"slices"
	"strings"

	"dunlin/cases"
)

// Stranded gives the bookings of a site on from to to that have to be moved by hand:
// their session was cancelled by the site, or the site is closed that day.
func Stranded(r cases.Reader, cal cases.Calendar, site string, from, to cases.Day) ([]cases.Booked, error) {
	at, err := SiteByKey(r, site)
	if err != nil {
		return nil, err
	}
	list, err := Sessions(r, site, from, to)
	if err != nil {
		return nil, err
	}
	var out []cases.Booked
	for b, err := range r.BookedAt(site, from, to) {
		if err != nil {
			return nil, err
		}
		if at.strands(list, cal, b.On, b.At) != "" {
			out = append(out, b)
		}
	}
	return out, nil
}

// StrandedWhy says why nobody can come to a booking as it stands, in words that begin a
// sentence; "" when one can. A site that the store does not know strands nobody.
func StrandedWhy(r cases.Reader, cal cases.Calendar, b *cases.Booking) (string, error) {
	at, err := SiteByKey(r, b.Site)
	if err != nil {
		if cases.KindOf(err) == cases.NotFound {
			return "", nil
		}
		return "", err
	}
	list, err := Sessions(r, b.Site, b.On, b.On)
	if err != nil {
		return "", err
	}
	return at.strands(list, cal, b.On, b.At), nil
}

func (s *Site) strands(list []Session, cal cases.Calendar, on cases.Day, at cases.Clock) string {
	if open, why := s.Open(on, cal); !open {
		return "The site is closed that day: " + why
	}
	gone := ""
	for i := range list {
		k := &list[i]
		switch {
		case k.On != on || k.over(at) < 0:
		case !k.Cancelled:
			return ""
		case k.Note != "":
			gone = "The session was cancelled: " + k.Note
		default:
			gone = "The session was cancelled"
		}
	}
	return gone
}

// NoPlaceToCome is StrandedWhy as the reason why a letter or message that calls a family
// to a booking must not go; "" when it may.
func NoPlaceToCome(r cases.Reader, cal cases.Calendar, b *cases.Booking) (string, error) {
	why, err := StrandedWhy(r, cal, b)
	if why == "" || err != nil {
		return "", err
	}
	return "there is no session to come to (" + strings.ToLower(why[:1]) + why[1:] + "); move the booking", nil
}

// HoldStranded holds, in the caller's transaction, the letters and messages not out yet
// that call families to a site on from to to where nobody can come any more. It is for
// whoever closes days of a site; PutSessions does it for sessions that it cancels.
func HoldStranded(w cases.Writer, cal cases.Calendar, site string, from, to cases.Day) error {
	from = max(from, w.Today())
	if !anyBooked(w, site, from, to) { // a table of many sites does not read them all for each
		return nil
	}
	list, err := Stranded(w, cal, site, from, to)
	if err != nil {
		return err
	}
	var done []cases.ID
	for _, b := range list {
		if slices.Contains(done, b.Case) {
			continue
		}
		done = append(done, b.Case)
		if err := holdCalls(w, cal, b.Case); err != nil {
			return err
		}
	}
	return nil
}

// anyBooked tells whether a site has a booking on from to to; one that cannot be read counts.
func anyBooked(r cases.Reader, site string, from, to cases.Day) bool {
	for range r.BookedAt(site, from, to) {
		return true
	}
	return false
}

func holdCalls(w cases.Writer, cal cases.Calendar, id cases.ID) error {
	c, err := w.Case(id)
	if err != nil {
		return err
	}
	c = c.Clone()
	changed, err := cases.HoldCalls(w, &c, func(b *cases.Booking) (string, error) { return NoPlaceToCome(w, cal, b) })
	if err != nil || !changed {
		return err
	}
	_, err = w.PutCase(c, cases.Event{Kind: "letter-held", Text: "Letters held: there is no session to come to"})
	return err
}
