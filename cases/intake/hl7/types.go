package hl7

import (
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

var precisions = []string{"", "year", "month", "day", "hour", "minute", "second"}

// Time reads a TS or DTM value, YYYY[MM[DD[HH[MM[SS[.S...]]]]]][+/-ZZZZ]. The day
// must be one of the calendar. Nothing is moved to another zone, and a date alone
// stays a date: it has no clock.
func Time(v Value) intake.Moment {
	v = v.Comp(1)
	m := intake.Moment{Text: v.Text(), At: v.At()}
	m.At.Component = 0
	if m.Text == "" {
		return m
	}
	g, ok := splitTime(m.Text)
	if !ok {
		m.Bad = "is not a date that can be read"
		return m
	}
	m.Precision, m.Offset = precisions[g.parts], g.offset
	if g.parts < 3 {
		m.Bad = "gives no day, only a " + m.Precision
		return m
	}
	t := g.digits
	day, err := cases.ParseDay(t[:4] + "-" + t[4:6] + "-" + t[6:8])
	if err != nil {
		m.Bad = "is not a day of the calendar"
		return m
	}
	m.Day = day
	if g.parts >= 5 {
		clock, err := cases.ParseClock(t[8:10] + ":" + t[10:12])
		if err != nil || g.parts == 6 && t[12:14] > "59" {
			m.Doubt, m.Precision = "has a time of day that does not exist", "day"
			return m
		}
		m.Clock = clock
	} else if g.parts == 4 && t[8:10] > "23" {
		m.Doubt, m.Precision = "has a time of day that does not exist", "day"
	}
	return m
}

// timeText is a TS value taken apart: its digits down to the second, how many parts
// they are (1 year to 6 second), and the offset.
type timeText struct {
	digits, offset string
	parts          int
}

// splitTime takes YYYY[MM[DD[HH[MM[SS]]]]][.S[S[S[S]]]][+/-ZZZZ] apart.
func splitTime(s string) (timeText, bool) {
	n := digitsOf(s)
	if n < 4 || n > 14 || n%2 != 0 {
		return timeText{}, false
	}
	t := timeText{digits: s[:n], parts: n/2 - 1}
	s = s[n:]
	if strings.HasPrefix(s, ".") {
		f := digitsOf(s[1:])
		if f < 1 || f > 4 {
			return t, false
		}
		s = s[1+f:]
	}
	if s != "" && (s[0] == '+' || s[0] == '-') && len(s) == 5 && digitsOf(s[1:]) == 4 {
		t.offset, s = s, ""
	}
	return t, s == ""
}

// digitsOf counts the digits that a text begins with.
func digitsOf(s string) (n int) {
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// Measured reads the value of an OBX as a number: NM, SN, or a text that holds
// one. A comparator is kept apart from the number; what is no plain number has a
// doubt and, for a decimal comma, no value.
func Measured(typ string, v Value) intake.Measure {
	m := intake.Measure{Text: v.Text(), At: v.At()}
	if m.Text == "" {
		return m
	}
	num := m.Text
	if typ == "SN" {
		m.Comparator, num = v.Comp(1).Text(), v.Comp(2).Text()
		m.Text = strings.TrimSpace(m.Comparator + num + v.Comp(3).Text() + v.Comp(4).Text())
		if v.Comp(3).Text() != "" || v.Comp(4).Text() != "" {
			m.Doubt = "is a range or a ratio, not one number"
			return m
		}
	} else if cmp, rest := intake.Comparator(num); cmp != "" || rest != num {
		m.Comparator, num = cmp, rest
		if typ == "NM" {
			m.Doubt = "has a comparator in a field for plain numbers"
		}
	} else if c, code := v.Comp(1).Text(), v.Comp(2).Text(); code != "" {
		// A unit or a code beside the number, as in 2100^g^LN.
		num, m.Unit, m.Text = c, code, c
	}
	if m.Comparator == "=" {
		m.Comparator = ""
	}
	m.SetNumber(num)
	return m
}

// Coded reads a CE or CWE value. Of the two codings the LOINC one is taken; the
// other is kept beside it.
func Coded(v Value) intake.Answer {
	a := intake.Answer{At: v.At()}
	c := v.comps()
	code, text, sys, code2, text2 := c[0], c[1], c[2], c[3], c[4]
	if isAnswerCode(code2) && !isAnswerCode(code) {
		code, text, sys, code2, text2 = code2, text2, c[5], code, text
	}
	original := c[8]
	if text == "" {
		text = original
	}
	a.Code, a.Text, a.System = strings.ToUpper(code), text, sys
	if code != "" && !isAnswerCode(code) && text == "" && strings.Contains(code, " ") {
		a.Code, a.Text = "", code // words where a code was meant
	}
	var other []string
	for _, s := range []string{code2, text2, original} {
		if s != "" && s != text {
			other = append(other, s)
		}
	}
	a.Other = strings.Join(other, " ")
	return a
}

// Code gives the LOINC or other code of an OBX-3 or OBR-4, its name, and whether
// it is written as LOINC.
func Code(v Value) (code, name string, loinc bool) {
	c := v.comps()
	c1, n1, s1, c2, n2, s2 := c[0], c[1], c[2], c[3], c[4], c[5]
	switch {
	case looksLOINC(c1, s1):
		return c1, n1, true
	case looksLOINC(c2, s2):
		return c2, n2, true
	case c1 != "":
		return c1, n1, false
	case n1 == "":
		return c2, n2, false
	}
	return c2, n1, false
}

// code is Code, with the sender's own codes read as what they mean.
func (rd *reading) code(v Value) (code, name string, loinc bool) {
	code, name, loinc = Code(v)
	if loinc || len(rd.codes) == 0 {
		return code, name, loinc
	}
	for _, c := range []string{v.Comp(1).Text(), v.Comp(4).Text()} {
		if means := rd.codes[c]; c != "" && means != "" {
			return means, name, true
		}
	}
	return code, name, false
}
