package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// mostSeries is how many sessions one series may have: a year of weeks.
const mostSeries = 53

// loadSession reads the session that the address names.
func (s *server) loadSession(c Ctx) (sessionsOf, *booking.Session, error) {
	x, err := s.loadSessions(c)
	if err != nil || c.Param("id") == "" {
		return x, &booking.Session{Site: x.site.Key}, err
	}
	for i := range x.list {
		if x.list[i].ID == c.Param("id") {
			return x, &x.list[i], nil
		}
	}
	return x, nil, cases.Errorf(cases.NotFound, "There is no such session from today on.")
}

// sessionForm answers GET /settings/sites/:key/sessions/new and .../:id.
func (s *server) sessionForm(c Ctx) error {
	x, k, err := s.loadSession(c)
	if err != nil {
		return err
	}
	f := s.emptyForm("places", "4", "minutes", "40", "repeats", "1")
	if k.ID != "" {
		f = s.emptyForm("start", string(k.Start), "places", fmt.Sprint(k.Places), "minutes", fmt.Sprint(k.Minutes), "repeats", fmt.Sprint(k.ForRepeats), "note", k.Note, "was", markOfAny(k))
	}
	return s.render(c, http.StatusOK, s.sessionPage(c, &x, k, f))
}

func (s *server) sessionPage(c Ctx, x *sessionsOf, k *booking.Session, f *form) *templates.SessionPage {
	at := siteAt(x.site.Key) + "/sessions"
	p := &templates.SessionPage{Base: templates.Base{Name: "Add sessions, " + shown(x.site.Name), Current: "settings"}, Links: settingsTabs(c, "sites"), Head: "Add sessions at " + shown(x.site.Name),
		Lead: s.opensWords(&x.site) + ".", Action: at + "/new", Back: at, Button: "Add", Was: f.typed("was")}
	if k.ID == "" {
		p.Fields = append(p.Fields, f.field(templates.Field{ID: "on", Label: "Day", Hint: "Like 12 Mar 2026, tomorrow or +1w", Width: "w14"}))
	}
	p.Fields = append(p.Fields, f.field(templates.Field{ID: "start", Label: "Start", Hint: "24-hour clock, like 09:30", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "places", Label: "Places", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "minutes", Label: "Length of one place", Unit: "minutes", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "repeats", Label: "Of them kept for repeats", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "note", Label: "Note", Optional: true, Width: "w20"}))
	if k.ID == "" {
		p.Fields = append(p.Fields, f.field(templates.Field{ID: "until", Label: "Each week until", Hint: "The last day; left empty, one session. Days on which the site is closed are left out", Optional: true, Width: "w14"}))
		return p
	}
	p.Action, p.Button = at+"/"+k.ID, "Save session"
	p.Head = "Session on " + date(k.On).Weekday() + ", " + shown(x.site.Name)
	p.Name, p.Lead = p.Head, spanWords(k)+", "+placesWords(k, x.booked[k.ID])+"."
	if k.Cancelled {
		p.Lead = spanWords(k) + ", cancelled."
	}
	for i, seat := range x.booked[k.ID] {
		for _, b := range seat {
			p.Booked = append(p.Booked, templates.SessionSeat{At: string(k.At(i)), Reference: b.Reference})
		}
	}
	p.Cancel = &templates.CancelSession{Action: p.Action + "/cancel", Cancelled: k.Cancelled,
		Reason: f.field(templates.Field{ID: "why", Label: "Why it is cancelled", Width: "w20"})}
	return p
}

// readSession reads the form of a session over what it was.
func (f *form) readSession(k booking.Session) booking.Session {
	if k.ID == "" {
		k.On = f.needDay("on", "Day")
	}
	if k.Start = f.time("start", "Start"); k.Start == "" {
		f.fail("start", "Enter the start")
	}
	for _, n := range []struct {
		id, label string
		to        *int
	}{{"places", "Places", &k.Places}, {"minutes", "Length of one place", &k.Minutes}} {
		if strings.TrimSpace(f.typed(n.id)) == "" {
			f.fail(n.id, "Enter the %s", strings.ToLower(n.label[:1])+n.label[1:])
		}
		*n.to = f.whole(n.id, n.label)
	}
	k.ForRepeats, k.Note = f.whole("repeats", "Of them kept for repeats"), f.text("note", "Note", 300)
	return k
}

// series are the sessions of each week through a day, and the days left out because
// the site is closed. The first day is always among the sessions, so that what is
// wrong with it is told.
func (s *server) series(site *booking.Site, first booking.Session, until cases.Day) (list []booking.Session, left []string) {
	list = append(list, first)
	for d := first.On + 7; d <= until && len(list)+len(left) < mostSeries; d += 7 {
		if open, why := site.Open(d, s.protocol().Calendar()); !open {
			left = append(left, date(d).Weekday()+" ("+why+")")
			continue
		}
		k := first
		k.On = d
		list = append(list, k)
	}
	return list, left
}

// saveSession answers POST /settings/sites/:key/sessions/new and .../:id.
func (s *server) saveSession(c Ctx) error {
	x, k, err := s.loadSession(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	now := f.readSession(*k)
	list, left := []booking.Session{now}, []string(nil)
	if k.ID == "" {
		until := f.day("until", "Each week until")
		if until != 0 && until < now.On {
			f.fail("until", "Each week until must be on or after the first day")
		}
		if until > now.On+7*(mostSeries-1) {
			f.fail("until", "Each week until must be within a year of the first day")
		}
		list, left = s.series(&x.site, now, until)
	}
	p := s.sessionPage(c, &x, k, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, p.Back, func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Session saved:", Text: date(now.On).Weekday() + ", " + spanWords(&now) + "."}
		if len(list) > 1 {
			n.Head, n.Text = "Sessions added:", fmt.Sprintf("%d, from %s to %s.", len(list), date(now.On).Weekday(), date(list[len(list)-1].On).Weekday())
		}
		if len(left) > 0 {
			n.Kind, n.Text = "warn", n.Text+" Left out, the site is closed: "+strings.Join(left, ", ")+"."
		}
		return n, s.putSessions(ctx, actorOf(c), k, f.typed("was"), list...)
	})
	return s.refuseSession(c, f, &x, k, list, err)
}

// putSessions writes sessions unless somebody changed the one that was opened.
func (s *server) putSessions(ctx context.Context, who cases.Actor, k *booking.Session, was string, list ...booking.Session) error {
	if err := who.Need(cases.KeepSites); err != nil {
		return err
	}
	return onceStore{s.Store, &s.tally}.Update(ctx, who, func(w cases.Writer) error {
		if k.ID != "" {
			have, err := booking.Sessions(w, k.Site, k.On, k.On)
			if err != nil {
				return err
			}
			i := slices.IndexFunc(have, func(x booking.Session) bool { return x.ID == k.ID })
			if i < 0 || markOfAny(&have[i]) != was {
				return cases.Errorf(cases.Refused, "Somebody changed this session since you opened the page. What you typed is kept below; open the session again to see what it says now.")
			}
			return booking.PutSessions(w, s.protocol(), list...)
		}
		for i := range list { // a new session never replaces one
			have, err := booking.Sessions(w, list[i].Site, list[i].On, list[i].On)
			if err != nil {
				return err
			}
			id := booking.NewSessionID(list[i].Site, list[i].On, list[i].Start)
			if slices.ContainsFunc(have, func(x booking.Session) bool { return x.ID == id }) {
				return &cases.Error{Kind: cases.Invalid, Field: "start", Text: "This session cannot be saved.",
					Faults: []cases.Fault{{Path: fmt.Sprintf("sessions[%d].start", i), Reason: "is taken: there is a session at this time already. Change or open that one again"}}}
			}
		}
		return booking.PutSessions(w, s.protocol(), list...)
	})
}

var sessionFields = []struct{ path, id, label string }{{"on", "on", "Day"}, {"start", "start", "Start"}, {"places", "places", "Places"},
	{"minutes", "minutes", "Minutes"}, {"for_repeats", "repeats", "Of them kept for repeats"}, {"site", "on", "Day"}}

// refuseSession tells the faults of sessions at their fields; of a series with the day.
func (s *server) refuseSession(c Ctx, f *form, x *sessionsOf, k *booking.Session, list []booking.Session, err error) error {
	var e *cases.Error
	if !errors.As(err, &e) || e.Kind != cases.Invalid && e.Kind != cases.Refused {
		return err
	}
	for _, fault := range e.Faults {
		at, path := sessionFields[0], fault.Path
		var n int
		day := ""
		if _, err := fmt.Sscanf(path, "sessions[%d].", &n); err == nil && n < len(list) && len(list) > 1 {
			day = " on " + date(list[n].On).Weekday()
		}
		for _, l := range sessionFields {
			if lastPart(path) == l.path {
				at = l
			}
		}
		f.fail(at.id, "%s%s %s", at.label, day, fault.Reason)
	}
	if len(e.Faults) == 0 {
		if e.Field == "places" {
			f.fail("places", "%s", e.Text)
		} else {
			f.problems = append(f.problems, templates.Problem{Text: e.Text})
		}
	}
	p := s.sessionPage(c, x, k, f)
	if e.Kind == cases.Refused {
		p.Common().Problems = f.problems
		return s.render(c, http.StatusConflict, p)
	}
	return s.invalid(c, p, f.problems)
}

// cancelSession answers POST /settings/sites/:key/sessions/:id/cancel: it cancels a
// session, or opens a cancelled one again.
func (s *server) cancelSession(c Ctx) error {
	x, k, err := s.loadSession(c)
	if err != nil {
		return err
	}
	f, now := s.readForm(c), *k
	now.Cancelled = f.typed("cancelled") == "yes"
	if now.Cancelled {
		now.Note = f.need("why", "Why it is cancelled", "Enter why the session is cancelled", 300)
		if k.Note != "" { // what was noted before is not lost
			now.Note += "; noted before: " + k.Note
		}
	}
	filled := s.emptyForm("start", string(k.Start), "places", fmt.Sprint(k.Places), "minutes", fmt.Sprint(k.Minutes), "repeats", fmt.Sprint(k.ForRepeats), "note", k.Note, "why", f.typed("why"), "was", f.typed("was"))
	filled.errs = f.errs
	if !f.ok() {
		return s.invalid(c, s.sessionPage(c, &x, k, filled), f.problems)
	}
	booked := 0
	for _, seat := range x.booked[k.ID] {
		booked += len(seat)
	}
	err = s.submit(c, f, siteAt(x.site.Key)+"/sessions", func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Session opened again:", Text: date(k.On).Weekday() + ", " + spanWords(k) + "."}
		if now.Cancelled {
			n.Head = "Session cancelled:"
			if booked > 0 {
				n.Kind, n.Text = "warn", n.Text+" "+templates.Count(booked, "booking has", "bookings have")+" to be moved by hand."
			}
		}
		return n, s.putSessions(ctx, actorOf(c), k, f.typed("was"), now)
	})
	return s.refuseSession(c, filled, &x, k, []booking.Session{now}, err)
}
