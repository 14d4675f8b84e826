package demo

import (
	"cmp"
	"slices"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// The test sites of the Alder Bay region; invented. They have no positions: an
// invented place lies nowhere.
var sites = []schedule.Site{
	{Key: "alder-bay", Name: "Alder Bay CF Clinic", Address: "2 Curlew Street, Alder Bay", Phone: "555-0150", Languages: []string{"es"}, Accepts: schedule.Accepts{Collectors: []string{"tubing"}}},
	{Key: "heron-point", Name: "Heron Point Children's", Address: "40 Ferry Road, Heron Point", Phone: "555-0160", Accepts: schedule.Accepts{MinAgeDays: 14, Collectors: []string{"tubing"}}},
	{Key: "marlow-creek", Name: "Marlow Creek Laboratory", Address: "7 Mill Lane, Marlow Creek", Phone: "555-0170", Accepts: schedule.Accepts{Collectors: []string{"pad", "tubing"}}},
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
)

var clinics = []clinic{
	{"alder-bay", time.Tuesday, morning}, {"alder-bay", time.Friday, morning}, {"alder-bay", time.Tuesday, afternoon},
	{"heron-point", time.Wednesday, morning}, {"heron-point", time.Monday, afternoon},
	{"marlow-creek", time.Thursday, morning},
}

// Weeks of sessions before and after today.
const weeksBefore, weeksAfter = 4, 8

// openClinics enters the sites and their weekly sessions, on the first day.
func (p *player) openClinics(w *world, first cases.Day) error {
	p.moment(first, "00:01")
	return p.d.Store.Update(p.ctx, Nurse, func(tx cases.Writer) error {
		var list []schedule.Session
		for i := range sites {
			if err := schedule.PutSite(tx, sites[i]); err != nil {
				return err
			}
			for _, k := range clinics {
				if k.site == sites[i].Key {
					list = append(list, weekly(w, &sites[i], k, max(first, w.today-7*weeksBefore))...)
				}
			}
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

// addClinics adds a session wherever the stories booked a place outside of the weekly
// ones, so that every booking ahead lies in a session. A booking for today stays
// outside when today is no day of work.
func (p *player) addClinics(w *world) error {
	return p.d.Store.Update(p.ctx, Nurse, func(tx cases.Writer) error {
		var list []schedule.Session
		for i := range sites {
			key := sites[i].Key
			have, err := schedule.Sessions(tx, key, w.today, w.today+7*weeksAfter)
			if err != nil {
				return err
			}
			for b, err := range tx.BookedAt(key, w.today, w.today+7*weeksAfter) {
				if err != nil {
					return err
				}
				s := morning
				if b.At >= afternoon.Start {
					s = afternoon
				}
				s.Site, s.On = key, b.On
				same := func(x schedule.Session) bool { return x.On == s.On && x.Start == s.Start }
				if open, _ := sites[i].Open(b.On, w.cal); open && !slices.ContainsFunc(have, same) {
					have, list = append(have, s), append(list, s)
				}
			}
		}
		slices.SortFunc(list, func(a, b schedule.Session) int {
			return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.On, b.On), cmp.Compare(a.Start, b.Start))
		})
		return schedule.PutSessions(tx, p.d.Desk.Protocol(), list...)
	})
}
