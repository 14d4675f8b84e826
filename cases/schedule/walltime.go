package schedule

import (
	"time"

	"dunlin/cases"
)

// wall says how often a time of the clock comes on a day.
type wall uint8

const (
	wallOnce     wall = iota
	wallSkipped       // the clocks jump over it
	wallRepeated      // the clocks are set back over it
)

// wallTime tells whether a time of a day exists in a zone, and whether it comes
// twice. The two offsets around it give the two moments it could be; those that read
// the same on the clock again are real.
func wallTime(loc *time.Location, d cases.Day, minute int) wall {
	utc := d.Time().Add(time.Duration(minute) * time.Minute)
	first := utc.Add(-offset(loc, utc.Add(-26*time.Hour)))
	second := utc.Add(-offset(loc, utc.Add(26*time.Hour)))
	n := 0
	if reads(loc, first, utc) {
		n++
	}
	if !second.Equal(first) && reads(loc, second, utc) {
		n++
	}
	switch n {
	case 0:
		return wallSkipped
	case 2:
		return wallRepeated
	}
	return wallOnce
}

func offset(loc *time.Location, t time.Time) time.Duration {
	_, s := t.In(loc).Zone()
	return time.Duration(s) * time.Second
}

// reads tells whether a moment shows on the clock of a zone what utc shows in UTC.
func reads(loc *time.Location, t, utc time.Time) bool {
	return t.Add(offset(loc, t)).Equal(utc)
}

// offsetAt is the zone's offset at a time of the clock that exists.
func offsetAt(loc *time.Location, d cases.Day, minute int) time.Duration {
	y, m, day := d.Date()
	return offset(loc, time.Date(y, time.Month(m), day, 0, minute, 0, 0, loc))
}
