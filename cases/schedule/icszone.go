package schedule

import (
	"fmt"
	"time"
)

// zone writes the time zone of the appointments: every change of the clocks from the
// one in force at the first of them to the last, as the zone's own data has it, so
// that the file needs no other knowledge of the zone (RFC 5545, 3.6.5).
func (c *CalendarFile) zone(w *lines) error {
	if c.Zone == time.UTC || len(c.Appointments) == 0 {
		return nil
	}
	var first, last time.Time
	for i := range c.Appointments {
		start, end, err := c.Appointments[i].times(c.Zone)
		if err != nil {
			return err
		}
		if i == 0 || start.Before(first) {
			first = start
		}
		if end.After(last) {
			last = end
		}
	}
	// Whole years, so that the files of one year all say the same of the zone.
	from := time.Date(first.Year(), 1, 1, 0, 0, 0, 0, c.Zone)
	last = time.Date(last.Year()+1, 1, 1, 0, 0, 0, 0, c.Zone)
	w.add("BEGIN:VTIMEZONE")
	w.add("TZID:" + escape(c.Zone.String()))
	for t := from; t.Before(last); {
		begin, end := t.ZoneBounds()
		observance(w, t, begin)
		if end.IsZero() {
			break
		}
		t = end
	}
	w.add("END:VTIMEZONE")
	return nil
}

// observance writes what the clocks show at t, since begin.
func observance(w *lines, t, begin time.Time) {
	name, to := t.Zone()
	kind := "STANDARD"
	if t.IsDST() {
		kind = "DAYLIGHT"
	}
	from, start := to, "19700101T000000"
	if !begin.IsZero() {
		_, from = begin.Add(-time.Second).Zone()
		// The onset is told in the time that was in force before it.
		start = begin.UTC().Add(time.Duration(from) * time.Second).Format(localTime)
	}
	w.add("BEGIN:" + kind)
	w.add("DTSTART:" + start)
	w.add("TZOFFSETFROM:" + offsetText(from))
	w.add("TZOFFSETTO:" + offsetText(to))
	w.add("TZNAME:" + escape(name))
	w.add("END:" + kind)
}

// offsetText writes an offset in seconds east of Greenwich: -0600.
func offsetText(seconds int) string {
	sign := '+'
	if seconds < 0 {
		sign, seconds = '-', -seconds
	}
	out := fmt.Sprintf("%c%02d%02d", sign, seconds/3600, seconds/60%60)
	if s := seconds % 60; s != 0 {
		out += fmt.Sprintf("%02d", s)
	}
	return out
}
