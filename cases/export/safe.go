package export

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// starts tells a character with which a spreadsheet may begin to calculate: the
// signs, their full-width and small forms, and line ends and tabs, which some strip
// before they look (OWASP ASVS 5.0.0, 1.2.10, which names = + - @ tab and NUL).
func starts(r rune) bool {
	switch r {
	case '=', '+', '-', '@', '\t', '\r', '\n', 0,
		'＝', '＋', '－', '＠', '﹦', '﹢', '﹣', '﹫', '−':
		return true
	}
	return false
}

// skipped are what readers may take off before they look at a cell, and what becomes
// a space.
func skipped(r rune) bool {
	return r == '\'' || unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
}

// calculates tells a text that a spreadsheet may read as a formula.
func calculates(s string) bool {
	for _, r := range s {
		if starts(r) {
			return true
		}
		if !skipped(r) {
			return false
		}
	}
	return false
}

// Safe is a text for CSV: control characters are spaces, and an apostrophe stands
// before what a spreadsheet may read as a formula, also behind a semicolon, at
// which some cut the line. Everything else is left as it was.
func Safe(s string) string {
	begins := calculates(s)
	s = clean(s)
	if strings.IndexByte(s, ';') >= 0 {
		parts := strings.Split(s, ";")
		for i := 1; i < len(parts); i++ {
			if calculates(parts[i]) {
				parts[i] = "'" + parts[i]
			}
		}
		s = strings.Join(parts, ";")
	}
	if begins {
		return "'" + s
	}
	return s
}

// clean makes control characters spaces, and broken encoding the sign for it, so
// that a text is one line that every format can hold.
func clean(s string) string {
	if utf8.ValidString(s) && strings.IndexFunc(s, unfit) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if !unfit(r) {
			return r
		}
		if r == '\uFFFE' || r == '\uFFFF' {
			return utf8.RuneError
		}
		return ' '
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// unfit tells what XML 1.0 cannot hold, and line ends of all kinds.
func unfit(r rune) bool {
	return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\uFFFE' || r == '\uFFFF'
}

// quoted adds a text in quotes, as RFC 4180 has it.
func quoted(b []byte, s string) []byte {
	b = append(b, '"')
	for {
		i := strings.IndexByte(s, '"')
		if i < 0 {
			break
		}
		b = append(b, s[:i+1]...)
		b = append(b, '"')
		s = s[i+1:]
	}
	b = append(b, s...)
	return append(b, '"')
}
