package cases

import (
	"fmt"
	"strconv"
	"time"
)

// Day is a civil date without a zone, counted in days: 1 is 0001-01-01 of the
// Gregorian calendar and 0 means "no day". Differences are whole days, so an age
// never depends on hours or daylight saving.
type Day int32

// MakeDay returns the day of a calendar date; the date must exist.
func MakeDay(year int, month time.Month, day int) Day {
	return DayOf(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// DayOf returns the civil date that a moment has in its own zone.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return civil(y, int(m), d)
}

// civil counts days since 0001-01-01 (day 1) with the usual shift of the year to
// March, so that the leap day comes last.
func civil(y, m, d int) Day {
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*(m-3)+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return Day(era*146097 + doe - 305)
}

// Date splits a day into year, month and day of the month.
func (d Day) Date() (year, month, day int) {
	n := int(d) + 305
	era := n / 146097
	doe := n - era*146097
	yoe := (doe - doe/1460 + doe/36524 - doe/146096) / 365
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	day = doy - (153*mp+2)/5 + 1
	month = mp + 3
	year = yoe + era*400
	if month > 12 {
		month -= 12
		year++
	}
	return year, month, day
}

// Weekday returns the day of the week.
func (d Day) Weekday() time.Weekday { return time.Weekday((int(d) % 7)) }

// AddMonths goes n months on to the same day of the month, or to the last day of a
// month that is shorter: a month after 31 January is the end of February.
func (d Day) AddMonths(n int) Day {
	y, m, day := d.Date()
	first := DayOf(time.Date(y, time.Month(m+n), 1, 0, 0, 0, 0, time.UTC))
	next := DayOf(time.Date(y, time.Month(m+n+1), 1, 0, 0, 0, 0, time.UTC))
	return min(first+Day(day-1), next-1)
}

// Time returns midnight UTC of the day, for formatting only.
func (d Day) Time() time.Time {
	y, m, dd := d.Date()
	return time.Date(y, time.Month(m), dd, 0, 0, 0, 0, time.UTC)
}

// ParseDay reads YYYY-MM-DD and refuses dates that the calendar does not have.
func ParseDay(s string) (Day, error) {
	if len(s) == 10 && s[4] == '-' && s[7] == '-' {
		y, e1 := strconv.Atoi(s[:4])
		m, e2 := strconv.Atoi(s[5:7])
		d, e3 := strconv.Atoi(s[8:])
		if e1 == nil && e2 == nil && e3 == nil && y >= 1 && m >= 1 && m <= 12 && d >= 1 {
			day := civil(y, m, d)
			if yy, mm, dd := day.Date(); yy == y && mm == m && dd == d {
				return day, nil
			}
			return 0, fmt.Errorf("%q is not a day of the calendar", s)
		}
	}
	return 0, fmt.Errorf("must be a date like 2026-03-05, not %q", s)
}

// String gives YYYY-MM-DD, and "" for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	var b [10]byte
	return string(d.append(b[:0]))
}

func (d Day) append(b []byte) []byte {
	y, m, dd := d.Date()
	return append(b,
		byte('0'+y/1000%10), byte('0'+y/100%10), byte('0'+y/10%10), byte('0'+y%10), '-',
		byte('0'+m/10), byte('0'+m%10), '-', byte('0'+dd/10), byte('0'+dd%10))
}

// MarshalJSON gives "YYYY-MM-DD", or null for no day.
func (d Day) MarshalJSON() ([]byte, error) {
	if d == 0 {
		return []byte("null"), nil
	}
	b := make([]byte, 0, 12)
	b = append(b, '"')
	b = d.append(b)
	return append(b, '"'), nil
}

// UnmarshalJSON reads "YYYY-MM-DD" or null.
func (d *Day) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*d = 0
		return nil
	}
	if len(b) < 2 || b[0] != '"' {
		return fmt.Errorf("must be a date like \"2026-03-05\"")
	}
	v, err := ParseDay(string(b[1 : len(b)-1]))
	*d = v
	return err
}

// Gestation is a gestational age in whole days; 0 means not known. Its text form
// is "39w2d".
type Gestation int16

// ParseGestation reads weeks and days such as "39w2d".
func ParseGestation(s string) (Gestation, error) {
	var w, d int
	if len(s) == 5 && s[2] == 'w' && s[4] == 'd' {
		var e1, e2 error
		w, e1 = strconv.Atoi(s[:2])
		d, e2 = strconv.Atoi(s[3:4])
		if e1 == nil && e2 == nil && w > 0 && d <= 6 {
			return Gestation(w*7 + d), nil
		}
	}
	return 0, fmt.Errorf("must be weeks and days like \"39w2d\", not %q", s)
}

// String gives "39w2d", and "" when not known.
func (g Gestation) String() string {
	if g == 0 {
		return ""
	}
	return fmt.Sprintf("%02dw%dd", int(g)/7, int(g)%7)
}

// MarshalJSON gives the text form, or null.
func (g Gestation) MarshalJSON() ([]byte, error) {
	if g == 0 {
		return []byte("null"), nil
	}
	return []byte(`"` + g.String() + `"`), nil
}

// UnmarshalJSON reads the text form or null.
func (g *Gestation) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*g = 0
		return nil
	}
	if len(b) < 2 || b[0] != '"' {
		return fmt.Errorf("must be weeks and days like \"39w2d\"")
	}
	v, err := ParseGestation(string(b[1 : len(b)-1]))
	*g = v
	return err
}

// Clock is a wall-clock time "HH:MM" local to the infant's place; "" means not
// known. Two clocks of one day compare as text.
type Clock string

// ParseClock reads HH:MM on the 24-hour clock.
func ParseClock(s string) (Clock, error) {
	if len(s) == 5 && s[2] == ':' {
		h, e1 := strconv.Atoi(s[:2])
		m, e2 := strconv.Atoi(s[3:])
		if e1 == nil && e2 == nil && h >= 0 && h < 24 && m >= 0 && m < 60 && s[0] != '+' && s[0] != '-' && s[3] != '+' && s[3] != '-' {
			return Clock(s), nil
		}
	}
	return "", fmt.Errorf("must be a time like \"09:40\" on the 24-hour clock, not %q", s)
}
