package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// sessionsOf is a site with its sessions in the weeks ahead and who is booked.
type sessionsOf struct {
	site     booking.Site
	list     []booking.Session
	booked   map[string][][]cases.Booked // by session
	stranded []cases.Booked
}

func (s *server) loadSessions(c Ctx) (x sessionsOf, err error) {
	x.booked = map[string][][]cases.Booked{}
	if err := ownSite(c, c.Param("key")); err != nil {
		return x, err
	}
	err = s.view(c, func(r cases.Reader) error {
		if x.site, err = booking.SiteByKey(r, c.Param("key")); err != nil {
			return err
		}
		from, to := r.Today(), r.Today()+7*weeksAhead
		if c.Param("id") != "" || c.QueryParam("all") == "1" {
			to = from + booking.MostAhead
		}
		if x.list, err = booking.Sessions(r, x.site.Key, from, to); err != nil {
			return err
		}
		for i := range x.list {
			if x.booked[x.list[i].ID], err = booking.BookedIn(r, &x.list[i]); err != nil {
				return err
			}
		}
		x.stranded, err = booking.Stranded(r, s.protocol().Calendar(), x.site.Key, from, to)
		return err
	})
	return x, err
}

// sessionsPage answers GET /settings/sites/:key/sessions.
func (s *server) sessionsPage(c Ctx) error {
	x, err := s.loadSessions(c)
	if err != nil {
		return err
	}
	at := siteAt(x.site.Key)
	p := &templates.SessionsPage{Base: templates.Base{Name: "Sessions, " + shown(x.site.Name), Current: "settings"}, Links: settingsTabs(c, "sites"), Head: "Sessions of " + shown(x.site.Name),
		Lead: s.opensWords(&x.site) + ". " + acceptsWords(&x.site.Accepts) + ".", Site: at, MayEdit: can(c, keepSites) && !x.site.Retired, New: at + "/sessions/new", Table: at + "/sessions.csv"}
	if p.Ahead = "The next 8 weeks"; c.QueryParam("all") == "1" {
		p.Ahead = "All sessions from today on"
	} else {
		p.All = at + "/sessions?all=1"
	}
	for i := range x.list {
		k := &x.list[i]
		row := templates.SessionRow{On: date(k.On), Time: spanWords(k), Each: fmt.Sprintf("%d minutes a place", k.Minutes), Note: shown(k.Note), Places: placesWords(k, x.booked[k.ID])}
		if can(c, keepSites) {
			row.Href = at + "/sessions/" + k.ID
		}
		if k.Cancelled {
			row.State, row.Places = templates.Tag{Kind: "done", Text: "Cancelled"}, ""
		} else if open, why := x.site.Open(k.On, s.protocol().Calendar()); !open {
			row.State, row.Places = templates.Tag{Kind: "soon", Text: "Closed that day"}, sentence(why)
		}
		if s.over(k) && !k.Cancelled {
			row.Places = "Over"
		}
		for _, b := range x.stranded {
			if b.On == k.On && covers(k, b.At) {
				row.Stranded = append(row.Stranded, templates.Sibling{Name: string(b.At), Reference: b.Reference})
			}
		}
		p.Rows = append(p.Rows, row)
	}
	return s.render(c, http.StatusOK, p)
}

// over tells whether a session has ended.
func (s *server) over(k *booking.Session) bool {
	_, end, _ := k.Span()
	now := s.Now()
	return k.On < s.today() || k.On == s.today() && end <= now.Hour()*60+now.Minute()
}

// covers tells whether a time lies in a session.
func covers(k *booking.Session, at cases.Clock) bool {
	start, end, ok := k.Span()
	if !ok || at == "" {
		return false
	}
	m := minuteOf(at)
	return start <= m && m < end
}

// spanWords is the time of a session: 09:30 to 12:10.
func spanWords(k *booking.Session) string {
	_, end, ok := k.Span()
	if !ok {
		return string(k.Start)
	}
	return fmt.Sprintf("%s to %02d:%02d", k.Start, end/60, end%60)
}

// placesWords says how many places of a session are free: 2 of 4 free, 1 kept for
// repeats. A cancelled session has none.
func placesWords(k *booking.Session, booked [][]cases.Booked) string {
	if k.Cancelled {
		return fmt.Sprintf("None of %d free", k.Places)
	}
	free, kept := 0, 0
	for i := range k.Places {
		if i < len(booked) && len(booked[i]) > 0 {
			continue
		}
		free++
		if k.KeptForRepeats(i) {
			kept++
		}
	}
	out := fmt.Sprintf("%d of %d free", free, k.Places)
	if free == 0 {
		out = fmt.Sprintf("None of %d free", k.Places)
	}
	if kept > 0 {
		out += fmt.Sprintf(", %d kept for repeats", kept)
	}
	return out
}

// sessionsCSV answers GET /settings/sites/:key/sessions.csv with the sessions from
// today on.
func (s *server) sessionsCSV(c Ctx) error {
	var list []booking.Session
	err := s.view(c, func(r cases.Reader) error {
		x, err := booking.SiteByKey(r, c.Param("key"))
		if err != nil {
			return err
		}
		list, err = booking.Sessions(r, x.Key, r.Today(), r.Today()+booking.MostAhead)
		return err
	})
	if err != nil {
		return err
	}
	return csvFile(c, "sessions-"+c.Param("key")+".csv", booking.SessionsCSV(list))
}

// clinics are the sessions of every site in the next two weeks, by day and time.
func (s *server) clinics(r cases.Reader) ([]templates.ClinicDay, error) {
	sites, err := booking.Sites(r)
	if err != nil {
		return nil, err
	}
	var out []templates.ClinicDay
	for i := range sites {
		x := &sites[i]
		list, err := booking.Sessions(r, x.Key, r.Today(), r.Today()+14)
		if err != nil {
			return nil, err
		}
		for k := range list {
			open, _ := x.Open(list[k].On, s.protocol().Calendar())
			if list[k].Cancelled || !open { // today's stay when they are over: there is still to record
				continue
			}
			booked, err := booking.BookedIn(r, &list[k])
			if err != nil {
				return nil, err
			}
			places := placesWords(&list[k], booked)
			if s.over(&list[k]) {
				places = overWords(booked)
			}
			out = append(out, templates.ClinicDay{On: date(list[k].On), Time: spanWords(&list[k]), Site: shown(x.Name), Places: places, Href: clinicAt(x.Key, list[k].On, list[k].ID)})
		}
	}
	slices.SortStableFunc(out, func(a, b templates.ClinicDay) int {
		return cmp.Or(strings.Compare(a.On.ISO(), b.On.ISO()), strings.Compare(a.Time, b.Time))
	})
	return out, nil
}

// overWords says how many were booked in a session that is over.
func overWords(booked [][]cases.Booked) string {
	n := 0
	for _, in := range booked {
		n += len(in)
	}
	if n == 0 {
		return "Over, none booked"
	}
	return fmt.Sprintf("Over, %d booked", n)
}
