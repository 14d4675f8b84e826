package demo

import (
	"slices"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// The test sites of the Alder Bay region; invented.
var sites = []schedule.Site{
	{Key: "alder-bay", Name: "Alder Bay CF Clinic", Address: "2 Curlew Street, Alder Bay", Phone: "555-0150", Email: "desk@clinic.alderbay.example", Postal: "00012", Languages: []string{"es"}, Accepts: schedule.Accepts{Collectors: []string{"tubing"}}},
	{Key: "heron-point", Name: "Heron Point Children's", Address: "40 Ferry Road, Heron Point", Phone: "555-0160", Postal: "00014", Accepts: schedule.Accepts{MinAgeDays: 14, Collectors: []string{"tubing"}}},
	{Key: "marlow-creek", Name: "Marlow Creek Laboratory", Address: "7 Mill Lane, Marlow Creek", Phone: "555-0170", Postal: "00023", Accepts: schedule.Accepts{Collectors: []string{"pad", "tubing"}}},
}

// areas are the middles of the region's postal codes, so that offers can tell the way.
// An invented place lies nowhere: these lie in the open Atlantic, some 20 to 75 km apart.
var areas = schedule.Centroids{
	"00012": {Lat: 45.00, Lon: -35.00}, "00014": {Lat: 45.22, Lon: -35.27}, "00017": {Lat: 45.10, Lon: -34.78},
	"00021": {Lat: 45.41, Lon: -34.92}, "00023": {Lat: 44.68, Lon: -34.55},
}

// clinic is a session that a site holds each week.
type clinic struct {
	site    string
	weekday time.Weekday
	session schedule.Session
}

// A morning has the times at which the stories book; an afternoon the later ones.
var (
	morning   = schedule.Session{Start: "09:00", Places: 4, Minutes: 45, ForRepeats: 1}
	afternoon = schedule.Session{Start: "13:00", Places: 2, Minutes: 45}
	late      = schedule.Session{Start: "14:30", Places: 4, Minutes: 45} // added on a full day
)

var clinics = []clinic{
	{"alder-bay", time.Tuesday, morning}, {"alder-bay", time.Friday, morning}, {"alder-bay", time.Tuesday, afternoon},
	{"heron-point", time.Wednesday, morning}, {"heron-point", time.Monday, afternoon},
	{"marlow-creek", time.Thursday, morning},
}

// Weeks of sessions before and after today.
const weeksBefore, weeksAfter = 4, 8

// siteToday is a site as the scenario needs it: open today too, so that there is a
// clinic to show on whatever day the demo is started.
func (w *world) siteToday(x schedule.Site) schedule.Site {
	if d := w.today.Weekday(); d == time.Saturday || d == time.Sunday {
		x.Weekdays = []int{1, 2, 3, 4, 5, int(d)}
	}
	x.OpenHolidays = w.cal.Holiday(w.today)
	return x
}

// openClinics enters the sites, their weekly sessions and the postal areas, on the
// first day.
func (p *player) openClinics(w *world, first cases.Day) error {
	p.moment(first, "00:01")
	return p.d.Store.Update(p.ctx, Nurse, func(tx cases.Writer) error {
		var list []schedule.Session
		for i := range sites {
			site := w.siteToday(sites[i])
			if err := schedule.PutSite(tx, site); err != nil {
				return err
			}
			for _, k := range clinics {
				if k.site == site.Key {
					list = append(list, weekly(w, &site, k, max(first, w.today-7*weeksBefore))...)
				}
			}
		}
		if err := schedule.PutCentroids(tx, areas); err != nil {
			return err
		}
		return schedule.PutSessions(tx, p.d.Desk.Protocol(), list...)
	})
}

// weekly gives the sessions of a clinic around today, without the days on which the
// site is closed.
func weekly(w *world, site *schedule.Site, k clinic, from cases.Day) []schedule.Session {
	var out []schedule.Session
	for d := from; d <= w.today+7*weeksAfter; d++ {
		if open, _ := site.Open(d, w.cal); !open || d.Weekday() != k.weekday {
			continue
		}
		s := k.session
		s.Site, s.On = site.Key, d
		out = append(out, s)
	}
	return out
}

// book books a place through the desk of the schedule. Where the site has no session at
// that time one is added first; a place that somebody has, or that is kept for repeats,
// gives way to the next one of the day.
func (p *player) book(c cases.Case, ask schedule.Ask) error {
	if err := p.session(ask); err != nil {
		return err
	}
	desk := schedule.NewDesk(p.d.Store, p.d.Desk.Protocol())
	_, err := p.bookOne(desk, ask)
	for _, at := range dayTimes {
		if err == nil || cases.KindOf(err) != cases.Conflict && cases.KindOf(err) != cases.Refused {
			break
		}
		if ask.At = at; p.session(ask) == nil {
			_, err = p.bookOne(desk, ask)
		}
	}
	return err
}

// dayTimes are the places of a day in the order in which they are tried.
var dayTimes = []cases.Clock{"09:00", "09:45", "10:30", "11:15", "13:00", "13:45", "14:30", "15:15", "16:00"}

// bookOne asks a clinician where something speaks against the day.
func (p *player) bookOne(desk *schedule.Desk, ask schedule.Ask) ([]cases.Case, error) {
	list, err := desk.Book(p.ctx, p.actor, ask)
	if needs, ok := err.(*cases.Error); ok && needs.Field == schedule.NeedsOverride {
		ask.Override = &schedule.Override{By: clinicians[0], Reason: "The family comes from far; the infant is weighed on the day"}
		list, err = desk.Book(p.ctx, p.actor, ask)
	}
	return list, err
}

// session adds the session of a time where the site has none.
func (p *player) session(ask schedule.Ask) error {
	return p.d.Store.Update(p.ctx, Nurse, func(tx cases.Writer) error {
		have, err := schedule.Sessions(tx, ask.Site, ask.On, ask.On)
		if err != nil || slices.ContainsFunc(have, func(s schedule.Session) bool { return s.PlaceAt(ask.At) >= 0 }) {
			return err
		}
		s := morning
		switch {
		case ask.At >= late.Start:
			s = late
		case ask.At >= afternoon.Start:
			s = afternoon
		}
		s.Site, s.On = ask.Site, ask.On
		return schedule.PutSessions(tx, p.d.Desk.Protocol(), s)
	})
}

// booking says what became of the booking of a day.
func (p *player) booking(c cases.Case, on cases.Day, state, reason string) error {
	i := slices.IndexFunc(c.Bookings, func(b cases.Booking) bool { return b.On == on && b.State == "booked" })
	desk := schedule.NewDesk(p.d.Store, p.d.Desk.Protocol())
	if state == "missed" {
		_, err := desk.Missed(p.ctx, p.actor, c.ID, c.Rev, i, reason)
		return err
	}
	_, err := desk.Cancel(p.ctx, p.actor, c.ID, c.Rev, i, reason)
	return err
}

// clinicToday fills a morning at Alder Bay: twins, an infant whose weight is short and
// for whom a clinician answers, and a repeat whose family needs an interpreter.
func (w *world) clinicToday() {
	const site = "alder-bay"
	a := w.open("twin one, today", 18, 11).found("G551D").at(cases.StepAwaitTest)
	b := w.open("twin two, today", 18, 11).found("G551D").at(cases.StepAwaitTest)
	a.screen.person, b.screen.person = a.screen.person.twin("Ottilie", true)
	a.twin, b.twin, b.second = b, a, true
	a.site, b.site = site, site
	a.told(w.ago(9)).weigh(w.ago(4), 2610).bookAt(w.ago(5), w.today, "09:00")
	b.told(w.ago(9)).weigh(w.ago(4), 2540).bookAt(w.ago(5), w.today, "09:45")
	s := w.open("light, today", 26, 18).early(35, 1760).found("F508del").at(cases.StepAwaitTest)
	s.site = site
	s.told(w.ago(16)).weigh(w.today-9, 1800).weigh(w.today-2, 1965).bookAt(w.ago(1), w.today, "10:30")
	s = w.open("repeat, today", 30, 22).found("N1303K").at(cases.StepAwaitTest)
	s.site, s.screen.person.language = site, "es"
	first := w.ago(5)
	s.told(w.ago(20)).interpreter(w.ago(20)).bookAt(w.ago(15), first, "09:00").qns(first).bookAt(w.ago(3), w.today, "11:15")
}

// interpreter records that the family needs one, as the first call showed.
func (s *story) interpreter(on cases.Day) *story {
	return s.add(on, Coordinator, "interpreter", func(p *player, c cases.Case) error {
		f := cases.Family{}
		if c.Family != nil {
			f = *c.Family
		}
		f.Interpreter, f.Language = true, s.screen.person.language
		_, err := p.d.Desk.SetFamily(p.ctx, p.actor, c.ID, c.Rev, f, "Said on the phone")
		return err
	})
}
