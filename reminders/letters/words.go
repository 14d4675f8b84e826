package letters

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
)

// Letters to families spell dates and times out.

// longDay is a day as "March 1, 2026".
func longDay(d cases.Day) string { return d.Time().Format("January 2, 2006") }

// weekDay is a day as "Sunday, March 1, 2026".
func weekDay(d cases.Day) string { return d.Time().Format("Monday, January 2, 2006") }

// timeInWords is a clock time as "9:30 in the morning".
func timeInWords(c cases.Clock) string {
	t, err := time.Parse("15:04", string(c))
	if err != nil {
		return ""
	}
	h, m := t.Hour(), t.Minute()
	switch {
	case h == 12 && m == 0:
		return "12 noon"
	case h == 0 && m == 0:
		return "midnight"
	}
	part := "in the morning"
	switch {
	case h >= 18:
		part = "in the evening"
	case h >= 12:
		part = "in the afternoon"
	}
	clock := strconv.Itoa((h+11)%12 + 1)
	if m != 0 {
		clock += fmt.Sprintf(":%02d", m)
	}
	return clock + " " + part
}

// infantName is the infant's name as a family reads it: given name, family name.
func infantName(in *cases.Infant) string {
	switch given, family := squeeze(in.Given), squeeze(in.Family); {
	case given != "":
		return strings.TrimSpace(given + " " + family)
	case family != "":
		return "Baby " + family
	}
	return ""
}
