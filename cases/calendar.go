package cases

import (
	"slices"
	"time"
)

// Calendar knows which days nobody works. The zero Calendar has the United
// States federal holidays as observed; a program may give its own list instead.
type Calendar struct {
	own  bool
	days []Day // sorted, when own
}

// NewCalendar makes a calendar of exactly these holidays.
func NewCalendar(days []Day) Calendar {
	d := slices.Clone(days)
	slices.Sort(d)
	return Calendar{own: true, days: d}
}

// Days returns the own list, and whether there is one.
func (c Calendar) Days() ([]Day, bool) { return c.days, c.own }

// Holiday tells whether the day is a holiday.
func (c Calendar) Holiday(d Day) bool {
	if c.own {
		_, ok := slices.BinarySearch(c.days, d)
		return ok
	}
	return FederalHoliday(d)
}

// Working tells whether the day is Monday to Friday and no holiday.
func (c Calendar) Working(d Day) bool {
	if !c.own {
		return federalWorking(d)
	}
	return !weekend(d) && !c.Holiday(d)
}

func weekend(d Day) bool { return d.Weekday() == time.Saturday || d.Weekday() == time.Sunday }

// Add goes n working days forward; the start day does not count, and n = 0 leaves
// the day alone. Going back (n < 0) counts the same way.
func (c Calendar) Add(d Day, n int) Day {
	step := Day(1)
	if n < 0 {
		step, n = -1, -n
	}
	for n > 0 {
		d += step
		if c.Working(d) {
			n--
		}
	}
	return d
}

// Between counts the working days after from and up to to; 0 when to is not after
// from. It is the way back of Add from a working day.
func (c Calendar) Between(from, to Day) int {
	n := 0
	for d := from + 1; d <= to; d++ {
		if c.Working(d) {
			n++
		}
	}
	return n
}

// FederalHoliday tells whether a weekday is a United States federal holiday as
// observed: 5 U.S.C. 6103(a); a holiday on Saturday is kept on the Friday before,
// one on Sunday on the Monday after.
func FederalHoliday(d Day) bool {
	switch d.Weekday() {
	case time.Saturday, time.Sunday:
		return fixedHoliday(d)
	case time.Friday:
		if fixedHoliday(d + 1) {
			return true
		}
	case time.Monday:
		if fixedHoliday(d - 1) {
			return true
		}
	}
	return fixedHoliday(d) || floatingHoliday(d)
}

func fixedHoliday(d Day) bool {
	_, m, day := d.Date()
	switch time.Month(m) {
	case time.January:
		return day == 1
	case time.June:
		return day == 19
	case time.July:
		return day == 4
	case time.November:
		return day == 11
	case time.December:
		return day == 25
	}
	return false
}

func floatingHoliday(d Day) bool {
	_, m, day := d.Date()
	nth := (day-1)/7 + 1
	switch w := d.Weekday(); {
	case w == time.Thursday:
		return time.Month(m) == time.November && nth == 4
	case w != time.Monday:
		return false
	}
	switch time.Month(m) {
	case time.January, time.February:
		return nth == 3
	case time.May:
		return day > 24
	case time.September:
		return nth == 1
	case time.October:
		return nth == 2
	}
	return false
}
