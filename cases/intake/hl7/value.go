package hl7

import (
	"strings"

	"dunlin/cases/intake"
)

// Value is a field, a repeat, a component or a subcomponent before unescaping,
// with its place.
type Value struct {
	raw string
	msg *Message
	seg string
	occ int
	fld int
	cmp int
}

// Field gives field n, all repeats together; empty when the segment is shorter.
func (s *Segment) Field(n int) Value {
	v := Value{msg: s.msg, seg: s.Name, occ: s.Occurrence, fld: n}
	if n > 0 && n < s.size() {
		v.raw = s.raw(n)
	}
	return v
}

// First gives the first repeat of field n.
func (s *Segment) First(n int) Value {
	v := s.Field(n)
	if v.msg != nil {
		if i := strings.IndexByte(v.raw, v.msg.Sep.Repeat); i >= 0 {
			v.raw = v.raw[:i]
		}
	}
	return v
}

// Repeats gives the repeats of field n that are not empty, at most MaxRepeats;
// more is true when some were left out.
func (s *Segment) Repeats(n int) (vs []Value, more bool) {
	f := s.Field(n)
	if f.raw == "" || f.msg == nil {
		return nil, false
	}
	for _, r := range splitByte(f.raw, f.msg.Sep.Repeat) {
		if len(vs) >= MaxRepeats {
			return vs, true
		}
		if strings.TrimSpace(r) != "" {
			v := f
			v.raw = r
			vs = append(vs, v)
		}
	}
	return vs, false
}

// Comp gives component n, counted from 1.
func (v Value) Comp(n int) Value {
	c := v
	c.cmp = n
	c.raw = ""
	if v.msg != nil {
		c.raw = nth(v.raw, v.msg.Sep.Component, n)
	}
	return c
}

// comps gives the text of the first nine components in one pass.
func (v Value) comps() (c [9]string) {
	if v.msg == nil || v.raw == "" {
		return c
	}
	s, sep := v.raw, v.msg.Sep.Component
	for i := range c {
		j := strings.IndexByte(s, sep)
		part := Value{raw: s, msg: v.msg}
		if j >= 0 && sep != 0 {
			part.raw = s[:j]
		}
		if c[i] = part.Text(); j < 0 || sep == 0 {
			break
		}
		s = s[j+1:]
	}
	return c
}

// Sub gives subcomponent n, counted from 1.
func (v Value) Sub(n int) Value {
	c := v
	c.raw = ""
	if v.msg != nil {
		c.raw = nth(v.raw, v.msg.Sep.Sub, n)
	}
	return c
}

// Raw gives the value as it stands in the message.
func (v Value) Raw() string { return v.raw }

// Text gives the value unescaped, with blanks taken off both ends. A value that
// is only "" (delete) is empty text.
func (v Value) Text() string {
	if v.raw == "" || v.raw == `""` {
		return ""
	}
	return strings.TrimSpace(v.unescaped())
}

// Null reports the explicit null, two quotation marks.
func (v Value) Null() bool { return strings.TrimSpace(v.raw) == `""` }

// Empty reports that nothing was said.
func (v Value) Empty() bool { return strings.TrimSpace(v.raw) == "" }

// At gives the place of the value for a problem.
func (v Value) At() intake.Problem {
	return intake.Problem{Segment: v.seg, Occurrence: v.occ, Field: v.fld, Component: v.cmp}
}

// Problem makes a problem at the value's place.
func (v Value) Problem(s intake.Severity, text string) intake.Problem {
	p := v.At()
	p.Severity, p.Text, p.Value = s, text, intake.Shorten(v.Text())
	return p
}

func nth(s string, sep byte, n int) string {
	if sep == 0 {
		if n == 1 {
			return s
		}
		return ""
	}
	for ; n > 1; n-- {
		i := strings.IndexByte(s, sep)
		if i < 0 {
			return ""
		}
		s = s[i+1:]
	}
	if i := strings.IndexByte(s, sep); i >= 0 && n == 1 {
		return s[:i]
	}
	return s
}

func splitByte(s string, sep byte) []string { return strings.Split(s, string(rune(sep))) }
