package intake

import (
	"fmt"
	"regexp"
	"strings"

	"dunlin/cases"
)

// The readings of a sweat test that a laboratory's words or flag can mean.
const (
	labNormal       = "normal"
	labIntermediate = "intermediate"
	labPositive     = "positive" // in the CF range
	labAbnormal     = "abnormal" // not normal, and nothing more was said
	labQNS          = "QNS"
)

var (
	// what is said of something else: a legend, an earlier report, a condition
	labAside    = regexp.MustCompile(`(?i)\bnormal\s+(range|values?|intervals?)\b[^.;\n]*|\breference\b[^.;\n]*|[^.;\n]*\b(previous|previously|formerly|prior|originally)\b[^.;\n]*|\b(if|when|should)\b[^.;\n]*`)
	labNegated  = regexp.MustCompile(`(?i)\b(not|no evidence|without evidence)\s+(consistent|diagnostic|suggestive|indicative|elevated|abnormal|of)\b(\s+(with|of|for))?`)
	labNotNorm  = regexp.MustCompile(`(?i)\bnot\s+(normal|negative)\b`)
	labPatterns = []struct {
		class string
		words *regexp.Regexp
	}{
		{labQNS, regexp.MustCompile(`(?i)\bqns\b|\bquantity not sufficient\b|\binsufficient\b`)},
		{labNormal, regexp.MustCompile(`(?i)\bnormal\b|\bnegative\b|\bunlikely\b|\bin range\b`)},
		{labIntermediate, regexp.MustCompile(`(?i)\bintermediate\b|\bborderline\b|\bindeterminate\b|\bequivocal\b|\binconclusive\b`)},
		{labPositive, regexp.MustCompile(`(?i)\bpositive\b|\bconsistent with\b|\bdiagnostic (of|for)\b|\b(suggestive|indicative) of\b|\bcf range\b`)},
		{labAbnormal, regexp.MustCompile(`(?i)\babnormal\b|\belevated\b|\bhigh\b|\bout of range\b|\braised\b`)},
	}
)

// LabReading gives what a laboratory's own words on a sweat test mean: normal,
// intermediate, positive, abnormal or QNS; "" when they say nothing of it, or, like
// a printed legend, more than one thing. The words are those that catalogues print
// and common practice.
func LabReading(words string) string {
	t := labAside.ReplaceAllString(words, " ")
	found := map[string]bool{}
	mark := func(re *regexp.Regexp, class string) {
		if re.MatchString(t) {
			found[class] = true
			t = re.ReplaceAllString(t, " ")
		}
	}
	mark(labNotNorm, labAbnormal)
	mark(labNegated, labNormal)
	for _, p := range labPatterns {
		if p.words.MatchString(t) {
			found[p.class] = true
		}
	}
	if found[labPositive] || found[labIntermediate] {
		delete(found, labAbnormal)
	}
	if len(found) != 1 {
		return ""
	}
	for class := range found {
		return class
	}
	return ""
}

// labFlag gives what an abnormal flag (table 0078) means; "" for others.
func labFlag(flag string) string {
	switch strings.ToUpper(flag) {
	case "N":
		return labNormal
	case "A", "AA", "H", "HH", ">":
		return labAbnormal
	}
	return ""
}

var rangeForm = regexp.MustCompile(`^(?:(<=?)|\d+(?:\.\d+)?\s*(?:-|to)\s*)\s*(\d+(?:\.\d+)?)(?:\s*(?:mmol/L|meq/L))?$`)

// labRange gives what the laboratory's reference range means for a value, where it
// is a plain upper limit.
func labRange(text string, v float64) string {
	g := rangeForm.FindStringSubmatch(strings.TrimSpace(text))
	if g == nil {
		return ""
	}
	limit, _ := Number(g[2])
	if v < limit || v == limit && g[1] != "<" {
		return labNormal
	}
	return labAbnormal
}

// agrees compares a reading of the laboratory with the program's.
func agrees(class string, o cases.Outcome) bool {
	switch class {
	case labNormal:
		return o == cases.Unlikely
	case labIntermediate:
		return o == cases.Intermediate
	case labPositive:
		return o == cases.ConsistentCF
	case labAbnormal:
		return o == cases.Intermediate || o == cases.ConsistentCF
	case labQNS:
		return o == cases.QNS
	}
	return true
}

// differs says in words where the laboratory's reading of the test is not the
// program's: side by side first, then for the test as a whole. The program's reading
// counts; the laboratory's is shown beside it.
func (a *sweatAdder) differs(t *cases.SweatTest, now *cases.TestReading) string {
	l := t.Laboratory
	if now.Outcome == cases.VoidTest {
		return ""
	}
	words, whole := partsOf(l.Reads)
	valued, worded := 0, 0
	for i := range t.Arms {
		if t.Arms[i].Chloride != nil {
			valued++
			if words[t.Arms[i].Side] != "" {
				worded++
			}
		}
	}
	var out []string
	for i := range t.Arms {
		m := &t.Arms[i]
		said := words[m.Side]
		if m.Chloride != nil && worded < valued && said != "" {
			whole, said = append(whole, said), "" // one word for the whole test, under one of its sides
		}
		if s := a.sideDiffers(t, m, now.Arms.A[i], said); s != "" {
			out = append(out, sentenceOf(m.Side+" side: "+s))
		}
	}
	if said := a.bothSides(t, words); len(out) == 0 && len(whole) == 0 && said != "" && (now.Outcome == cases.ArmsDisagree || now.Outcome == cases.Unverified) {
		out = append(out, fmt.Sprintf("The laboratory reads it as %s; by the program's protocol the test reads %q.", said, now.Outcome.Word()))
	}
	if now.Outcome != cases.NotResulted {
		for _, w := range whole {
			if !agrees(LabReading(w), now.Outcome) {
				out = append(out, fmt.Sprintf("The laboratory says %q of the test; by the program's protocol it reads %q.", Shorten(w), now.Outcome.Word()))
			}
		}
	}
	return strings.Join(out, " ")
}

// sideDiffers compares one side: what the laboratory said in words, else by its flag,
// else by its range.
func (a *sweatAdder) sideDiffers(t *cases.SweatTest, m *cases.Arm, read cases.ArmRead, said string) string {
	v := m.Chloride
	if v != nil && !read.Usable {
		return fmt.Sprintf("the laboratory gives %s; the amount, %s, is below the %s needed by the program's protocol, so the value is not read", valueText(v), amountText(t, m), number(read.Needed))
	}
	limits := sideWord(t.Laboratory.Range, m.Side)
	class, by := a.sideClass(t, m, said)
	one := *t
	one.Arms = []cases.Arm{*m}
	o := a.reading(a.c, &one).Outcome
	if o == cases.NotResulted || agrees(class, o) {
		return ""
	}
	text := fmt.Sprintf("the laboratory %s; by the program's protocol %s reads %q", by, valueText(v), o.Word())
	if limits != "" && !strings.HasPrefix(by, "has") {
		text += " (the laboratory's range: " + limits + ")"
	}
	return text
}

// sideClass gives what the laboratory reads of one side, and by what it says so.
func (a *sweatAdder) sideClass(t *cases.SweatTest, m *cases.Arm, said string) (class, by string) {
	if class = LabReading(said); class != "" || m.Chloride == nil {
		return class, fmt.Sprintf("says %q", Shorten(said))
	}
	flag, limits := sideWord(t.Laboratory.Flag, m.Side), sideWord(t.Laboratory.Range, m.Side)
	if class = labFlag(flag); class != "" {
		return class, "flags it " + flag
	}
	return labRange(limits, *m.Chloride), "has the range " + limits
}

// bothSides gives the one reading that the laboratory has for every side, "" when it
// has several or none.
func (a *sweatAdder) bothSides(t *cases.SweatTest, words map[string]string) (one string) {
	for i := range t.Arms {
		m := &t.Arms[i]
		class, _ := a.sideClass(t, m, words[m.Side])
		if class == "" || one != "" && class != one {
			return ""
		}
		one = class
	}
	return one
}

// oneLine keeps a text of the laboratory from looking like two of its parts.
func oneLine(s string) string {
	return strings.ReplaceAll(strings.Join(strings.Fields(s), " "), "; ", ", ")
}

// partsOf splits words kept by side, "left: Normal; right: Intermediate"; words
// without a side are about the test as a whole.
func partsOf(s string) (side map[string]string, whole []string) {
	side = map[string]string{}
	for part := range strings.SplitSeq(s, "; ") {
		if l, ok := strings.CutPrefix(part, "left: "); ok {
			side["left"] = l
		} else if r, ok := strings.CutPrefix(part, "right: "); ok {
			side["right"] = r
		} else if part != "" {
			whole = append(whole, part)
		}
	}
	return side, whole
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
	sides, whole := partsOf(old)
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
	sides, plain := partsOf(old)
	if len(plain) == 1 { // it held for the other side
		sides["left"], sides["right"] = plain[0], plain[0]
	}
	sides[side] = word
	if sides["left"] == sides["right"] {
		return word
	}
	return joinParts(sides, nil)
}

// sideWord gives what is kept for a side.
func sideWord(kept, side string) string {
	sides, plain := partsOf(kept)
	if len(plain) == 1 {
		return plain[0]
	}
	return sides[side]
}
