package intake

import (
	"strings"

	"dunlin/cases"
)

// oneLine keeps a text of the laboratory from looking like two of its parts.
func oneLine(s string) string {
	return strings.ReplaceAll(strings.Join(strings.Fields(s), " "), "; ", ", ")
}

func joinParts(side map[string]string, whole []string) string {
	var out []string
	for _, s := range []string{"left", "right"} {
		if side[s] != "" {
			out = append(out, s+": "+side[s])
		}
	}
	return strings.Join(append(out, whole...), "; ")
}

// sideWords puts the words on one side in place.
func sideWords(old, side, words string) string {
	if words = oneLine(words); words == "" || side == "" {
		return old
	}
	sides, whole := cases.SideTexts(old)
	sides[side] = words
	return joinParts(sides, whole)
}

// commonWord puts a flag or range of one side in place; one that holds for every
// side is kept once, without a side.
func commonWord(old, side, word string, oneArm bool) string {
	if word = oneLine(word); word == "" || side == "" {
		return old
	}
	if oneArm {
		return word
	}
	sides, plain := cases.SideTexts(old)
	if len(plain) == 1 { // it held for the other side
		sides["left"], sides["right"] = plain[0], plain[0]
	}
	sides[side] = word
	if sides["left"] == sides["right"] {
		return word
	}
	return joinParts(sides, nil)
}
