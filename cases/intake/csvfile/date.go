package csvfile

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

var (
	isoForm  = regexp.MustCompile(`^(\d{4})[-/.]?(\d{2})[-/.]?(\d{2})(?:[T ](\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?$`)
	numForm  = regexp.MustCompile(`^(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})(?:[T ](\d{1,2}):(\d{2})(?::\d{2})?)?$`)
	wordForm = regexp.MustCompile(`^(\d{1,2})[-/. ]+([A-Za-z]{3,9})\.?[-/., ]+(\d{4})$`)
	monForm  = regexp.MustCompile(`^([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})$`)
	months   = map[string]int{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12}
)

// date reads a date column. A date in numbers whose day and month can be swapped
// is not guessed: without the sender's date order the row goes to a person.
func (rd *rowReader) date(col string) intake.Moment {
	v := rd.cell(col)
	m := intake.Moment{Text: v, At: rd.at(col)}
	if v == "" {
		return m
	}
	day, clock, why := readDate(v, rd.s.DateOrder)
	if why != "" {
		m.Bad = why
		rd.problem(col, intake.Fault, fmt.Sprintf("The date %q %s.", intake.Shorten(v), why))
		return m
	}
	m.Day, m.Clock, m.Precision = day, clock, "day"
	if clock != "" {
		m.Precision = "minute"
	}
	return m
}

func readDate(v string, order intake.DateOrder) (cases.Day, cases.Clock, string) {
	if g := isoForm.FindStringSubmatch(v); g != nil {
		return made(g[1], g[2], g[3], g[4], g[5])
	}
	if g := wordForm.FindStringSubmatch(v); g != nil {
		return named(g[3], g[2], g[1])
	}
	if g := monForm.FindStringSubmatch(v); g != nil {
		return named(g[3], g[1], g[2])
	}
	g := numForm.FindStringSubmatch(v)
	if g == nil {
		return 0, "", "cannot be read; write it as 2026-03-05"
	}
	year, short := g[3], len(g[3]) == 2
	if short {
		if order == "" {
			return 0, "", "has a year of two figures, so it can be read in several ways; the sender's date order is not known"
		}
		year = "20" + year
	}
	a, _ := strconv.Atoi(g[1])
	b, _ := strconv.Atoi(g[2])
	switch {
	case order == intake.DayMonth:
		return made(year, g[2], g[1], g[4], g[5])
	case order == intake.MonthDay:
		return made(year, g[1], g[2], g[4], g[5])
	case a > 12 || a == b:
		return made(year, g[2], g[1], g[4], g[5])
	case b > 12:
		return made(year, g[1], g[2], g[4], g[5])
	}
	return 0, "", "can be read as day/month or month/day; the sender's date order is not known"
}

func named(year, month, day string) (cases.Day, cases.Clock, string) {
	n := months[strings.ToLower(month[:3])]
	if n == 0 {
		return 0, "", "has a month that cannot be read"
	}
	return made(year, strconv.Itoa(n), day, "", "")
}

func made(year, month, day, hour, minute string) (cases.Day, cases.Clock, string) {
	pad := func(s string) string {
		if len(s) == 1 {
			return "0" + s
		}
		return s
	}
	d, err := cases.ParseDay(year + "-" + pad(month) + "-" + pad(day))
	if err != nil {
		return 0, "", "is not a day of the calendar"
	}
	if hour == "" {
		return d, "", ""
	}
	c, err := cases.ParseClock(pad(hour) + ":" + minute)
	if err != nil {
		return 0, "", "has a time of day that does not exist"
	}
	return d, c, ""
}
