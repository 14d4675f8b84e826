package intake

import (
	"fmt"
	"regexp"
	"strings"
)

// Verdict is what the decision rule says of one item before it is matched with
// cases: Opened stands for "a case is wanted".
type Verdict struct {
	Outcome Outcome
	Kind    string   // words of the intake page
	Reasons []string // one sentence each, with its place
	Top     bool     // presumptive wording: first on the review list
	Urgent  bool     // immediate referral was asked for
	Genes   Genotyping

	onFile bool // the case of the infant names two variants already
	result bool // a sweat result that nothing in it keeps from its case
}

// The kinds shown on the intake page.
const (
	KindNew       = "new infant"
	KindAdds      = "adds to a case"
	KindResult    = "result for a case"
	KindTwin      = "possible twin"
	KindSame      = "possible same infant"
	KindCannot    = "cannot be read"
	KindNot       = "not referred (in range)"
	KindHere      = "already here"
	KindRefused   = "not a result"
	KindWaits     = "more to come"
	KindPresumed  = "presumptive CF"
	KindLook      = "look at this"
	KindCorrected = "corrected result"
)

// reading of one answer of the list LL840-0 (LOINC) for 46769-6.
type reading uint8

const (
	unclear   reading = iota // a person decides
	inRange                  // no case
	refer                    // a case
	referNow                 // a case, immediate referral
	repeat                   // another card is wanted
	waits                    // a later message is expected
	unsuited                 // the specimen was not usable
	notTested                // no result will come without a person
)

// answerReads maps the answers of LL840-0 and of 57130-7 that were seen.
var answerReads = map[string]reading{
	"LA18592-8": inRange, "LA34518-3": inRange,
	"LA25817-0": referNow, "LA18593-6": refer, "LA18594-4": refer,
	"LA12430-7": repeat, "LA12431-5": waits, "LA16204-2": waits,
	"LA9663-1": unclear, "LA11884-6": unclear, "LA4259-3": unclear,
	"LA13538-6": notTested, "LA16205-9": unsuited,
}

var (
	inWords    = regexp.MustCompile(`(?i)\b(in[ -]range|within normal limits|normal|negative|wnl|screen neg|not elevated|low risk|no further)\b`)
	outWords   = regexp.MustCompile(`(?i)\b(out[ -]of[ -]range|out[ -]range|abnormal|positive|elevated|refer\w*|raised|high risk|presumptive|inconclusive|indeterminate|borderline|equivocal|unsatisfactory|pending|repeat|not tested|incomplete)\b`)
	outExact   = regexp.MustCompile(`(?i)^(out[ -]of[ -]range|abnormal|positive|screen[- ]positive|presumptive( positive)?|referred|refer)\b`)
	butWords   = regexp.MustCompile(`(?i)\b(but|except)\b`)
	notOut     = regexp.MustCompile(`(?i)\bnot\b|\bfor (another|other)\b|\?`)
	inExact    = regexp.MustCompile(`(?i)^(in[ -]range|normal|negative|screen[- ]negative|within normal limits|wnl)$`)
	nowWords   = regexp.MustCompile(`(?i)immediate (referral|refer)`)
	repeatText = regexp.MustCompile(`(?i)further dried blood spot|repeat (card|specimen|screen)|second card`)
	waitsText  = regexp.MustCompile(`(?i)second[- ]tier|pending|to follow`)
)

// read gives the meaning of an answer, and a sentence when code and text disagree
// or the code is not known.
func read(a Answer, words bool) (reading, string) {
	text := strings.TrimSpace(a.Text)
	if r, ok := answerReads[a.Code]; ok {
		all := strings.TrimSpace(text + " " + a.Other)
		for f := range strings.FieldsSeq(a.Other) {
			if other, known := answerReads[strings.ToUpper(f)]; known && other != r {
				return unclear, fmt.Sprintf("The codes %s and %s stand beside each other and do not mean the same.", a.Code, Shorten(f))
			}
		}
		if r == inRange && (outWords.MatchString(all) || butWords.MatchString(all)) {
			return unclear, fmt.Sprintf("The code %s means in range, but the text says %q.", a.Code, Shorten(all))
		}
		if r != inRange && inExact.MatchString(text) {
			return unclear, fmt.Sprintf("The text says %q, but the code %s means something else.", Shorten(text), a.Code)
		}
		return r, ""
	}
	if isLA(a.Code) {
		return unclear, fmt.Sprintf("The answer %s %s is not one that is known.", a.Code, Shorten(text))
	}
	switch {
	case text == "" && a.Code == "":
		return unclear, "The cystic fibrosis interpretation is empty."
	case repeatText.MatchString(text):
		return repeat, ""
	case waitsText.MatchString(text):
		return waits, ""
	case outExact.MatchString(text) && !notOut.MatchString(text):
		if nowWords.MatchString(text) {
			return referNow, ""
		}
		return refer, ""
	case inExact.MatchString(text):
		if words {
			return inRange, ""
		}
		return unclear, fmt.Sprintf("The interpretation is only in words (%q), without a known code.", Shorten(text))
	}
	return unclear, fmt.Sprintf("The interpretation %q is not one that is known.", Shorten(strings.TrimSpace(a.Code+" "+text)))
}

func isLA(code string) bool { return strings.HasPrefix(code, "LA") && strings.Contains(code, "-") }

var cfText = regexp.MustCompile(`(?i)cystic fibrosis|\bcf\b`)

// hasCF reports cystic fibrosis in a list of conditions. The list of conditions
// tested for is never asked.
func hasCF(as []Answer) (Answer, bool) {
	for _, a := range as {
		switch {
		case a.Code == "LA22202-8", a.Code == "LA12537-9", a.Code == "190905008", cfText.MatchString(a.Text):
			return a, true
		}
	}
	return Answer{}, false
}

// poor reports a specimen that was said not to be acceptable.
func poor(as []Answer) (Answer, bool) {
	for _, a := range as {
		low := strings.ToLower(a.Text)
		if a.Code == "LA12432-3" || a.Code == "" && a.Text == "" || a.Code == "LA137-2" {
			continue
		}
		if !strings.Contains(low, "unaccept") && !strings.Contains(low, "unsat") && !strings.Contains(low, "not ") {
			if a.Code == "" && (strings.HasPrefix(low, "accept") || strings.HasPrefix(low, "satis") || low == "good" || low == "adequate" || low == "none") {
				continue
			}
		}
		return a, true
	}
	return Answer{}, false
}

func (a Answer) where() string {
	if w := a.At.Where(); w != "" {
		return w + ": "
	}
	return ""
}

// Decide applies the decision rule to one item. Interpretation first, then the
// list of positive conditions; never the overall result alone and never the flag.
func Decide(it *Item, s Settings) Verdict {
	r := &it.Referral
	v := Verdict{Outcome: Review, Kind: KindCannot}
	it.shortened()
	v.Genes = ReadVariants(r.Variants, r.Comments)
	for _, p := range it.Problems {
		if p.Severity == Fault {
			v.Reasons = append(v.Reasons, p.String())
		}
	}
	switch {
	case it.Kind == Unwanted:
		v.Outcome, v.Kind = Refused, KindRefused
		return v
	case it.Kind == Unreadable:
		return v
	case r.SweatTest && !r.Screen:
		v.sweat(r)
		return v
	case r.WrongPatient:
		v.add("The laboratory says that a result belongs to another patient (result state W).")
		return v
	}
	v.screen(r, s)
	v.presumptive(r)
	v.identity(r)
	if r.SweatTest {
		v.hold(KindResult, "The message also holds a sweat test result. A person enters it on the case.")
		v.Reasons = append(v.Reasons, siteLines(r)...)
	}
	if Worst(it.Problems) == Fault && (v.Outcome == Opened || v.Outcome == NoCase) {
		v.Outcome, v.Kind = Review, KindCannot
	}
	if v.Outcome == NoCase && r.Preliminary {
		v.add("The result is preliminary; a final one may follow.")
	}
	return v
}

func (v *Verdict) add(text string) { v.Reasons = append(v.Reasons, text) }

// hold sends the item to a person with a reason.
func (v *Verdict) hold(kind, text string) {
	v.Outcome = Review
	v.Kind = kind
	v.result = false
	v.add(text)
}
