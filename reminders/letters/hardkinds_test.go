package letters

import (
	"strings"
	"testing"
	"unicode"

	"dunlin/cases"
	"dunlin/reminders/paper"
)

// hardWords are hard values of every field that people type, with whether a letter that
// says one must be refused.
var hardWords = []struct {
	name, text string
	refused    bool
}{
	{"apostrophe, hyphen", "D’Arcy-Lou O'Brien", false},
	{"two surnames", "García Núñez y de la Cruz", false},
	{"sixty signs", "Maximiliana Theodora Featheringstonehaugh Montgomery Oxenford", false},
	{"sixty without a blank", strings.Repeat("Mw", 30), false},
	{"marks of direction", "\u200fWren\u200e \u2066Lin\u2069", false},
	{"markup", "<b onclick=x>&amp;</b>", false},
	{"fields", "{phone} {{.Name}} {row_infant}", false},
	{"marks of a text", "## - > ! ?phone", false},
	{"Greek, Cyrillic, Vietnamese", "Ελένη Ольга Nguyễn", false},
	{"emoji", "Ada \U0001F426", true},
	{"turned around", "Ada\u202enerW", true},
	{"control", "Ada\x1b[31m", true},
	{"Arabic", "عائشة", true},
}

// Every kind of letter in both languages with hard values in all that people typed: it
// says them as they are, or it is refused in words; nothing but the address is in the
// window, and nothing is taken for a field or a mark.
func TestEveryKindWithHardValues(t *testing.T) {
	for _, hard := range hardWords {
		for _, language := range []string{"en", "es"} {
			for _, x := range everyLetter() {
				name := hard.name + ", " + language + " " + x.name
				c := x.c
				c.Infant.Given, c.Family.Language = hard.text, language
				c.Family.Mother, c.PrimaryCare.Name = hard.text, "Dr. "+hard.text
				c.Infant.Records[0].Authority, c.Referral.Screen.Laboratory = hard.text, hard.text
				for i := range c.Releases {
					c.Releases[i].By = hard.text
				}
				l, err := x.compose(t, complete())
				if err != nil {
					family := cases.LetterKindOf(x.due.Kind).To == cases.ToFamily
					if !hard.refused && (family || !strings.Contains(err.Error(), "too long for the window")) {
						t.Errorf("%s: %v", name, err)
					}
					if text := err.Error(); len(text) < 15 || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
						t.Errorf("%s: refused with %q", name, text)
					}
					continue
				}
				if hard.refused {
					t.Errorf("%s: was made", name)
					continue
				}
				checkLaidOut(t, &l)
				if want := paper.Tidy(hard.text); !strings.Contains(l.Preview(), want) {
					t.Errorf("%s: %q is not said", name, want)
				}
				if window := strings.Join(l.Address, " "); strings.Contains(window, c.Infant.Given) && l.Address[0] == "Parent or guardian, Wren" {
					t.Errorf("%s: the window says %q", name, window)
				}
			}
		}
	}
}
