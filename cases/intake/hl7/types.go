package hl7

import (
	"regexp"
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

var tsForm = regexp.MustCompile(`^(\d{4})(\d{2})?(\d{2})?(\d{2})?(\d{2})?(\d{2})?(\.\d{1,4})?([+-]\d{4})?$`)

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
	g := tsForm.FindStringSubmatch(m.Text)
	if g == nil {
		m.Bad = "is not a date that can be read"
		return m
	}
	parts := 0
	for i := 1; i <= 6; i++ {
		if g[i] == "" {
			break
		}
		parts = i
	}
	m.Precision, m.Offset = precisions[parts], g[8]
	for i := parts + 1; i <= 6; i++ {
		if g[i] != "" {
			m.Bad = "is not a date that can be read"
			return m
		}
	}
	if parts < 3 {
		m.Bad = "gives no day, only a " + m.Precision
		return m
	}
	day, err := cases.ParseDay(g[1] + "-" + g[2] + "-" + g[3])
	if err != nil {
		m.Bad = "is not a day of the calendar"
		return m
	}
	m.Day = day
	if parts >= 5 {
		clock, err := cases.ParseClock(g[4] + ":" + g[5])
		if err != nil || g[6] > "59" {
			m.Doubt, m.Precision = "has a time of day that does not exist", "day"
			return m
		}
		m.Clock = clock
	} else if parts == 4 && g[4] > "23" {
		m.Doubt, m.Precision = "has a time of day that does not exist", "day"
	}
	return m
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
	code, text, sys := v.Comp(1).Text(), v.Comp(2).Text(), v.Comp(3).Text()
	code2, text2, sys2 := v.Comp(4).Text(), v.Comp(5).Text(), v.Comp(6).Text()
	if isAnswerCode(code2) && !isAnswerCode(code) {
		code, text, sys, code2, text2, sys2 = code2, text2, sys2, code, text, sys
	}
	original := v.Comp(9).Text()
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
	_ = sys2
	return a
}

// Code gives the LOINC or other code of an OBX-3 or OBR-4, its name, and whether
// it is written as LOINC.
func Code(v Value) (code, name string, loinc bool) {
	c1, n1, s1 := v.Comp(1).Text(), v.Comp(2).Text(), v.Comp(3).Text()
	c2, n2, s2 := v.Comp(4).Text(), v.Comp(5).Text(), v.Comp(6).Text()
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
