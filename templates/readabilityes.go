package templates

import "strings"

// FernandezHuerta is the Spanish reading ease of Fernández Huerta (1959), 206.84 - 60
// S/P - 1.02 P/F. The commonly printed form takes sentences per 100 words in the last
// term; that is an error (G. Law, LINGUIST List 22.2332, 2011).
func (r Readability) FernandezHuerta() float64 {
	return 206.84 - 60*perOne(r.Syllables, r.Words) - 1.02*perOne(r.Words, r.Sentences)
}

// INFLESZ is the Spanish reading ease of Szigriszt-Pazos, 206.835 - 62.3 S/P - P/F, as
// the INFLESZ scale reads it (Barrio-Cantalejo et al., An Sist Sanit Navar 2008;31(2)).
func (r Readability) INFLESZ() float64 {
	return 206.835 - 62.3*perOne(r.Syllables, r.Words) - perOne(r.Words, r.Sentences)
}

// Band is the word of the INFLESZ scale for a score.
func Band(inflesz float64) string {
	switch {
	case inflesz > 80:
		return "very easy"
	case inflesz > 65:
		return "quite easy"
	case inflesz > 55:
		return "normal"
	case inflesz > 40:
		return "somewhat difficult"
	}
	return "very difficult"
}

// vowelES sorts the vowels: a, e, o are strong, i and u weak; an accented í or ú
// stands as a strong one beside a strong one.
func vowelES(r rune) (vowel, strong, split bool) {
	switch r {
	case 'a', 'e', 'o', 'á', 'é', 'ó':
		return true, true, false
	case 'i', 'u', 'ü':
		return true, false, false
	case 'í', 'ú':
		return true, false, true
	}
	return false, false, false
}

// syllablesES counts the syllables of a lower-case Spanish word by the rules of its
// spelling: two strong vowels are two syllables, a weak one joins its neighbor, an
// accented weak one beside a strong one does not; u is mute in que, qui, gue, gui; a
// last y is an i; h between vowels counts for nothing.
func syllablesES(word string) int {
	total := 0
	for part := range strings.SplitSeq(word, "-") {
		total += countES([]rune(part))
	}
	return max(total, 1)
}

func countES(w []rune) int {
	n := 0
	inside, hasStrong := false, false // a vowel group, and a strong vowel in it
	var last rune
	for i, r := range w {
		if r == 'y' && (i == len(w)-1 || len(w) == 1) {
			r = 'i'
		}
		vowel, strong, split := vowelES(r)
		switch {
		case r == 'u' && i > 0 && i+1 < len(w) && (w[i-1] == 'q' || w[i-1] == 'g') && strings.ContainsRune("eiéí", w[i+1]):
			continue // mute
		case r == 'h' && inside:
			continue
		case !vowel:
			inside = false
			continue
		}
		_, lastStrong, lastSplit := vowelES(last)
		apart := strong && (hasStrong || lastSplit) || split && lastStrong || r == last
		if !inside || apart {
			n++
			hasStrong = false
		}
		inside, hasStrong, last = true, hasStrong || strong, r
	}
	return n
}
