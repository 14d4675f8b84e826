package schedule

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"

	"dunlin/cases"
)

// Sites and sessions are kept as settings of the program: all sites in one, the
// sessions of a site in one for each month.

const sitesSetting = "sites"

func sessionsSetting(site string, d cases.Day) string {
	return "sessions " + site + " " + d.String()[:len("2026-03")]
}

// Sites lists the program's test sites in order of key.
func Sites(r cases.Reader) ([]Site, error) { return setting[Site](r, sitesSetting) }

// SiteByKey reads one site; NotFound when there is none.
func SiteByKey(r cases.Reader, key string) (Site, error) {
	list, err := Sites(r)
	if err != nil {
		return Site{}, err
	}
	if i := slices.IndexFunc(list, func(s Site) bool { return s.Key == key }); i >= 0 {
		return list[i], nil
	}
	return Site{}, cases.Errorf(cases.NotFound, "There is no test site %q.", key)
}

func setting[T any](r cases.Reader, name string) ([]T, error) {
	value, ok, err := r.Setting(name)
	if err != nil || !ok {
		return nil, err
	}
	var list []T
	if err := json.Unmarshal(value, &list); err != nil {
		return nil, fmt.Errorf("setting %s: %w", name, err)
	}
	return list, nil
}

func putSetting[T any](w cases.Writer, name string, list []T) error {
	value, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("setting %s: %w", name, err)
	}
	return w.PutSetting(name, value)
}

// PutSite adds a site or replaces the one with its key. What is booked there stays;
// Stranded tells which bookings then lie on a closed day.
func PutSite(w cases.Writer, s Site) error { return PutSites(w, s) }

// PutSites is PutSite for many, all or none, read and written once.
func PutSites(w cases.Writer, sites ...Site) error {
	list, err := Sites(w)
	if err != nil {
		return err
	}
	at := make(map[string]int, len(list)+len(sites))
	for i := range list {
		at[list[i].Key] = i
	}
	for _, s := range sites {
		if fs := s.Faults(); len(fs) > 0 {
			return &cases.Error{Kind: cases.Invalid, Field: fs[0].Path, Text: "This site cannot be saved.", Faults: fs}
		}
		text := "Test site added: " + s.Key
		if i, found := at[s.Key]; found {
			list[i], text = s, "Test site changed: "+s.Key
		} else {
			at[s.Key] = len(list)
			list = append(list, s)
		}
		if err := w.Note(cases.Event{Kind: "site-changed", Text: text}); err != nil {
			return err
		}
	}
	slices.SortFunc(list, func(a, b Site) int { return cmp.Compare(a.Key, b.Key) })
	return putSetting(w, sitesSetting, list)
}

// Sessions lists the sessions of a site on from to to, both included, cancelled ones
// too, in order of day, start and identifier. At most ten years are read.
func Sessions(r cases.Reader, site string, from, to cases.Day) ([]Session, error) {
	var out []Session
	from = max(from, 1)
	for d := from; d <= min(to, from+3653); d = nextMonth(d) {
		list, err := setting[Session](r, sessionsSetting(site, d))
		if err != nil {
			return nil, err
		}
		for _, s := range list {
			if s.On >= from && s.On <= to {
				out = append(out, s)
			}
		}
	}
	return out, nil
}

// SessionByID reads one session of a site on a day; NotFound when there is none.
func SessionByID(r cases.Reader, site string, on cases.Day, id string) (Session, error) {
	list, err := Sessions(r, site, on, on)
	if err != nil {
		return Session{}, err
	}
	if i := slices.IndexFunc(list, func(s Session) bool { return s.ID == id }); i >= 0 {
		return list[i], nil
	}
	return Session{}, cases.Errorf(cases.NotFound, "There is no such session.")
}

func nextMonth(d cases.Day) cases.Day {
	_, m, day := d.Date()
	first := d - cases.Day(day) + 1
	next := first + 28
	for _, nm, _ := next.Date(); nm == m; _, nm, _ = next.Date() {
		next++
	}
	return next
}

func sessionOrder(a, b Session) int {
	return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.Start, b.Start), cmp.Compare(a.ID, b.ID))
}

// over is the number of the place that a time lies in, -1 when it lies outside.
func (s *Session) over(at cases.Clock) int {
	start, end, ok := s.Span()
	t, ok2 := minutesOf(at)
	if !ok || !ok2 || t < start || t >= end || s.Minutes <= 0 {
		return -1
	}
	return (t - start) / s.Minutes
}

// BookedIn gives who has the places of a session: one list a place, by number. A
// booking made by hand at a time within a place takes that place.
func BookedIn(r cases.Reader, s *Session) ([][]cases.Booked, error) {
	out := make([][]cases.Booked, max(0, s.Places))
	for b, err := range r.BookedAt(s.Site, s.On, s.On) {
		if err != nil {
			return nil, err
		}
		if i := s.over(b.At); i >= 0 && i < len(out) {
			out[i] = append(out[i], b)
		}
	}
	return out, nil
}
