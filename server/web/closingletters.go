package web

import (
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// unmailed are the letters that closing the case keeps from going out: those made and
// not mailed, and those owed or waiting for a release, by their words. The letter to
// primary care about the result goes on after a closing.
func unmailed(o *opened) (made, owed []string) {
	for i := range o.c.Letters {
		if l := &o.c.Letters[i]; (l.State == "to-print" || l.State == "printed") && l.Kind != cases.LetterDoctorResult {
			made = append(made, cases.LetterKindOf(l.Kind).Word+" ("+l.Number+")")
		}
	}
	for _, list := range [][]cases.LetterDue{o.a.LettersDue, o.a.LettersToRelease, o.a.DoctorLettersDue} {
		for i := range list {
			if list[i].Kind != cases.LetterDoctorResult {
				owed = append(owed, cases.LetterKindOf(list[i].Kind).Word)
			}
		}
	}
	return made, owed
}

// letterEffects says what closing does to letters.
func letterEffects(o *opened) []string {
	made, owed := unmailed(o)
	out := []string{"Letters to the family stop. None goes out once the case is closed."}
	if len(made) > 0 {
		out = append(out, templates.Count(len(made), "letter is made and not mailed, and will be held: ", "letters are made and not mailed, and will be held: ")+strings.Join(made, ", ")+". Take printed ones out of the stack.")
	}
	if len(owed) > 0 {
		out = append(out, templates.Count(len(owed), "letter is owed and not made, and will not be made: ", "letters are owed and not made, and will not be made: ")+strings.Join(owed, ", ")+".")
	}
	return out
}

// letterWarning asks for letters to be mailed before the case is closed; "" when none
// waits.
func letterWarning(o *opened) string {
	made, owed := unmailed(o)
	if len(made)+len(owed) == 0 {
		return ""
	}
	return templates.Count(len(made)+len(owed), "letter has", "letters have") + " not gone out: " + strings.Join(append(made, owed...), ", ") +
		". Closing holds them. If the family is to get one of them, mail it before you close."
}
