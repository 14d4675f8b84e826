package letters

import (
	"errors"
	"strconv"
	"strings"

	"dunlin/cases"
)

// doctor adds what letters to primary care say: who the infant is, what is on record
// and what is needed by when.
func (m *maker) doctor() error {
	d := m.c.PrimaryCare
	if d == nil || squeeze(d.Name+d.Practice) == "" {
		return errors.New("no primary care doctor is on record")
	}
	if m.f["doctor"] == "" {
		m.f["doctor"] = squeeze(d.Practice)
	}
	if m.c.Family != nil {
		m.f["mother"] = squeeze(m.c.Family.Mother)
	}
	for _, r := range m.c.Infant.Records {
		if r.Number != "" {
			m.f["record"] = squeeze(r.Number)
			if r.Authority != "" {
				m.f["record"] += " (" + squeeze(r.Authority) + ")"
			}
			break
		}
	}
	m.f["test_by"] = m.say.day(m.a.Clocks.FirstTest.Due)
	if r := m.a.Repeat; r != nil {
		m.f["test_by"] = m.say.day(r.Due)
	}
	switch m.due.Kind {
	case cases.LetterReferral:
		m.screen()
	case cases.LetterDoctorResult:
		return m.doctorResult()
	case cases.LetterCannotReach:
		return m.tried()
	}
	return nil
}

// screen adds the screen as reported, and the booking ahead.
func (m *maker) screen() {
	m.f["screen_reason"] = m.c.ScreenReason(&m.a.Genotype)
	m.f["test_from"] = m.say.day(max(m.a.Readiness.AgeFrom, m.a.Readiness.GestationFrom))
	if s := m.c.Referral.Screen; s != nil {
		m.f["laboratory"], m.f["specimen"] = squeeze(s.Laboratory), squeeze(s.Accession)
		switch {
		case s.IRTNgML != nil:
			m.f["irt"] = strconv.FormatFloat(*s.IRTNgML, 'f', -1, 64) + " ng/mL"
		case squeeze(s.IRTText) != "":
			m.f["irt"] = squeeze(s.IRTText)
		}
	}
	if g := m.c.Genotype; g != nil {
		var names []string
		for _, v := range g.Variants {
			if name := squeeze(v.Name); name != "" && v.Reported <= m.on {
				names = append(names, name)
			}
		}
		m.f["variants"] = strings.Join(names, ", ")
	}
	if b := m.ahead(); b != nil {
		m.f["visit_day"], m.f["visit_time"], m.f["site"] = m.say.weekDay(b.On), m.say.time(b.At), m.p.Sites[b.Site].Name
	}
}

// doctorResult adds the values of the test, as recorded.
func (m *maker) doctorResult() error {
	t, err := m.test()
	if err != nil {
		return err
	}
	m.f["test_day"], m.f["chloride"] = m.say.weekDay(t.On), mmol(*t.Deciding)
	var arms []string
	for _, arm := range t.Test.Arms {
		if arm.Chloride != nil {
			arms = append(arms, arm.Side+" "+mmol(*arm.Chloride))
			continue
		}
		arms = append(arms, arm.Side+" not enough sweat or no value")
	}
	m.f["arms"] = strings.Join(arms, ", ")
	if r := m.a.Repeat; r != nil && r.After == t.On {
		m.f["repeat_by"] = m.say.day(r.Due)
	}
	return nil
}
