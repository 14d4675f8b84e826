package store

import (
	"strings"
	"unicode"

	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"
)

// fold makes names comparable: marks are stripped, letters lowered, and
// anything between letters and digits becomes one space, so that García-López,
// GARCIA LOPEZ and garcia  lopez are the same.
func fold(name string) string {
	if plain, ok := foldASCII(name); ok {
		return plain
	}
	t := transform.Chain(norm.NFD, runes.Remove(runes.In(unicode.Mn)), norm.NFC)
	s, _, err := transform.String(t, name)
	if err != nil {
		s = name
	}
	return spaced(strings.ToLower(s))
}

// spaced keeps letters, digits and the marks of scripts that need them, and
// puts one space for everything else.
func spaced(s string) string {
	words := strings.FieldsFunc(apostrophes.Replace(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r)
	})
	return strings.Join(words, " ")
}

var apostrophes = strings.NewReplacer("'", "", "’", "")

// foldASCII is fold for the common case, without tables.
func foldASCII(name string) (string, bool) {
	out := make([]byte, 0, len(name))
	gap := false
	for i := 0; i < len(name); i++ {
		c := name[i]
		switch {
		case c >= 0x80:
			return "", false
		case c >= 'A' && c <= 'Z':
			c += 'a' - 'A'
		case c == '\'':
			continue
		case c < '0' || c > '9' && c < 'a' || c > 'z':
			gap = len(out) > 0
			continue
		}
		if gap {
			out = append(out, ' ')
			gap = false
		}
		out = append(out, c)
	}
	return string(out), true
}

// starts gives a folded name and its tails from each further word, so that a
// search finds the second of two surnames too.
func starts(folded string) []string {
	if folded == "" {
		return nil
	}
	out := []string{folded}
	for i := 0; i+1 < len(folded); i++ {
		if folded[i] == ' ' {
			out = append(out, folded[i+1:])
		}
	}
	return out
}

// plainNumber makes record and accession numbers comparable: letters and
// digits only, lowered.
func plainNumber(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}
