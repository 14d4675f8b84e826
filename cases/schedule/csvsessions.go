package schedule

import (
	"io"
	"slices"
	"strconv"
	"time"

	"dunlin/cases"
)

var sessionColumns = []string{"id", "site", "on", "start", "places", "minutes", "for_repeats", "note", "cancelled"}

// SessionsCSV writes sessions as a table, safe to open in a spreadsheet.
func SessionsCSV(sessions []Session) []byte {
	return writeTable(sessionColumns, len(sessions), func(i int) []string {
		s := &sessions[i]
		return []string{safeCell(s.ID), safeCell(s.Site), s.On.String(), string(s.Start), strconv.Itoa(s.Places), strconv.Itoa(s.Minutes),
			count(s.ForRepeats), safeCell(s.Note), yes(s.Cancelled)}
	})
}

// Reading is what a table of sessions is read against.
type Reading struct {
	Sites    []Site
	Existing []Session // of these sites: the rows must not overlap them; the same id is a change
	Today    cases.Day
	Calendar cases.Calendar
	Zone     *time.Location
}

// ReadSessions reads the table that SessionsCSV writes. site, on, start, places and
// minutes are needed; a row without id is a new session. Each row is checked like a
// session that is entered by hand, also against the rows above it; one that changes
// nothing always passes. Rows at fault are
// named and left out.
func ReadSessions(r io.Reader, against Reading) ([]Session, []cases.Fault) {
	t, faults := openTable(r, "site", "on", "start", "places", "minutes")
	if t == nil {
		return nil, faults
	}
	sites := make(map[string]*Site, len(against.Sites))
	for i := range against.Sites {
		sites[against.Sites[i].Key] = &against.Sites[i]
	}
	known := make(map[siteDay][]Session)
	at := make(map[string]siteDay)
	put := func(s Session) { // in the place of the one with the same id, wherever that was
		old := at[s.ID]
		known[old] = slices.DeleteFunc(known[old], func(o Session) bool { return o.ID == s.ID })
		k := siteDay{s.Site, s.On}
		at[s.ID] = k
		known[k] = append(known[k], s)
	}
	kept := make(map[string]Session, len(against.Existing))
	for _, s := range against.Existing {
		put(s)
		kept[s.ID] = s
	}
	var out []Session
	seen := map[string]bool{}
	for t.next() {
		before := t.count()
		s := Session{ID: t.cell("id"), Site: t.cell("site"), On: t.day("on"), Start: t.clock("start"), Places: t.whole("places"), Minutes: t.whole("minutes"),
			ForRepeats: t.whole("for_repeats"), Note: t.cell("note"), Cancelled: t.yes("cancelled")}
		if s.ID == "" {
			s.ID = NewSessionID(s.Site, s.On, s.Start)
		}
		site := sites[s.Site]
		switch {
		case t.count() > before:
			continue
		case site == nil:
			t.bad("site", "%q is no site of the program; add the site first", s.Site)
			continue
		case seen[s.ID]:
			t.bad("id", "%s comes twice", s.ID)
			continue
		}
		// A row that says what is kept already passes, although its day was closed since;
		// so does a note or a cancellation, as when it is entered by hand.
		if old, known := kept[s.ID]; known && sameShape(old, s) {
			seen[s.ID] = true
			put(s)
			out = append(out, s)
			continue
		}
		for _, f := range s.Faults(site, known[siteDay{s.Site, s.On}], against.Today, against.Calendar, against.Zone) {
			t.bad(f.Path, "%s", f.Reason)
		}
		if t.count() == before {
			seen[s.ID] = true
			put(s)
			out = append(out, s)
		}
	}
	return out, t.found()
}

func (t *tableReader) day(column string) cases.Day {
	c := t.cell(column)
	d, err := cases.ParseDay(c)
	if err != nil {
		t.bad(column, "%v", err)
	}
	return d
}

// clock reads a time; a spreadsheet may have taken the leading zero off.
func (t *tableReader) clock(column string) cases.Clock {
	c := t.cell(column)
	if len(c) == len("9:30") {
		c = "0" + c
	}
	k, err := cases.ParseClock(c)
	if err != nil {
		t.bad(column, "%v", err)
	}
	return k
}
