package schedule

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"dunlin/cases"
)

// PutSessions adds sessions, or replaces those with their identifiers, all or none.
// Nothing booked loses its place: start and length stay while somebody is booked, and
// a place goes only when it is free. A session without an identifier gets one; its
// day is fixed by it.
func PutSessions(w cases.Writer, p *cases.Protocol, list ...Session) error {
	e := edit{w: w, p: p, months: map[string]*month{}}
	var faults []cases.Fault
	for i, s := range list {
		if s.ID == "" {
			s.ID = NewSessionID(s.Site, s.On, s.Start)
		}
		fs, err := e.put(s)
		if err != nil {
			return err
		}
		for _, f := range fs {
			if len(list) > 1 {
				f.Path = fmt.Sprintf("sessions[%d].%s", i, f.Path)
			}
			faults = append(faults, f)
		}
	}
	if len(faults) > 0 {
		return &cases.Error{Kind: cases.Invalid, Field: faults[0].Path, Text: "This session cannot be saved.", Faults: faults}
	}
	return e.write()
}

// edit gathers changes by site and month, so that each setting is written once.
type edit struct {
	w      cases.Writer
	p      *cases.Protocol
	months map[string]*month
	gone   []Session // cancelled by this change
}

type month struct {
	sessions []Session
	changes  []string // for the audit trail
}

func (e *edit) month(s *Session) (*month, error) {
	name := sessionsSetting(s.Site, s.On)
	if m, ok := e.months[name]; ok {
		return m, nil
	}
	list, err := setting[Session](e.w, name)
	m := &month{sessions: list}
	e.months[name] = m
	return m, err
}

func (e *edit) put(s Session) ([]cases.Fault, error) {
	site, err := SiteByKey(e.w, s.Site)
	if err != nil {
		return nil, err
	}
	if s.On <= 0 {
		return []cases.Fault{{Path: "on", Reason: "is needed: the day of the session"}}, nil
	}
	if !strings.HasPrefix(s.ID, NewSessionID(s.Site, s.On, "")) {
		return []cases.Fault{{Path: "on", Reason: "cannot change: cancel the session and make one on the other day"}}, nil
	}
	m, err := e.month(&s)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(m.sessions, func(x Session) bool { return x.ID == s.ID })
	if i >= 0 && m.sessions[i] == s {
		return nil, nil
	}
	if i < 0 || !sameShape(m.sessions[i], s) {
		if fs := s.Faults(&site, m.sessions, e.w.Today(), e.p.Calendar(), e.w.Now().Location()); len(fs) > 0 {
			return fs, nil
		}
	}
	if i < 0 {
		m.sessions = append(m.sessions, s)
		m.changes = append(m.changes, "added "+s.ID)
		return nil, nil
	}
	if err := keepsBooked(e.w, &m.sessions[i], &s); err != nil {
		return nil, err
	}
	m.changes = append(m.changes, "changed "+s.ID+": "+differences(&m.sessions[i], &s))
	if s.Cancelled && !m.sessions[i].Cancelled {
		e.gone = append(e.gone, s)
	}
	m.sessions[i] = s
	return nil, nil
}

// write keeps each month that changed, in order, with a line for the audit trail.
func (e *edit) write() error {
	for _, name := range slices.Sorted(maps.Keys(e.months)) {
		m := e.months[name]
		if len(m.changes) == 0 {
			continue
		}
		slices.SortFunc(m.sessions, sessionOrder)
		if err := putSetting(e.w, name, m.sessions); err != nil {
			return err
		}
		if err := e.w.Note(cases.Event{Kind: "session-changed", Text: "Sessions " + strings.Join(m.changes, "; ")}); err != nil {
			return err
		}
	}
	for i := range e.gone { // no family is called to them by a letter that has not left
		s := &e.gone[i]
		if err := HoldStranded(e.w, e.p.Calendar(), s.Site, s.On, s.On); err != nil {
			return err
		}
	}
	return nil
}

// sameShape tells whether nothing changed that could be at fault: a note, or a
// cancellation, can be entered for any session.
func sameShape(old, s Session) bool {
	s.Note = old.Note
	if s.Cancelled {
		s.Cancelled = old.Cancelled
	}
	return old == s
}

// keepsBooked refuses a change that takes a place from somebody.
func keepsBooked(r cases.Reader, old, s *Session) error {
	places, err := BookedIn(r, old)
	if err != nil {
		return err
	}
	var lose []string
	for i, booked := range places {
		if i < s.Places && s.Start == old.Start && s.Minutes == old.Minutes {
			continue
		}
		for _, b := range booked {
			lose = append(lose, fmt.Sprintf("%s (%s)", b.Reference, b.At))
		}
	}
	if len(lose) == 0 {
		return nil
	}
	return &cases.Error{Kind: cases.Refused, Field: "places", Text: fmt.Sprintf(
		"Booked in places that would go or change their time: %s. Move or cancel these bookings first; nothing was changed.", strings.Join(lose, ", "))}
}

// RemoveSession takes away a session that nobody is booked in, such as a mistake.
func RemoveSession(w cases.Writer, site string, on cases.Day, id string) error {
	name := sessionsSetting(site, on)
	month, err := setting[Session](w, name)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(month, func(x Session) bool { return x.ID == id })
	if i < 0 {
		return cases.Errorf(cases.NotFound, "There is no such session.")
	}
	gone := month[i]
	gone.Places = 0
	if err := keepsBooked(w, &month[i], &gone); err != nil {
		return err
	}
	if err := putSetting(w, name, slices.Delete(month, i, i+1)); err != nil {
		return err
	}
	return w.Note(cases.Event{Kind: "session-changed", Text: "Sessions removed " + id})
}

// differences says what changed, for the audit trail.
func differences(old, s *Session) string {
	var out []string
	add := func(what string, a, b any) {
		if a != b {
			out = append(out, fmt.Sprintf("%s %v to %v", what, a, b))
		}
	}
	add("start", old.Start, s.Start)
	add("places", old.Places, s.Places)
	add("minutes", old.Minutes, s.Minutes)
	add("for repeats", old.ForRepeats, s.ForRepeats)
	add("cancelled", old.Cancelled, s.Cancelled)
	if old.Note != s.Note {
		out = append(out, "note")
	}
	return strings.Join(out, ", ")
}
