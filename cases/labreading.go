package cases

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
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

// ReadLabWords gives what a laboratory's own words on a sweat test mean: normal,
// intermediate, positive, abnormal or QNS; "" when they say nothing of it, or, like
// a printed legend, more than one thing. The words are those that catalogues print
// and common practice.
func ReadLabWords(words string) string {
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
	limit, _ := strconv.ParseFloat(g[2], 64)
	if v < limit || v == limit && g[1] != "<" {
		return labNormal
	}
	return labAbnormal
}

// agrees compares a reading of the laboratory with the program's.
func agrees(class string, o Outcome) bool {
	switch class {
	case labNormal:
		return o == Unlikely
	case labIntermediate:
		return o == Intermediate
	case labPositive:
		return o == ConsistentCF
	case labAbnormal:
		return o == Intermediate || o == ConsistentCF
	case labQNS:
		return o == QNS
	}
	return true
}

// LabDiffers says in words where the laboratory's reading of a test is not the
// program's, as of a day: side by side first, then for the test as a whole; "" when
// they agree or the laboratory said nothing. The program's reading counts; the
// laboratory's is shown beside it. Its words count before its flag, and its flag
// before its range.
func (p *Protocol) LabDiffers(c *Case, t *SweatTest, on Day) string {
	if t.Laboratory == nil {
		return ""
	}
	now := p.ReadTest(c, t, p.Readiness(c, on).Earliest, on)
	if now.Outcome == VoidTest {
		return ""
	}
	words, whole := SideTexts(t.Laboratory.Reads)
	valued, worded := 0, 0
	for i := range now.Arms.N {
		if t.Arms[i].Chloride != nil {
			valued++
			if words[t.Arms[i].Side] != "" {
				worded++
			}
		}
	}
	var out []string
	for i := range now.Arms.N {
		m := &t.Arms[i]
		said := words[m.Side]
		if m.Chloride != nil && worded < valued && said != "" {
			whole, said = append(whole, said), "" // one word for the whole test, under one of its sides
		}
		if s := p.sideDiffers(c, t, m, now.Arms.A[i], said, on); s != "" {
			out = append(out, sideName(m.Side)+": "+s+".")
		}
	}
	if said := bothSides(t, words); len(out) == 0 && len(whole) == 0 && said != "" && (now.Outcome == ArmsDisagree || now.Outcome == Unverified) {
		out = append(out, fmt.Sprintf("The laboratory reads it as %s; by the program's protocol the test reads %q.", said, now.Outcome.Word()))
	}
	if now.Outcome != NotResulted {
		for _, w := range whole {
			if !agrees(ReadLabWords(w), now.Outcome) {
				out = append(out, fmt.Sprintf("The laboratory says %q of the test; by the program's protocol it reads %q.", shortWords(w), now.Outcome.Word()))
			}
		}
	}
	return strings.Join(out, " ")
}

// sideDiffers compares one side: what the laboratory said in words, else by its flag,
// else by its range.
func (p *Protocol) sideDiffers(c *Case, t *SweatTest, m *Arm, read ArmRead, said string, on Day) string {
	v := m.Chloride
	if v != nil && !read.Usable {
		return fmt.Sprintf("the laboratory gives %s; the amount, %s, is below the %s needed by the program's protocol, so the value is not read", mmol(*v), amountWords(t, m), numberText(read.Needed))
	}
	limits := SideText(t.Laboratory.Range, m.Side)
	class, by := sideClass(t, m, said)
	one := *t
	one.Arms = []Arm{*m}
	o := p.ReadTest(c, &one, p.Readiness(c, on).Earliest, on).Outcome
	if o == NotResulted || agrees(class, o) {
		return ""
	}
	text := fmt.Sprintf("the laboratory %s; by the program's protocol %s reads %q", by, mmol(*v), o.Word())
	if limits != "" && !strings.HasPrefix(by, "has") {
		text += " (the laboratory's range: " + limits + ")"
	}
	return text
}

// sideClass gives what the laboratory reads of one side, and by what it says so.
func sideClass(t *SweatTest, m *Arm, said string) (class, by string) {
	if class = ReadLabWords(said); class != "" || m.Chloride == nil {
		return class, fmt.Sprintf("says %q", shortWords(said))
	}
	flag, limits := SideText(t.Laboratory.Flag, m.Side), SideText(t.Laboratory.Range, m.Side)
	if class = labFlag(flag); class != "" {
		return class, "flags it " + flag
	}
	return labRange(limits, *m.Chloride), "has the range " + limits
}

// bothSides gives the one reading that the laboratory has for every side, "" when it
// has several or none.
func bothSides(t *SweatTest, words map[string]string) (one string) {
	for i := range t.Arms {
		m := &t.Arms[i]
		class, _ := sideClass(t, m, words[m.Side])
		if class == "" || one != "" && class != one {
			return ""
		}
		one = class
	}
	return one
}

// SideTexts splits what a laboratory's reading keeps by side, "left: Normal; right: Intermediate"; words
// without a side are about the test as a whole.
func SideTexts(s string) (side map[string]string, whole []string) {
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

// SideText gives what is kept for a side (left or right); a text without a side holds
// for both.
func SideText(kept, side string) string {
	sides, plain := SideTexts(kept)
	if len(plain) == 1 {
		return plain[0]
	}
	return sides[side]
}

func sideName(side string) string {
	if side == "right" {
		return "Right side"
	}
	return "Left side"
}

func numberText(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func mmol(v float64) string { return numberText(v) + " mmol/L" }

func amountWords(t *SweatTest, m *Arm) string {
	switch {
	case t.Collector == "pad" && m.AmountMg != nil:
		return numberText(*m.AmountMg) + " mg"
	case t.Collector != "pad" && m.AmountUL != nil:
		return numberText(*m.AmountUL) + " µL"
	}
	return "not recorded"
}

// shortWords cuts a text to what fits a sentence.
func shortWords(s string) string {
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) > 80 {
		return string(r[:80]) + "…"
	}
	return string(r)
}
