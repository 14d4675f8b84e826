package templates

import (
	"fmt"
	"time"
)

// Date is a civil date for display. The zero Date means that there is none.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// nbsp keeps the parts of a date, and a number and its unit, on one line.
const nbsp = "\u00a0"

// DateOf makes a Date from the ISO form 2006-01-02; anything else gives the
// zero Date.
func DateOf(iso string) Date {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return Date{}
	}
	return Date{t.Year(), t.Month(), t.Day()}
}

// IsZero reports whether there is no date.
func (d Date) IsZero() bool { return d.Year == 0 }

func (d Date) time() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// ISO is the date as 2026-03-05, or "".
func (d Date) ISO() string {
	if d.IsZero() {
		return ""
	}
	return d.time().Format(time.DateOnly)
}

// String is the date as 5 Mar 2026, with plain spaces, as it is typed in forms.
func (d Date) String() string { return d.format("2 Jan 2006", "") }

// Weekday is the date as Thu 5 Mar 2026, with plain spaces.
func (d Date) Weekday() string { return d.format("Mon 2 Jan 2006", "") }

// Long is the date as Thursday 5 March 2026.
func (d Date) Long() string { return d.format("Monday 2 January 2006", "") }

// Short is the date as 5 Mar, for lists of the last 60 days.
func (d Date) Short() string { return d.format("2 Jan", "") }

// AddDays is the date n days later.
func (d Date) AddDays(n int) Date {
	if d.IsZero() {
		return d
	}
	t := d.time().AddDate(0, 0, n)
	return Date{t.Year(), t.Month(), t.Day()}
}

func (d Date) format(layout, none string) string {
	if d.IsZero() {
		return none
	}
	return d.time().Format(layout)
}

// Days is n with its unit: "1 day", "43 days".
func Days(n int) string { return Count(n, "day", "days") }

// Count is n with the right form of a noun.
func Count(n int, one, many string) string {
	if n == 1 || n == -1 {
		return fmt.Sprintf("%d%s%s", n, nbsp, one)
	}
	return Thousands(n) + nbsp + many
}

// Thousands is n with a comma from 1,000 on.
func Thousands(n int) string {
	if n < 0 {
		return "-" + Thousands(-n)
	}
	if n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%s,%03d", Thousands(n/1000), n%1000)
}

// Age is an age in days as it is shown: days up to day 90, weeks after that.
func Age(days int) string {
	if days <= 90 {
		return Days(days)
	}
	return Count(days/7, "week", "weeks")
}

// Kg is a weight in grams shown in kilograms with two decimals: "2.31 kg".
func Kg(g int) string { return fmt.Sprintf("%d.%02d%skg", (g+5)/1000, (g+5)%1000/10, nbsp) }
