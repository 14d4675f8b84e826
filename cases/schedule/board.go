package schedule

import (
	"cmp"
	"slices"
	"strings"

	"dunlin/cases"
)

// Place is one infant's seat in a session that nobody has.
type Place struct {
	Session *Session
	Site    *Site
	At      cases.Clock
	Number  int  // in the session, from 0
	Kept    bool // for repeats only
}

// On is the day of the place.
func (p *Place) On() cases.Day { return p.Session.On }

// Board is what offers and plans look at: the free places from now on, in the order
// of day, start, site and session.
type Board struct {
	Today  cases.Day
	Places []Place

	sites     []Site
	centroids Centroids
	values    cases.Planning
}

// Query is what a Board is made of. Places that started by Now on the day Today are
// gone, as are those of cancelled sessions and of days on which the site is closed.
type Query struct {
	Today     cases.Day
	Now       cases.Clock // "" counts the whole day as ahead
	Calendar  cases.Calendar
	Sites     []Site
	Sessions  []Session
	Taken     []cases.Booked // bookings that fill places
	Centroids Centroids
	Planning  cases.Planning // the zero value stands for the protocol's defaults
}

// NewBoard finds the free places.
func NewBoard(q Query) *Board {
	b := &Board{Today: q.Today, sites: slices.Clone(q.Sites), centroids: q.Centroids, values: q.Planning}
	if b.values == (cases.Planning{}) {
		b.values = cases.DefaultProtocol().Planning
	}
	slices.SortFunc(b.sites, func(x, y Site) int { return strings.Compare(x.Key, y.Key) })
	taken := make(map[siteDay][]int, len(q.Taken))
	for _, t := range q.Taken {
		if m, ok := minutesOf(t.At); ok {
			k := siteDay{t.Site, t.On}
			taken[k] = append(taken[k], m)
		}
	}
	sessions := slices.Clone(q.Sessions)
	for i := range sessions {
		s := &sessions[i]
		site := b.site(s.Site)
		if site == nil || s.Cancelled || s.On < q.Today {
			continue
		}
		if open, _ := site.Open(s.On, q.Calendar); !open {
			continue
		}
		for n := range s.Places {
			at := s.At(n)
			if at == "" || s.On == q.Today && at <= q.Now || s.filled(n, taken[siteDay{s.Site, s.On}]) {
				continue
			}
			b.Places = append(b.Places, Place{Session: s, Site: site, At: at, Number: n, Kept: s.KeptForRepeats(n)})
		}
	}
	slices.SortFunc(b.Places, comparePlaces)
	return b
}

type siteDay struct {
	site string
	on   cases.Day
}

// filled tells whether a booking begins within a place; one made by hand at a time
// within it takes it as well.
func (s *Session) filled(place int, taken []int) bool {
	start, _ := minutesOf(s.At(place))
	return slices.ContainsFunc(taken, func(m int) bool { return start <= m && m < start+s.Minutes })
}

// comparePlaces is the order in which places are looked at and ties are broken: day,
// start, site, session.
func comparePlaces(x, y Place) int {
	return cmp.Or(cmp.Compare(x.Session.On, y.Session.On), strings.Compare(string(x.At), string(y.At)),
		strings.Compare(x.Site.Key, y.Site.Key), strings.Compare(x.Session.ID, y.Session.ID))
}

func (b *Board) site(key string) *Site {
	i, ok := slices.BinarySearchFunc(b.sites, key, func(s Site, k string) int { return strings.Compare(s.Key, k) })
	if !ok {
		return nil
	}
	return &b.sites[i]
}

// home is where the family lives, by coordinates or by its postal code.
func (b *Board) home(w *Wait) (Point, bool) {
	if w.Home != nil {
		return *w.Home, true
	}
	if w.Postal == "" {
		return Point{}, false
	}
	return b.centroids.Find(w.Postal)
}

// where is the position of a site, by coordinates or by its postal code.
func (b *Board) where(s *Site) (Point, bool) {
	if s.Lat != nil && s.Lon != nil {
		return Point{*s.Lat, *s.Lon}, true
	}
	if s.Postal == "" {
		return Point{}, false
	}
	return b.centroids.Find(s.Postal)
}

// Distance is the way from the family to a site in km; false when it is not known,
// which is never the same as 0.
func (b *Board) Distance(w *Wait, s *Site) (float64, bool) {
	home, ok := b.home(w)
	if !ok {
		return 0, false
	}
	at, ok := b.where(s)
	if !ok {
		return 0, false
	}
	return Km(home, at), true
}

// distances are the ways to all sites, computed once for each infant.
func (b *Board) distances(w *Wait) map[string]*float64 {
	out := make(map[string]*float64, len(b.sites))
	for i := range b.sites {
		if km, ok := b.Distance(w, &b.sites[i]); ok {
			out[b.sites[i].Key] = &km
		}
	}
	return out
}
