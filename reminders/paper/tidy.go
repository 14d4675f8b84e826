package paper

import (
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Tidy brings a text into the form in which it is set: composed characters (NFC), so
// that accents sit on their letters, and without the invisible marks that only steer
// direction or line breaks. Marks that turn the order of letters around stay, and
// Check refuses them: what stood on a screen would not be what is printed.
func Tidy(text string) string {
	return norm.NFC.String(strings.Map(func(r rune) rune {
		switch {
		case r == '\u200e', r == '\u200f', r == '\u061c', // marks of direction
			r >= '\u2066' && r <= '\u2069',              // isolates
			r == '\u202a', r == '\u202b', r == '\u202c', // embeddings and their end
			r == '\u00ad', r == '\u200b', r == '\u2060', r == '\ufeff': // hints for breaking
			return -1
		}
		return r
	}, text))
}
