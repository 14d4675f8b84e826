package schedule

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// PutSessions adds sessions, or replaces those with their identifiers, all or none.
// Nothing booked loses its place: start and length stay while somebody is booked, and
// a place goes only when it is free. A session without an identifier gets one; its
// day is fixed by it.
func PutSessions(w cases.Writer, p *cases.Protocol, list ...Session) error {
	var faults []cases.Fault
	for i, s := range list {
		if s.ID == "" {
			s.ID = NewSessionID(s.Site, s.On, s.Start)
		}
		fs, err := putSession(w, p, s)
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
	if len(faults) == 0 {
		return nil
	}
	return &cases.Error{Kind: cases.Invalid, Field: faults[0].Path, Text: "This session cannot be saved.", Faults: faults}
}

func putSession(w cases.Writer, p *cases.Protocol, s Session) ([]cases.Fault, error) {
	site, err := SiteByKey(w, s.Site)
	if err != nil {
		return nil, err
	}
	if s.On <= 0 {
		return []cases.Fault{{Path: "on", Reason: "is needed: the day of the session"}}, nil
	}
	if !strings.HasPrefix(s.ID, NewSessionID(s.Site, s.On, "")) {
		return []cases.Fault{{Path: "on", Reason: "cannot change: cancel the session and make one on the other day"}}, nil
	}
	name := sessionsSetting(s.Site, s.On)
	month, err := setting[Session](w, name)
	if err != nil {
		return nil, err
	}
	var old *Session
	others := slices.DeleteFunc(slices.Clone(month), func(x Session) bool {
		if x.ID == s.ID {
			old = &x
		}
		return x.ID == s.ID
	})
	if old == nil || !sameShape(*old, s) {
		if fs := s.Faults(&site, others, w.Today(), p.Calendar(), w.Now().Location()); len(fs) > 0 {
			return fs, nil
		}
	}
	text := "Session added: " + s.ID
	if old != nil {
		if *old == s {
			return nil, nil
		}
		if err := keepsBooked(w, old, &s); err != nil {
			return nil, err
		}
		text = "Session changed: " + s.ID + differences(old, &s)
	}
	others = append(others, s)
	slices.SortFunc(others, sessionOrder)
	if err := putSetting(w, name, others); err != nil {
		return nil, err
	}
	return nil, w.Note(cases.Event{Kind: "session-changed", Text: text})
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
	return w.Note(cases.Event{Kind: "session-changed", Text: "Session removed: " + id})
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
	return "; " + strings.Join(out, ", ")
}
