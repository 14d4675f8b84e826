package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// byHand stands in an address for the bookings of a day that lie in no session.
const byHand = "by-hand"

// clinic is one session with who is booked in it, as its pages need it.
type clinic struct {
	site    booking.Site
	session booking.Session
	byHand  bool // no session: what was booked by hand on that day
	visits  []booking.Visit
	missed  []booking.Visit
	at      string // its address
}

func clinicAt(site string, on cases.Day, id string) string {
	return "/sessions/" + url.PathEscape(site) + "/" + on.String() + "/" + id
}

// loadClinic reads the session that the address names. Those who missed are looked for
// only when asked for: it takes a look at every open case.
func (s *server) loadClinic(c Ctx, withMissed bool) (x clinic, err error) {
	if err := ownSite(c, c.Param("site")); err != nil {
		return x, err
	}
	on, err := cases.ParseDay(c.Param("day"))
	if err != nil {
		return x, cases.Errorf(cases.NotFound, "There is no such session.")
	}
	err = s.view(c, func(r cases.Reader) error {
		return x.read(r, c.Param("site"), on, c.Param("id"), withMissed)
	})
	for i := range x.visits {
		saw(c, x.visits[i].Case.Reference)
	}
	return x, err
}

func (x *clinic) read(r cases.Reader, site string, on cases.Day, id string, withMissed bool) (err error) {
	x.at, x.byHand = clinicAt(site, on, id), id == byHand
	x.site, err = booking.SiteByKey(r, site)
	switch {
	case err != nil && x.byHand: // a site that stands in the settings only
		x.site = booking.Site{Key: site}
	case err != nil:
		return err
	}
	if x.byHand {
		x.session = booking.Session{Site: site, On: on}
	} else if x.session, err = booking.SessionByID(r, site, on, id); err != nil {
		return err
	}
	list, err := booking.Sessions(r, site, on, on)
	if err != nil {
		return err
	}
	mine := func(v *booking.Visit) bool {
		if x.byHand {
			return !inSession(list, v.Booking().At)
		}
		return x.session.Covers(v.Booking().At)
	}
	if x.visits, err = booking.VisitsOn(r, site, on); err != nil {
		return err
	}
	x.visits = keepVisits(x.visits, mine)
	if withMissed && on <= r.Today() {
		if x.missed, err = booking.MissedOn(r, site, on); err != nil {
			return err
		}
		x.missed = keepVisits(x.missed, mine)
	}
	return nil
}

func keepVisits(list []booking.Visit, want func(*booking.Visit) bool) []booking.Visit {
	var out []booking.Visit
	for i := range list {
		if want(&list[i]) {
			out = append(out, list[i])
		}
	}
	return out
}

// inSession tells whether a time lies in a session that takes place.
func inSession(list []booking.Session, at cases.Clock) bool {
	for i := range list {
		if !list[i].Cancelled && list[i].Covers(at) {
			return true
		}
	}
	return false
}

// clinicOf is the address of the session in which a booking lies, read in r.
func clinicOf(r cases.Reader, b *cases.Booking) (string, error) {
	list, err := booking.Sessions(r, b.Site, b.On, b.On)
	if err != nil {
		return "", err
	}
	id := byHand
	for i := range list {
		if list[i].Covers(b.At) && (id == byHand || !list[i].Cancelled) {
			id = list[i].ID
		}
	}
	return clinicAt(b.Site, b.On, id), nil
}

// clinicSession answers GET /sessions/:site/:day/:id.
func (s *server) clinicSession(c Ctx) error {
	x, err := s.loadClinic(c, true)
	if err != nil {
		return err
	}
	name := shown(s.siteName(x.site.Key))
	p := &templates.ClinicSessionPage{Base: templates.Base{Name: name + ", " + date(x.session.On).String(), Current: "schedule"}, Head: name + ", " + date(x.session.On).Long(),
		Sheet: x.at + "/day-sheet", PDF: x.at + "/day-sheet.pdf", MayBook: can(c, schedule), MayTest: can(c, recordTests), Cautions: testDayCautions,
		From: "?from=" + x.at, None: "Nobody is booked."}
	if k, ok := s.siteOf(x.site.Key); ok {
		p.Where, p.Phone = shown(k.Address), k.Phone
	}
	p.Lead, p.State = s.clinicWords(&x)
	if !x.byHand {
		if slices.ContainsFunc(x.visits, func(v booking.Visit) bool { return v.Booking().UID != "" && v.Booking().Minutes > 0 }) {
			p.Calendar = x.at + "/calendar.ics"
		}
		p.Sessions = siteAt(x.site.Key) + "/sessions"
	}
	if p.State.Text != "" && len(x.visits) > 0 {
		p.Stranded = "These bookings have to be moved by hand: there is no session to come to."
	}
	p.Rows = s.clinicRows(&x)
	return s.render(c, http.StatusOK, p)
}

// clinicWords says when a session is and how full, and what is wrong with it.
func (s *server) clinicWords(x *clinic) (lead string, state templates.Tag) {
	if x.byHand {
		return "Booked by hand, outside of sessions: " + templates.Count(len(x.visits), "infant", "infants") + ".", state
	}
	k := &x.session
	booked := make([][]cases.Booked, k.Places)
	for i := range x.visits {
		if n := k.PlaceOver(x.visits[i].Booking().At); n >= 0 {
			booked[n] = append(booked[n], cases.Booked{})
		}
	}
	lead = fmt.Sprintf("%s. %s, %d minutes each.", spanWords(k), placesWords(k, booked), k.Minutes)
	if k.Note != "" {
		lead += " " + strings.TrimSuffix(sentence(shown(k.Note)), ".") + "."
	}
	if k.Cancelled {
		return lead, templates.Tag{Kind: "cross", Text: "Cancelled"}
	}
	if open, why := x.site.Open(k.On, s.protocol().Calendar()); !open {
		return lead, templates.Tag{Kind: "cross", Text: "Closed that day: " + shown(why)}
	}
	return lead, state
}

// clinicRows lists the places in order of time: who has each, or that it is free.
func (s *server) clinicRows(x *clinic) []templates.ClinicPlace {
	var out []templates.ClinicPlace
	next := 0
	free := func(until int) { // the free places before a time
		for ; !x.byHand && next < until && next < x.session.Places; next++ {
			row := templates.ClinicPlace{At: string(x.session.At(next)), Free: "Free"}
			if x.session.KeptForRepeats(next) {
				row.Free = "Free, kept for repeats"
			}
			if s.over(&x.session) || x.session.Cancelled {
				row.Free = "Not taken"
			}
			out = append(out, row)
		}
	}
	for i := range x.visits {
		v := &x.visits[i]
		if n := x.session.PlaceOver(v.Booking().At); n >= 0 {
			free(n)
			next = max(next, n+1)
		}
		out = append(out, s.clinicRow(x, v))
	}
	free(x.session.Places)
	for i := range x.missed {
		out = append(out, s.clinicRow(x, &x.missed[i]))
	}
	return out
}

func (s *server) clinicRow(x *clinic, v *booking.Visit) templates.ClinicPlace {
	today, b := s.today(), v.Booking()
	a := s.protocol().Assess(&v.Case, today)
	row := templates.ClinicPlace{At: string(b.At), Interpreter: interpreterWords(&v.Case), Override: overrideWords(b)}
	row.Appointment = templates.Appointment{Who: s.who(&v.Case), On: date(b.On), At: string(b.At), Rev: uint64(v.Case.Rev), Why: or(testedOn(&a, b.On), visitWords(&a)),
		Path: bookingPath(&v.Case, v.N), Record: testPath(&v.Case, b) + "&from=" + x.at, Past: b.On < today}
	row.Ahead = b.On > today || b.On == today && string(b.At) > s.clock(s.Now())
	row.State, row.Open = s.bookingState(&v.Case, b)
	row.Came, row.Missed = b.State == "kept", b.State == "missed" && !testedSince(&v.Case, b.On)
	if row.Open && b.State == "booked" && b.On >= today {
		row.Stop = booking.Against(s.protocol(), &v.Case, &x.site, b.On)
	}
	if b.UID != "" && b.Minutes > 0 {
		row.Calendar = row.Path + "/calendar.ics"
	}
	return row
}

// bookingActs are what may be done with a booking on the infant's page.
func (s *server) bookingActs(row *templates.BookingRow, o *opened, i int) {
	b, at := &o.c.Bookings[i], bookingPath(&o.c, i)
	add := func(path, text string) { row.Acts = append(row.Acts, templates.Link{Href: path, Text: text}) }
	_, open := s.bookingState(&o.c, b)
	come := b.On < o.today || b.On == o.today && string(b.At) <= s.clock(s.Now())
	if b.State == "booked" {
		add(at+"/move", "Move")
		add(at+"/cancel", "Cancel booking")
	}
	if open && come {
		add(at+"/missed", "Missed")
	}
	if come && !testedSince(&o.c, b.On) && (b.State == "booked" || b.State == "missed") {
		row.Kept, row.Came = at+"/kept", "Kept"
		if b.State == "missed" {
			row.Came = "Came after all"
		}
	}
	if b.Site != "" && b.State != "cancelled" {
		add(clinicPath(b), "The session")
	}
	if b.UID != "" && b.Minutes > 0 && isNewest(o.c.Bookings, b) && b.On >= o.today {
		add(at+"/calendar.ics", "Calendar file")
	}
}

// isNewest tells whether a booking is its appointment as it stands now.
func isNewest(list []cases.Booking, b *cases.Booking) bool {
	return slices.ContainsFunc(booking.Newest(list), func(x cases.Booking) bool { return x.UID == b.UID && x.Sequence == b.Sequence })
}

// clinicPath leads to the session of a booking, whichever it is.
func clinicPath(b *cases.Booking) string {
	return "/sessions/" + url.PathEscape(b.Site) + "/" + b.On.String() + "?at=" + escapeQuery(string(b.At))
}

// findClinic answers GET /sessions/:site/:day with the session of a time.
func (s *server) findClinic(c Ctx) error {
	if err := ownSite(c, c.Param("site")); err != nil {
		return err
	}
	on, err := cases.ParseDay(c.Param("day"))
	if err != nil {
		return cases.Errorf(cases.NotFound, "There is no such session.")
	}
	b, to := cases.Booking{Site: c.Param("site"), On: on, At: cases.Clock(c.QueryParam("at"))}, ""
	err = s.view(c, func(r cases.Reader) (err error) {
		to, err = clinicOf(r, &b)
		return err
	})
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, to)
}

// bookingState says what became of a booking, and whether something is still to be
// recorded of it.
func (s *server) bookingState(k *cases.Case, b *cases.Booking) (tag templates.Tag, open bool) {
	today := s.today()
	switch {
	case b.State == "missed":
		return templates.Tag{Kind: "cross", Text: "Missed"}, false
	case b.State == "cancelled":
		return templates.Tag{Kind: "blank", Text: "Cancelled"}, false
	case testedSince(k, b.On):
		return templates.Tag{Kind: "done", Text: "Test recorded"}, false
	case b.State == "kept":
		return templates.Tag{Kind: "half", Text: "Kept, no test recorded"}, true
	case b.On < today:
		return templates.Tag{Kind: "late", Text: "Not recorded yet"}, true
	case b.On == today && b.At != "" && string(b.At) <= s.clock(s.Now()):
		return templates.Tag{Kind: "soon", Text: "Not recorded yet"}, true
	}
	return templates.Tag{Kind: "book", Text: "Booked"}, true
}

// interpreterWords says that an interpreter is needed, and for which language.
func interpreterWords(k *cases.Case) string {
	if k.Family == nil || !k.Family.Interpreter {
		return ""
	}
	if k.Family.Language == "" {
		return "Interpreter needed; the language is not known"
	}
	return "Interpreter needed: " + cases.LanguageWord(k.Family.Language)
}

// overrideWords says who answers for a booking that something speaks against.
func overrideWords(b *cases.Booking) string {
	if b.OverrideBy == "" {
		return ""
	}
	out := "Booked all the same by decision of " + shown(b.OverrideBy)
	if b.OverrideReason != "" {
		out += ": " + shown(b.OverrideReason)
	}
	return strings.TrimSuffix(out, ".") + "."
}
