package paper

import (
	"strings"
	"unicode/utf8"
)

// Width is the length of a text in points.
func Width(text string, style Style) float64 {
	return faceOf(style).width(text, style.Size)
}

// Check refuses what cannot be set as it would be read: characters that the font
// lacks, separate accents, scripts whose letters join, and invisible characters. The
// error says for people what to do.
func Check(text string) error {
	return faceOf(Style{}).check(text)
}

// Printable replaces each character that cannot be set by a question mark, for texts
// that quote what was typed.
func Printable(text string) string {
	f := faceOf(Style{})
	return strings.Map(func(r rune) rune {
		if f.check(string(r)) != nil {
			return '?'
		}
		return r
	}, text)
}

// Wrap breaks a text at blanks into lines no wider than width points; a word longer
// than a line is broken where the line ends. An empty text is one empty line.
func Wrap(text string, style Style, width float64) []string {
	return wrap(faceOf(style), text, style.Size, width)
}

func wrap(f *face, text string, size, width float64) []string {
	var lines []string
	long := func(units int) bool { return float64(units)*size/1000 > width }
	blank, from, at, used := f.units(" "), 0, 0, 0 // the line is text[from:at], used units wide
	for i, word := range strings.Split(text, " ") {
		units := f.units(word)
		if i > 0 && at > from && !long(used+blank+units) {
			at, used = at+1+len(word), used+blank+units
			continue
		}
		if i > 0 {
			if at > from {
				lines = append(lines, text[from:at])
			}
			from = at + 1
		}
		for at, used = from+len(word), units; long(used); used = f.units(text[from:at]) {
			cut := fits(f, text[from:at], size, width)
			if from+cut == at {
				break
			}
			lines, from = append(lines, text[from:from+cut]), from+cut
		}
	}
	return append(lines, text[from:at])
}

// fits is how many bytes of a text fit in the width: whole characters, one at least.
func fits(f *face, text string, size, width float64) int {
	_, cut := utf8.DecodeRuneInString(text)
	for end := cut; end < len(text); {
		_, n := utf8.DecodeRuneInString(text[end:])
		if end += n; f.width(text[:end], size) > width {
			break
		}
		cut = end
	}
	return cut
}
