package letters

import (
	"errors"
	"fmt"
	"strings"

	"dunlin/cases"
)

// variant picks which text of its kind a letter takes.
func (m *maker) variant() (string, error) {
	switch m.due.Kind {
	case cases.LetterRepeatNeeded:
		if m.a.Repeat == nil {
			return "", errors.New("no repeat is open any more")
		}
		switch m.a.Repeat.Because {
		case string(cases.QNS), string(cases.Intermediate):
			return m.a.Repeat.Because, nil
		}
		return "unclear", nil
	case cases.LetterReferral:
		if m.a.PresumptiveCF {
			return "presumptive", nil
		}
	case cases.LetterDoctorResult:
		t, err := m.test()
		if err != nil {
			return "", err
		}
		return string(t.Outcome), nil
	}
	return "", nil
}

// fill adds what every letter of a case says, and what its kind and occasion know.
func (m *maker) fill() error {
	c := m.c
	m.f["infant"], m.f["infant_born"] = infantName(&c.Infant, m.say.w), m.say.day(c.Infant.Born)
	if m.f["infant"] == "" {
		return errors.New("the infant has no name on record")
	}
	if d := c.PrimaryCare; d != nil {
		m.f["doctor"] = squeeze(d.Name)
	}
	switch m.due.Kind {
	case cases.LetterFirstNotice:
		return nil
	case cases.LetterBooking, cases.LetterReminder:
		return m.booking()
	case cases.LetterMissed:
		return m.missed()
	case cases.LetterRepeatNeeded:
		m.f["test_day"] = m.say.weekDay(m.a.Repeat.After)
		return nil
	case cases.LetterResult, cases.LetterCarrier:
		return m.result()
	case cases.LetterNoContact:
		m.f["call_by"] = m.say.weekDay(m.a.CallBy)
		return m.tried()
	case cases.LetterReferral, cases.LetterDoctorResult, cases.LetterCannotReach:
		return m.doctor()
	}
	return fmt.Errorf("letters of the kind %q are not made for a case", m.due.Kind)
}

// find looks up the booking of the occasion in a state.
func (m *maker) find(state string) *cases.Booking {
	for i := range m.c.Bookings {
		if b := &m.c.Bookings[i]; b.State == state && cases.BookingOccasion(b) == cases.BaseOccasion(m.due.Occasion) {
			return b
		}
	}
	return nil
}

func (m *maker) booking() error {
	b := m.find("booked")
	if b == nil || b.On < m.on {
		return errors.New("the booking is not there any more")
	}
	site, known := m.p.Sites[b.Site]
	switch {
	case b.At == "":
		return errors.New("the booking has no time")
	case b.Site == "":
		return errors.New("the booking has no test site")
	case !known:
		return fmt.Errorf("the test site %q is not described in the program's settings", b.Site)
	}
	m.f["visit_day"], m.f["visit_time"] = m.say.weekDay(b.On), m.say.time(b.At)
	m.f["site"], m.f["site_address"], m.f["site_phone"], m.f["site_note"] = site.Name, site.Address, site.Phone, oneLine(site.Note)
	return nil
}

// ahead is the next booking from a day, nil when there is none.
func (m *maker) ahead() *cases.Booking {
	var next *cases.Booking
	for i := range m.c.Bookings {
		if b := &m.c.Bookings[i]; b.State == "booked" && b.On >= m.on && (next == nil || b.On < next.On) {
			next = b
		}
	}
	return next
}

// missed says which test was not done, and the new day where one is booked.
func (m *maker) missed() error {
	b := m.find("missed")
	if b == nil {
		return errors.New("the missed booking is not there any more")
	}
	m.f["visit_day"], m.f["visit_time"], m.f["site"] = m.say.weekDay(b.On), m.say.time(b.At), m.p.Sites[b.Site].Name
	if next := m.ahead(); next != nil {
		m.f["next_day"], m.f["next_time"], m.f["next_site"] = m.say.weekDay(next.On), m.say.time(next.At), m.p.Sites[next.Site].Name
	}
	return nil
}

// test is the reading that the occasion names: its day, and its time where given.
func (m *maker) test() (*cases.TestReading, error) {
	day, rest, _ := strings.Cut(cases.BaseOccasion(m.due.Occasion), " ")
	for i := range m.a.Tests {
		t := &m.a.Tests[i]
		if t.On.String() != day || t.Deciding == nil || !t.Outcome.Graded() {
			continue
		}
		said, outcome, _ := strings.Cut(rest, " ")
		if !strings.Contains(said, ":") {
			said, outcome = "", rest
		}
		if said != "" && said != string(t.Test.At) || outcome != "" && outcome != string(t.Outcome) {
			continue
		}
		return t, nil
	}
	return nil, errors.New("the test that this letter is about has no such result any more")
}

// result is for a family whose test was below the band and whose letter a named person
// let go; anything else is not for a letter.
func (m *maker) result() error {
	t, err := m.test()
	if err != nil {
		return err
	}
	supported := m.a.Supports.Has(cases.SupCarrier)
	if m.due.Kind == cases.LetterResult {
		supported = supported || m.a.Supports.Has(cases.SupNotAffected)
	}
	if t.Outcome != cases.Unlikely || m.a.PresumptiveCF || !supported {
		return errors.New("the recorded evidence does not support this letter")
	}
	r := m.release()
	if r == nil {
		return errors.New("no licensed person has released this letter")
	}
	m.f["test_day"] = m.say.weekDay(t.On)
	m.f["released_by"], m.f["released_on"] = joinNonEmpty(", ", r.By, r.Licence), m.say.day(r.On)
	return nil
}

// release is the last release of the letter; nil when nobody has let it go.
func (m *maker) release() *cases.Release {
	for i := len(m.c.Releases) - 1; i >= 0; i-- {
		r := &m.c.Releases[i]
		if r.Covers(m.due.Kind, m.due.Occasion) && r.On <= m.on && squeeze(r.By) != "" {
			return r
		}
	}
	return nil
}

// means are how attempts are counted in words, in this order.
var means = []struct{ by, word string }{
	{"phone", "by phone"}, {"text", "by text"}, {"email", "by e-mail"}, {"letter", "by letter"}, {"certified-letter", "by certified letter"},
	{"visit", "by a visit"}, {"in-person", "in person"}, {"fax", "by fax"},
}

// tried tells since when the family was tried, and how. The occasion is the day from
// which contact was needed.
func (m *maker) tried() error {
	since, err := cases.ParseDay(cases.BaseOccasion(m.due.Occasion))
	if err != nil {
		since = 0
	}
	first := cases.Day(0)
	count := map[string]int{}
	for i := range m.c.Contacts {
		k := &m.c.Contacts[i]
		if k.With != cases.ToFamily || k.Reached || k.On < since || k.On > m.on || k.Outcome == "not mailed" {
			continue
		}
		if count[k.By]++; first == 0 || k.On < first {
			first = k.On
		}
	}
	if first == 0 {
		return errors.New("no attempt to reach the family is on record, so the letter must not say that there was one")
	}
	var tries []string
	for _, x := range means {
		if n := count[x.by]; n > 0 {
			tries = append(tries, plural(n, "time", "times")+" "+x.word)
		}
	}
	m.f["tried_from"], m.f["tries"] = m.say.day(first), inWords(tries)
	return nil
}

// inWords joins parts with commas and an "and".
func inWords(parts []string) string {
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return strings.Join(parts, "")
}

// oneLine makes text of several lines one sentence after the other.
func oneLine(s string) string {
	var out []string
	for line := range strings.Lines(s) {
		if line = squeeze(line); line != "" {
			out = append(out, line)
		}
	}
	return strings.Join(out, ". ")
}
