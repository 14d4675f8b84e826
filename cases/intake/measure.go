package intake

import (
	"regexp"
	"strconv"
	"strings"
)

var (
	numberForm     = regexp.MustCompile(`^[+-]?(\d+\.?\d*|\.\d+)$`)
	comparatorForm = regexp.MustCompile(`^(<=|>=|<|>|=|≤|≥)\s*(.+)$`)
)

// Number reads digits with an optional sign and decimal point; nothing else is a
// number, no exponent and no comma.
func Number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if len(s) > 30 || !numberForm.MatchString(s) {
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	return f, err == nil
}

// Comparator splits a comparator off a number, as in "<10" or ">= 250".
func Comparator(s string) (comparator, rest string) {
	g := comparatorForm.FindStringSubmatch(strings.TrimSpace(s))
	if g == nil {
		return "", s
	}
	if g[1] == "=" {
		return "", g[2]
	}
	return strings.NewReplacer("≤", "<=", "≥", ">=").Replace(g[1]), g[2]
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
