package letters

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// longDay is a day as "March 1, 2026", for what the program's own people read.
func longDay(d cases.Day) string { return d.Time().Format("January 2, 2006") }

// dates say days and times as the language of a letter does.
type dates struct{ w *templates.LetterWords }

// day is a day in long form; "" for none.
func (d dates) day(day cases.Day) string {
	if day == 0 {
		return ""
	}
	y, m, n := day.Date()
	return d.w.Date(y, int(m), n)
}

// weekDay is a day in long form with its day of the week; "" for none.
func (d dates) weekDay(day cases.Day) string {
	if day == 0 {
		return ""
	}
	y, m, n := day.Date()
	return d.w.WeekDate(int(day.Time().Weekday()), y, int(m), n)
}

// time is a clock time in words; "" for none.
func (d dates) time(c cases.Clock) string {
	t, err := time.Parse("15:04", string(c))
	if err != nil {
		return ""
	}
	return d.w.Time(t.Hour(), t.Minute())
}

// infantName is the infant's name as a family reads it: given name, family name.
func infantName(in *cases.Infant, w *templates.LetterWords) string {
	switch given, family := squeeze(in.Given), squeeze(in.Family); {
	case given != "":
		return strings.TrimSpace(given + " " + family)
	case family != "":
		return w.Baby(family)
	}
	return ""
}

// grams is a weight as people write it: 3,400 g.
func grams(g float64) string {
	n := strconv.FormatFloat(g, 'f', -1, 64)
	if whole := int(g); float64(whole) == g && whole >= 1000 {
		n = fmt.Sprintf("%d,%03d", whole/1000, whole%1000)
	}
	return n + " g"
}

// mmol is a concentration with its unit.
func mmol(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) + " mmol/L" }
