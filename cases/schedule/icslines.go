package schedule

import (
	"strings"
	"unicode/utf8"
)

// lines writes content lines: ended by CRLF, folded at 75 octets without cutting a
// character (RFC 5545, 3.1).
type lines struct{ out []byte }

const lineOctets = 75

func (w *lines) add(s string) {
	room := lineOctets
	for len(s) > room {
		cut := room
		for !utf8.RuneStart(s[cut]) {
			cut--
		}
		w.out = append(w.out, s[:cut]...)
		w.out = append(w.out, "\r\n "...)
		s, room = s[cut:], lineOctets-1 // the space counts
	}
	w.out = append(w.out, s...)
	w.out = append(w.out, "\r\n"...)
}

var escapes = strings.NewReplacer(`\`, `\\`, `;`, `\;`, `,`, `\,`, "\r\n", `\n`, "\n", `\n`)

// escape writes a text value (RFC 5545, 3.3.11): no control character is left.
func escape(s string) string { return escapes.Replace(clean(s, true)) }

var plainer = strings.NewReplacer(`"`, "'", `\`, "/")

// parameter writes a parameter value. It can hold no quotation mark and no control
// character (RFC 5545, 3.1), and is quoted when it holds a separator. A backslash means
// nothing there but is an escape to some readers, so none is written.
func parameter(s string) string {
	s = plainer.Replace(clean(s, false))
	if strings.ContainsAny(s, ":;,") {
		return `"` + s + `"`
	}
	return s
}

// clean makes text valid UTF-8 without control characters; newlines may stay.
func clean(s string, newlines bool) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' && newlines, r == '\t':
			return r
		case r == '\n' || r == '\r':
			return ' '
		case r < ' ' || r == 0x7f:
			return -1
		}
		return r
	}, s)
}
