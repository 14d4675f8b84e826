package hl7

import (
	"bytes"
	"regexp"
	"strings"

	"dunlin/cases/intake"
)

// screenOrder are the names of orders that head a newborn screen without a code that
// is known.
var screenOrder = regexp.MustCompile(`(?i)\b(newborn|neonatal|infant) (metabolic |genetic |blood |dried blood )?(spot )?screen|\bNBS\b|\bblood spot screen|\bguthrie`)

// otherScreens are screens of newborns that are no blood test.
var otherScreens = regexp.MustCompile(`(?i)hearing|CCHD|heart|oximetry|vision|bilirubin`)

// aboutCF are short names of results, as laboratories with codes of their own use them.
var aboutCF = regexp.MustCompile(`(?i)^(cf|irt|ngirt|cfirt|cfdna|cfnbs|nbscf)$|^(nbs[ -]?)?(cf|irt)([ _-](screen|interp|result|risk|mutation|variant|dna|value|comment|panel|status|newborn)|$)|trypsinogen`)

// cfName reports a result that is about cystic fibrosis by its code or name.
func cfName(code, nm string) bool {
	low := strings.ToLower(nm)
	return strings.Contains(low, "cystic fibrosis") || strings.Contains(low, "cftr") ||
		aboutCF.MatchString(strings.TrimSpace(nm)) || aboutCF.MatchString(strings.TrimSpace(code))
}

// said keeps what a result whose code says nothing tells in words, and names a file
// within the message.
func (rd *reading) said(s *Segment, what string) {
	switch s.Field(2).Text() {
	case "ED", "RP":
		if v := s.Field(5); !v.Empty() && (s.Field(2).Text() == "RP" || v.Comp(5).Raw() != "") {
			rd.r.Files = append(rd.r.Files, v.At())
		}
		return
	}
	if what == "" || what == "narrative" || what == "report" {
		rd.r.Mention(text(s.Field(5)), false, s.Field(5).At())
	}
}

// elsewhere keeps what a segment that is not read says of cystic fibrosis.
func (rd *reading) elsewhere(s *Segment) {
	switch s.Name {
	case "PV1", "PV2", "TQ1", "FHS", "BHS":
		return
	}
	for n := 1; n < s.size(); n++ {
		if v := s.Field(n); intake.SpeaksOfCF(v.Raw()) {
			// The value may stand in another field than the name of the test.
			line := strings.Join(strings.FieldsFunc(s.text[s.ends[0]:], func(c rune) bool {
				return strings.ContainsRune(" ^~&.;", c) || c == rune(s.msg.Sep.Field)
			}), " ")
			rd.r.Mention(line, false, v.At())
			return
		}
	}
}

// about remembers what the message is about, for when it is no newborn screen.
func (rd *reading) about(v Value, code, nm string) {
	if rd.r.About.Segment != "" {
		return
	}
	rd.r.About = v.At()
	rd.r.About.Value = intake.Shorten(strings.TrimSpace(code + " " + nm))
}

// holdsCF reports a result about cystic fibrosis in a message that calls itself
// something else: such a result is never refused.
func holdsCF(m *Message, codes map[string]string) (Value, bool) {
	rd := &reading{codes: codes, obr: &Segment{}}
	for i := range m.Segments {
		s := &m.Segments[i]
		switch s.Name {
		case "OBX":
			code, nm, loinc := rd.code(s.First(3))
			if right, wrong := Mistyped(code); loinc && wrong {
				code = right
			}
			switch known[code] {
			case "interpretation", "irt", "variants", "comment", "sweat chloride", "sweat screen":
				if loinc && !s.Field(5).Empty() {
					return s.First(3), true
				}
			}
			if !s.Field(5).Empty() && (cfName(code, nm) || strings.Contains(strings.ToLower(nm), "sweat")) && s.Field(11).Text() != "O" {
				return s.First(3), true
			}
			if t := text(s.Field(5)); outInWords(t) {
				return s.Field(5), true
			}
		case "NTE":
			if t := text(s.Field(3)); outInWords(t) {
				return s.Field(3), true
			}
		}
	}
	return Value{}, false
}

// outInWords reports a text with a sentence that says cystic fibrosis and out of range.
func outInWords(t string) bool {
	var r intake.Referral
	r.Mention(t, false, intake.Problem{})
	for _, m := range r.Mentions {
		if m.Out {
			return true
		}
	}
	return false
}

// continued finds a message that goes on elsewhere: a pointer in the header (MSH-14)
// or at the end (DSC), or a segment that carries the rest of the one above it (ADD).
// Nothing is joined by guess.
func continued(m *Message) (intake.Problem, bool) {
	if v := m.Header().Field(14); !v.Empty() && !v.Null() {
		return v.Problem(intake.Fault, "The message is the continuation of another one; the parts are not joined here. Ask the sender for it in one piece."), true
	}
	for i := range m.Segments {
		s := &m.Segments[i]
		switch {
		case s.Name == "ADD":
			return s.Field(1).Problem(intake.Fault, "The segment above is continued in an ADD segment, which is not joined here. Read the whole text, or ask the sender for the message in one piece."), true
		case s.Name == "DSC" && !s.Field(1).Empty() && !s.Field(1).Null():
			return s.Field(1).Problem(intake.Fault, "The message is continued in another one; the parts are not joined here. Ask the sender for it in one piece."), true
		}
	}
	return intake.Problem{}, false
}

// repeated notes the fields of a segment about a person that have more repeats than
// are read.
func (rd *reading) repeated(s *Segment) {
	for n := 1; n < s.size(); n++ {
		if v := s.Field(n); strings.Count(v.raw, string(rune(v.msg.Sep.Repeat))) >= MaxRepeats {
			p := v.At()
			p.Severity, p.Text = intake.Fault, "The field has too many repeats to be read; only the first were. Ask the sender to correct it."
			rd.it.Problems = append(rd.it.Problems, p)
		}
	}
}

// headless reports lines that look like segments without a header.
func headless(raw []byte) bool {
	found := 0
	for rest, n := raw, 0; len(rest) > 0 && n < 200; n++ {
		var l []byte
		l, rest = cutLine(rest)
		for _, name := range []string{"PID|", "OBR|", "OBX|", "NK1|", "ORC|", "PV1|"} {
			if bytes.HasPrefix(l, []byte(name)) {
				found++
			}
		}
	}
	return found >= 2
}
