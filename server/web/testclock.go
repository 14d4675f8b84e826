package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
)

func minuteOf(c cases.Clock) int {
	h, _ := strconv.Atoi(string(c[:2]))
	m, _ := strconv.Atoi(string(c[3:]))
	return h*60 + m
}

// moments are the moments that a time of the clock on a day can be: none in the hour
// that the clocks skip, two in the hour that comes twice.
func moments(zone *time.Location, on cases.Day, at cases.Clock) []time.Time {
	wall := on.Time().Add(time.Duration(minuteOf(at)) * time.Minute)
	var out []time.Time
	for _, near := range []time.Duration{-26 * time.Hour, 26 * time.Hour} {
		_, off := wall.Add(near).In(zone).Zone()
		t := wall.Add(-time.Duration(off) * time.Second)
		if _, now := t.In(zone).Zone(); now == off && !slices.ContainsFunc(out, t.Equal) {
			out = append(out, t)
		}
	}
	return out
}

// lasted is a length that a collection can have had.
type lasted struct {
	minutes  int
	midnight bool // it ended on the next day
}

// collected are the lengths, of at most two hours, that a collection between two
// times of the clock can have had. It begins on the day, and may end past midnight.
// Without a day the clocks run on evenly.
func collected(zone *time.Location, on cases.Day, began, ended cases.Clock) []lasted {
	if on == 0 {
		on, zone = 1, time.UTC
	}
	var out []lasted
	for _, late := range []cases.Day{0, 1} {
		for _, from := range moments(zone, on, began) {
			for _, to := range moments(zone, on+late, ended) {
				x := lasted{int(to.Sub(from).Minutes()), late == 1}
				if x.minutes > 0 && x.minutes <= mostMinutes && !slices.ContainsFunc(out, func(y lasted) bool { return y.minutes == x.minutes }) {
					out = append(out, x)
				}
			}
		}
		if len(out) > 0 {
			break
		}
	}
	slices.SortFunc(out, func(a, b lasted) int { return a.minutes - b.minutes })
	return out
}

func lastedWords(list []lasted) string {
	words := make([]string, len(list))
	for i, x := range list {
		words[i] = strconv.Itoa(x.minutes)
	}
	return strings.Join(words, " or ")
}

// real reads a time of day that the clocks showed on the day of the test.
func (r *testReader) real(name, label string) cases.Clock {
	c := r.time(name, label)
	if c != "" && r.test.On != 0 && len(moments(r.zone, r.test.On, c)) == 0 {
		r.fail(name, "%s %s: the clocks skipped that time on %s. Check it", label, c, shortDay(r.test.On))
		return ""
	}
	return c
}

// shiftDays are the days of the year up to today on which the clocks were changed.
func shiftDays(zone *time.Location, today cases.Day) []string {
	out := []string{}
	for d := today - 366; d <= today; d++ {
		y, m, day := d.Date()
		if noon := time.Date(y, time.Month(m), day, 0, 0, 0, 0, zone); time.Date(y, time.Month(m), day+1, 0, 0, 0, 0, zone).Sub(noon) != 24*time.Hour {
			out = append(out, fmt.Sprint(d))
		}
	}
	return out
}
