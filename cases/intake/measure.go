package intake

import (
	"strconv"
	"strings"
)

// Number reads digits with an optional sign and decimal point; nothing else is a
// number, no exponent and no comma.
func Number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if len(s) > 30 || !plainNumber(s) {
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	return f, err == nil
}

// plainNumber reports digits with an optional sign and one point.
func plainNumber(s string) bool {
	if s != "" && (s[0] == '+' || s[0] == '-') {
		s = s[1:]
	}
	digits, points := 0, 0
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}

// comparators are tried in order; the longer ones come first.
var comparators = []struct{ sign, means string }{
	{"<=", "<="}, {">=", ">="}, {"<", "<"}, {">", ">"}, {"=", ""}, {"≤", "<="}, {"≥", ">="},
}

// Comparator splits a comparator off a number, as in "<10" or ">= 250".
func Comparator(s string) (comparator, rest string) {
	t := strings.TrimSpace(s)
	for _, c := range comparators {
		if after, ok := strings.CutPrefix(t, c.sign); ok {
			if after = strings.TrimLeft(after, " \t\r\n\f"); after == "" || strings.Contains(after, "\n") {
				break
			}
			return c.means, after
		}
	}
	return "", s
}

// SetNumber fills the value of a measure from the text of its number, or says in
// Doubt why it has none.
func (m *Measure) SetNumber(num string) {
	f, ok := Number(num)
	switch {
	case ok:
		m.Value = &f
	case strings.Contains(num, ","):
		m.Doubt = "has a comma in the number, which can be read in two ways"
	default:
		m.Doubt = "is not a number"
	}
}
