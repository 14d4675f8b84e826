package hl7

import (
	"encoding/hex"
	"strings"

	"dunlin/cases/intake"
)

// unescaped replaces the escape sequences of HL7 chapter 2 once. Highlighting is
// dropped, hexadecimal bytes go through the message's character set, a line break
// becomes a newline, and a sequence that is not known stays exactly as written.
func (v Value) unescaped() string {
	if v.msg == nil {
		return v.raw
	}
	s, esc := v.raw, v.msg.Sep.Escape
	if esc == 0 || strings.IndexByte(s, esc) < 0 {
		return s
	}
	var b strings.Builder
	for {
		i := strings.IndexByte(s, esc)
		if i < 0 {
			break
		}
		j := strings.IndexByte(s[i+1:], esc)
		if j < 0 {
			break
		}
		b.WriteString(s[:i])
		name := s[i+1 : i+1+j]
		text, known := v.msg.escape(name)
		if !known {
			// The closing mark may open the next sequence: keep only the first.
			b.WriteString(s[i : i+1+j])
			s = s[i+1+j:]
			if strings.ContainsAny(name, " ") || name == "" {
				continue
			}
			b.WriteByte(esc)
			s = s[1:]
			continue
		}
		b.WriteString(text)
		s = s[i+j+2:]
	}
	b.WriteString(s)
	return b.String()
}

// escape gives the text of one escape sequence by its name.
func (m *Message) escape(name string) (string, bool) {
	switch name {
	case "F":
		return string(rune(m.Sep.Field)), true
	case "S":
		return string(rune(m.Sep.Component)), true
	case "T":
		return string(rune(m.Sep.Sub)), true
	case "R":
		return string(rune(m.Sep.Repeat)), true
	case "E":
		return string(rune(m.Sep.Escape)), true
	case "H", "N":
		return "", true
	case ".br":
		return "\n", true
	}
	if strings.HasPrefix(name, "X") && len(name) > 1 {
		if b, err := hex.DecodeString(name[1:]); err == nil {
			return intake.Plain(m.Decoder.Text(b)), true
		}
	}
	return "", false
}
