package templates

import (
	"errors"
	"regexp"
	"strings"
)

// marks of a letter text by the block they begin.
var lineMarks = map[LetterMark]string{LetterHeading: "## ", LetterStrong: "! ", LetterItem: "- ", LetterLine: "> "}

// MarkedWords is a letter's blocks as a person changes them: the marks of a letter text
// before headings, strong lines, list items and kept lines, an empty line between blocks.
func MarkedWords(blocks []LetterBlock) string {
	var b strings.Builder
	for i, x := range blocks {
		if i > 0 {
			b.WriteByte('\n')
			if x.Mark != blocks[i-1].Mark || x.Mark != LetterItem && x.Mark != LetterLine {
				b.WriteByte('\n')
			}
		}
		b.WriteString(lineMarks[x.Mark] + x.Text)
	}
	return b.String()
}

// ParseWords reads blocks that a person changed. Fields are filled by then, so that a
// brace is refused: it would stand in the letter as it is.
func ParseWords(text string) ([]LetterBlock, error) {
	if strings.ContainsAny(text, "{}") {
		return nil, errors.New("the words hold a { or }. Fields are for letter texts; here, write the words themselves")
	}
	var out []LetterBlock
	open := false
	for line := range strings.SplitSeq(strings.ReplaceAll(text, "\r\n", "\n"), "\n") {
		line = strings.TrimSpace(line)
		if line == "" {
			open = false
			continue
		}
		mark, rest := letterMark(line)
		rest = strings.Join(strings.Fields(rest), " ")
		switch {
		case isMark(line):
			return nil, errors.New("the line " + line + " is a mark without words. Write after it, or take it out")
		case mark == LetterParagraph && open:
			out[len(out)-1].Text += " " + rest
		default:
			out = append(out, LetterBlock{mark, rest})
		}
		open = mark == LetterParagraph || mark == LetterStrong || mark == LetterItem
	}
	if len(out) == 0 {
		return nil, errors.New("the letter has no words")
	}
	return out, nil
}

// isMark tells a line that is nothing but a mark, whose space was trimmed.
func isMark(line string) bool {
	switch line {
	case "##", "!", "-", ">":
		return true
	}
	return false
}

// conditionWords are words that name a result, a variant or a condition, in English and
// Spanish. No letter to a family that is read alone, at home, says one of them.
var conditionWords = regexp.MustCompile(`(?i)\b(cystic|fibrosis|qu[ií]stica|CF|FQ|CFTR|CRMS|CFSPID|carriers?|portador(es|a|as)?|variants?|variantes?|mutations?|mutaci[oó]n|mutaciones|genes?|gen|genetic|gen[eé]tica|abnormal|anormal|IRT|trypsinogen|tripsin[oó]geno|chloride|cloruro|mmol)\b`)

// harshWords alarm or threaten, or advise what only the family's doctor may.
var harshWords = regexp.MustCompile(`(?i)\b(positive|positiv[oa]s?|negative|negativ[oa]s?|failed|cured|curado|dose|dosis|teaspoon|cucharadita|mild CF|high.risk|alto riesgo|blame|penalty|police|polic[ií]a|court|corte)\b`)

// NamesCondition gives the first word of a text that names a result, a variant or a
// condition; "" for none.
func NamesCondition(text string) string { return conditionWords.FindString(text) }

// SoundsHarsh gives the first word of a text that no letter to a family should say; ""
// for none.
func SoundsHarsh(text string) string { return harshWords.FindString(text) }

// sentenceEnd is where a sentence ends inside a block.
var sentenceEnd = regexp.MustCompile(`[.!?]["”’)]*\s+`)

// Sentences takes blocks apart into sentences, each block's own.
func Sentences(blocks []LetterBlock) []string {
	var out []string
	for _, b := range blocks {
		rest := b.Text
		for {
			at := sentenceEnd.FindStringIndex(rest)
			if at == nil {
				break
			}
			out = append(out, strings.TrimSpace(rest[:at[1]]))
			rest = rest[at[1]:]
		}
		if rest != "" {
			out = append(out, rest)
		}
	}
	return out
}

// LeftOut lists the sentences of the blocks before that do not stand in those after.
func LeftOut(before, after []LetterBlock) []string {
	left := map[string]int{}
	for _, s := range Sentences(after) {
		left[s]++
	}
	var out []string
	for _, s := range Sentences(before) {
		if left[s] > 0 {
			left[s]--
			continue
		}
		out = append(out, s)
	}
	return out
}
