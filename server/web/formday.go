package web

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
)

var (
	stepForm   = regexp.MustCompile(`^([+-])\s*(\d{1,3})\s*([dw])[a-z]*$`)
	isoForm    = regexp.MustCompile(`^(\d{4})-(\d{1,2})-(\d{1,2})$`)
	numberForm = regexp.MustCompile(`^(\d{1,2})[/. -](\d{1,2})[/. -](\d{2}|\d{4})$`)
	wordForm   = regexp.MustCompile(`^(?:[a-z]+\s+)?(\d{1,2})(?:st|nd|rd|th)?\s*([a-z]+)(?:\s+(\d{4}))?$`)
	usForm     = regexp.MustCompile(`^(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\s+)?([a-z]+)\s+(\d{1,2})(?:st|nd|rd|th)?(?:\s+(\d{4}))?$`)
	weekdays   = regexp.MustCompile(`^(mon|tue|wed|thu|fri|sat|sun)[a-z]*$`)
)

var monthNames = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}

// parseDay reads a date as people type it: 5 Mar 2026, March 5 2026, 5 march,
// 2026-03-05, today, tomorrow, yesterday, +2d, -1w. Dates of numbers alone are
// taken only when they can be read one way. Without a year the nearest one to
// today counts. The problem is a sentence in which % stands for the label.
func parseDay(text string, today cases.Day) (d cases.Day, problem string) {
	t := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer(",", " ", "\u00a0", " ").Replace(text)), " "))
	switch t {
	case "today":
		return today, ""
	case "tomorrow":
		return today + 1, ""
	case "yesterday":
		return today - 1, ""
	}
	if m := stepForm.FindStringSubmatch(t); m != nil {
		n, _ := strconv.Atoi(m[2])
		if m[3] == "w" {
			n *= 7
		}
		if m[1] == "-" {
			n = -n
		}
		return today + cases.Day(n), ""
	}
	if m := isoForm.FindStringSubmatch(t); m != nil {
		return realDay(m[1], m[2], m[3])
	}
	if m := numberForm.FindStringSubmatch(t); m != nil {
		return numbersOnly(text, m)
	}
	if m := wordForm.FindStringSubmatch(t); m != nil {
		if mon := monthOf(m[2]); mon > 0 && startsWell(t) {
			return worded(m[1], mon, m[3], today)
		}
	}
	if m := usForm.FindStringSubmatch(t); m != nil {
		if mon := monthOf(m[1]); mon > 0 {
			return worded(m[2], mon, m[3], today)
		}
	}
	return 0, "% must be a real date, like 5 Mar 2026"
}

// startsWell accepts a weekday in front of the day, and no other word.
func startsWell(t string) bool {
	first, _, _ := strings.Cut(t, " ")
	return first[0] >= '0' && first[0] <= '9' || weekdays.MatchString(first)
}

func monthOf(s string) int {
	if len(s) < 3 {
		return 0
	}
	if s == "sept" {
		return 9
	}
	for i, n := range monthNames {
		if strings.HasPrefix(n, s) {
			return i + 1
		}
	}
	return 0
}

// numbersOnly reads day and month from numbers when only one order is possible.
func numbersOnly(text string, m []string) (cases.Day, string) {
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[2])
	if len(m[3]) != 4 {
		return 0, "% must include a year of four figures, like 5 Mar 2026"
	}
	switch {
	case a > 12 && b <= 12:
		return realDay(m[3], m[2], m[1])
	case b > 12 && a <= 12 || a == b:
		return realDay(m[3], m[1], m[2])
	case a > 12 || b > 12 || a == 0 || b == 0:
		return 0, "% must be a real date, like 5 Mar 2026"
	}
	return 0, fmt.Sprintf("%s can mean %d %s or %s %d. Type the month in letters", strings.ReplaceAll(text, "%", ""),
		a, time.Month(b), time.Month(a), b)
}

func worded(day string, month int, year string, today cases.Day) (cases.Day, string) {
	if year != "" {
		return realDay(year, strconv.Itoa(month), day)
	}
	y, _, _ := today.Date()
	best, found := cases.Day(0), false
	for _, try := range []int{y - 1, y, y + 1} {
		d, problem := realDay(strconv.Itoa(try), strconv.Itoa(month), day)
		if problem == "" && (!found || apart(d, today) < apart(best, today)) {
			best, found = d, true
		}
	}
	if !found {
		return 0, "% must be a real date, like 5 Mar 2026"
	}
	return best, ""
}

func apart(a, b cases.Day) int {
	if a < b {
		a, b = b, a
	}
	return int(a - b)
}

func realDay(year, month, day string) (cases.Day, string) {
	y, _ := strconv.Atoi(year)
	m, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(day)
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if y < 1900 || y > 2200 || int(t.Month()) != m || t.Day() != d {
		return 0, "% must be a real date, like 5 Mar 2026"
	}
	return cases.MakeDay(y, time.Month(m), d), ""
}
