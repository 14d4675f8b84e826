package web

import (
	"fmt"
	"math"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"dunlin/cases"
	"dunlin/templates"
)

// form reads the named fields of a request's body, collects a problem for each
// that cannot be used, and keeps what was typed so that it can be shown again.
// Fields that nobody asks for are ignored; ids come from the route.
type form struct {
	values   url.Values
	today    cases.Day
	problems []templates.Problem
	errs     map[string]string // by name of the field
}

// readForm is the form of a request; the body was read by the middleware.
func (s *server) readForm(c Ctx) *form {
	return &form{values: c.Request().PostForm, today: s.today(), errs: map[string]string{}}
}

// ok tells whether no problem was found so far.
func (f *form) ok() bool { return len(f.problems) == 0 }

// fail notes a problem of a field, once a field. id is where the summary leads.
func (f *form) fail(id, format string, args ...any) {
	f.failAt(id, id, format, args...)
}

// failAt notes a problem of the field name, whose first control has another id.
func (f *form) failAt(name, id, format string, args ...any) {
	if f.errs[name] != "" {
		return
	}
	f.errs[name] = fmt.Sprintf(format, args...)
	f.problems = append(f.problems, templates.Problem{Field: id, Text: f.errs[name]})
}

// typed is what was sent for a field, as it was.
func (f *form) typed(name string) string { return f.values.Get(name) }

// text reads one line or, with lines, several. It refuses control characters,
// broken encoding, and more than max characters.
func (f *form) text(name, label string, max int) string { return f.read(name, label, max, false) }

// lines reads text that may have several lines.
func (f *form) lines(name, label string, max int) string { return f.read(name, label, max, true) }

func (f *form) read(name, label string, max int, lines bool) string {
	v := strings.TrimSpace(strings.ReplaceAll(f.values.Get(name), "\r\n", "\n"))
	if !utf8.ValidString(v) {
		f.fail(name, "%s has characters that cannot be read. Type it again", label)
		return ""
	}
	for _, r := range v {
		if unicode.IsControl(r) && !(lines && (r == '\n' || r == '\t')) {
			f.fail(name, "%s has a character that cannot be kept. Type it again", label)
			return ""
		}
	}
	if n := utf8.RuneCountInString(v); n > max {
		f.fail(name, "%s must be at most %d characters. It is %d", label, max, n)
		return ""
	}
	return v
}

// need is text that must not be empty; ask is the instruction for an empty one.
func (f *form) need(name, label, ask string, max int) string {
	v := f.text(name, label, max)
	if v == "" {
		f.fail(name, "%s", ask)
	}
	return v
}

// choice reads one of the allowed values of a group. An empty one is a problem
// when ask is not "". The summary leads to the group's first option.
func (f *form) choice(name, ask string, allowed ...string) string {
	v := f.values.Get(name)
	switch {
	case v == "" && ask == "":
		return ""
	case v == "" || !slices.Contains(allowed, v):
		f.failAt(name, name+"-0", "%s", or(ask, "Select one of the values"))
		return ""
	}
	return v
}

// pick reads one of the values of a select, whose id is its name.
func (f *form) pick(name, ask string, allowed ...string) string {
	v := f.values.Get(name)
	if v == "" && ask == "" {
		return ""
	}
	if !slices.Contains(allowed, v) {
		f.fail(name, "%s", or(ask, "Select one of the values"))
		return ""
	}
	return v
}

// ticked tells whether a tick box was ticked.
func (f *form) ticked(name, value string) bool { return slices.Contains(f.values[name], value) }

var numberSyntax = regexp.MustCompile(`^[0-9]{1,9}([.,][0-9]{1,6})?$`)

// number reads a number that is not negative; a decimal comma is taken as a
// point. ok is false when the field is empty or cannot be read.
func (f *form) number(name, label string) (v float64, ok bool) {
	t := strings.TrimSpace(f.values.Get(name))
	if t == "" {
		return 0, false
	}
	if !numberSyntax.MatchString(t) {
		f.fail(name, "%s must be a number, like 24 or 3.5", label)
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(t, ",", "."), 64)
	if err != nil || math.IsInf(v, 0) {
		f.fail(name, "%s must be a number, like 24 or 3.5", label)
		return 0, false
	}
	return v, true
}

// day reads a date; empty gives day 0. The label begins the message.
func (f *form) day(name, label string) cases.Day {
	t := strings.TrimSpace(f.values.Get(name))
	if t == "" {
		return 0
	}
	d, problem := parseDay(t, f.today)
	if problem != "" {
		f.fail(name, "%s", strings.ReplaceAll(problem, "%", label))
		return 0
	}
	return d
}

// needDay is a date that must be given.
func (f *form) needDay(name, label string) cases.Day {
	if strings.TrimSpace(f.values.Get(name)) == "" {
		f.fail(name, "Enter the %s", strings.ToLower(label[:1])+label[1:])
		return 0
	}
	return f.day(name, label)
}

// time reads a time of day, 24 hours: 09:40, 9:40, 0940 or 9.40. Empty gives "".
func (f *form) time(name, label string) cases.Clock {
	t := strings.TrimSpace(f.values.Get(name))
	if t == "" {
		return ""
	}
	m := clockForm.FindStringSubmatch(t)
	if m == nil {
		f.fail(name, "%s must be a time, like 09:40", label)
		return ""
	}
	c, err := cases.ParseClock(fmt.Sprintf("%02s:%s", m[1], m[2]))
	if err != nil {
		f.fail(name, "%s must be a time of the 24-hour clock, like 09:40", label)
		return ""
	}
	return c
}

var clockForm = regexp.MustCompile(`^([0-9]{1,2})[:.]?([0-9]{2})$`)

// field fills the value and the error of a field from what was sent.
func (f *form) field(t templates.Field) templates.Field {
	t.Value, t.Error = f.typed(t.InputName()), f.errs[t.InputName()]
	return t
}

// group fills the choice and the error of a group from what was sent.
func (f *form) group(c templates.Choice) templates.Choice {
	c = c.Choose(f.typed(c.InputName()))
	c.Error = f.errs[c.InputName()]
	return c
}

// rev is the revision that the form was made from.
func (f *form) rev() cases.Rev {
	n, err := strconv.ParseUint(f.values.Get("rev"), 10, 63)
	if err != nil {
		return 0
	}
	return cases.Rev(n)
}

// once is the form's random token.
func (f *form) once() string {
	t := f.values.Get("once")
	if len(t) > 64 {
		return ""
	}
	return t
}
