package intake

import (
	"regexp"
	"strings"

	"dunlin/cases"
)

// ofThePanel marks a sentence about what is tested for, not about an infant.
var ofThePanel = regexp.MustCompile(`(?i)\b(panel|tests? for|tested for|screened for|includes?|including|detects?|such as|e\.g)\b`)

// mostNamed is how many variants a sentence about one infant names; more are a panel.
const mostNamed = 3

// variantInWords finds a CFTR variant that a comment names without denying it, with
// its sentence. It decides nothing; see inRange.
func variantInWords(comments []string) (name, sentence string) {
	for _, c := range comments {
		for s := range strings.FieldsFuncSeq(c, func(r rune) bool { return strings.ContainsRune(";!\n\r", r) }) {
			if denied.MatchString(s) || general.MatchString(s) || ofThePanel.MatchString(s) {
				continue
			}
			var named []string
			for _, w := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" \t,/()", r) }) {
				w = strings.Trim(w, ".:")
				if len(w) < 4 { // 5T, and words that are no names
					continue
				}
				if n, ok := cases.KnownVariant(w); ok {
					named = append(named, n)
				}
			}
			if len(named) > 0 && len(named) <= mostNamed {
				return named[0], Shorten(s)
			}
		}
	}
	return "", ""
}
