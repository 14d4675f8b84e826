package schedule

import (
	"fmt"
	"slices"
	"time"

	"dunlin/cases"
)

// Opening hours are data of each site: clinics keep other lists of holidays than the
// federal one (reference calendars of 5 U.S.C. 6103(a) are in cases.Calendar).

// Open tells whether the site works on a day. When it does not, the second value says
// why in words that complete "The site is closed: ...".
func (s *Site) Open(d cases.Day, cal cases.Calendar) (bool, string) {
	for i := range s.Closed {
		k := &s.Closed[i]
		if k.From <= d && d <= max(k.To, k.From) {
			if k.Reason == "" {
				return false, "closed by the site"
			}
			return false, k.Reason
		}
	}
	if !s.worksOn(d.Weekday()) {
		return false, "no tests on a " + d.Weekday().String()
	}
	if !s.OpenHolidays && cal.Holiday(d) {
		return false, "a holiday"
	}
	return true, ""
}

func (s *Site) worksOn(w time.Weekday) bool {
	if len(s.Weekdays) == 0 {
		return w != time.Saturday && w != time.Sunday
	}
	return slices.Contains(s.Weekdays, int(w))
}

// NewSessionID names a session by its site, day and start: alder-bay-2026-03-18-0930.
func NewSessionID(site string, on cases.Day, start cases.Clock) string {
	if len(start) == 5 {
		start = start[:2] + start[3:]
	}
	return site + "-" + on.String() + "-" + string(start)
}

// minutesOf is the time of day in minutes since midnight; false for no time.
func minutesOf(c cases.Clock) (int, bool) {
	if _, err := cases.ParseClock(string(c)); err != nil {
		return 0, false
	}
	return int(c[0]-'0')*600 + int(c[1]-'0')*60 + int(c[3]-'0')*10 + int(c[4]-'0'), true
}

func clockOf(minutes int) cases.Clock {
	return cases.Clock([]byte{byte('0' + minutes/600%10), byte('0' + minutes/60%10), ':', byte('0' + minutes%60/10), byte('0' + minutes%10)})
}

// At is the start of the place numbered from 0. The places of a session follow each
// other without a gap; a number outside of the session gives no time.
func (s *Session) At(place int) cases.Clock {
	start, ok := minutesOf(s.Start)
	if !ok || place < 0 || place >= s.Places || start+place*s.Minutes >= minutesADay {
		return ""
	}
	return clockOf(start + place*s.Minutes)
}

// PlaceAt is the number of the place that starts at a time, -1 when none does.
func (s *Session) PlaceAt(at cases.Clock) int {
	start, ok := minutesOf(s.Start)
	t, ok2 := minutesOf(at)
	if !ok || !ok2 || s.Minutes <= 0 || t < start || (t-start)%s.Minutes != 0 || (t-start)/s.Minutes >= s.Places {
		return -1
	}
	return (t - start) / s.Minutes
}

// KeptForRepeats tells whether a place, numbered from 0, may only be given to a
// repeat: the last places of a session are the ones that are kept.
func (s *Session) KeptForRepeats(place int) bool { return place >= s.Places-s.ForRepeats }

// Span is the start and the end of the session in minutes since midnight; false when
// it has no start.
func (s *Session) Span() (start, end int, ok bool) {
	start, ok = minutesOf(s.Start)
	return start, start + s.Places*s.Minutes, ok
}

// MostAhead is how many days ahead a session may be: a later one has a mistyped year.
const MostAhead = cases.Day(2 * 366)

// Limits of a session. A place must hold two arms one after the other, about 5
// minutes of stimulation and 30 of collection each (protocol.md, collection); arms
// that overlap need less, so the least length is generous.
const (
	mostPlaces                = 40
	leastMinutes, mostMinutes = 20, 240
	minutesADay               = 24 * 60
)

// Faults lists what is wrong with a session of the site. others are the sessions that
// exist already, today is the day of entry, loc the zone of the site.
func (s *Session) Faults(site *Site, others []Session, today cases.Day, cal cases.Calendar, loc *time.Location) []cases.Fault {
	var fs []cases.Fault
	bad := func(path, format string, args ...any) {
		fs = append(fs, cases.Fault{Path: path, Reason: fmt.Sprintf(format, args...)})
	}
	if s.Site != site.Key {
		bad("site", "must be %s", site.Key)
	}
	if site.Retired {
		bad("site", "%s takes no new sessions", site.Name)
	}
	switch {
	case s.On == 0:
		bad("on", "is needed: the day of the session")
	case s.On < today:
		bad("on", "lies in the past: %s", sayDay(s.On))
	case s.On > today+MostAhead:
		bad("on", "is more than two years ahead: %s. Check the year", sayDay(s.On))
	default:
		if open, why := site.Open(s.On, cal); !open {
			bad("on", "%s is closed on %s: %s", site.Name, sayDay(s.On), why)
		}
	}
	if s.Places < 1 || s.Places > mostPlaces {
		bad("places", "must be 1 to %d, not %d", mostPlaces, s.Places)
	}
	if s.Minutes < leastMinutes || s.Minutes > mostMinutes {
		bad("minutes", "of one place must be %d to %d, not %d", leastMinutes, mostMinutes, s.Minutes)
	}
	if s.ForRepeats < 0 || s.ForRepeats > s.Places {
		bad("for_repeats", "must be 0 to the %d places of the session, not %d", s.Places, s.ForRepeats)
	}
	start, end, ok := s.Span()
	if !ok {
		bad("start", "must be a time like 09:30 on the 24-hour clock, not %q", string(s.Start))
		return fs
	}
	if len(fs) > 0 {
		return fs // the end would be nonsense
	}
	s.timeFaults(bad, start, end, others, loc)
	return fs
}

func (s *Session) timeFaults(bad func(path, format string, args ...any), start, end int, others []Session, loc *time.Location) {
	if end > minutesADay {
		bad("places", "of %d minutes from %s would end after midnight", s.Minutes, s.Start)
		return
	}
	for i := range others {
		o := &others[i]
		if o.Cancelled || o.Site != s.Site || o.On != s.On || o.ID == s.ID {
			continue
		}
		if from, to, ok := o.Span(); ok && from < end && start < to {
			bad("start", "overlaps the session from %s to %s on the same day", o.Start, sayMinutes(to))
		}
	}
	for _, t := range []struct {
		path, what string
		minute     int
	}{{"start", "the start", start}, {"places", "the end", end}} {
		switch wallTime(loc, s.On, t.minute) {
		case wallSkipped:
			bad(t.path, "%s, %s, does not exist on %s: the clocks go forward", t.what, sayMinutes(t.minute), sayDay(s.On))
		case wallRepeated:
			bad(t.path, "%s, %s, comes twice on %s: the clocks go back", t.what, sayMinutes(t.minute), sayDay(s.On))
		}
	}
	if offsetAt(loc, s.On, start) != offsetAt(loc, s.On, end) && wallTime(loc, s.On, start) == wallOnce && wallTime(loc, s.On, end) == wallOnce {
		bad("start", "the clocks change between %s and %s on %s", s.Start, sayMinutes(end), sayDay(s.On))
	}
}

// sayMinutes writes minutes since midnight as a time; the end of the day is 24:00.
func sayMinutes(m int) string {
	if m == minutesADay {
		return "24:00"
	}
	return string(clockOf(m))
}

// sayDay writes a day with its weekday: Wed 18 Mar 2026.
func sayDay(d cases.Day) string { return d.Weekday().String()[:3] + " " + cases.Say(d) }
