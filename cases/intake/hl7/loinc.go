package hl7

import "strings"

// numbered reports up to most digits, a hyphen and a check digit.
func numbered(code string, most int) bool {
	n := digitsOf(code)
	return n >= 1 && n <= most && len(code) == n+2 && code[n] == '-' && digitsOf(code[n+1:]) == 1
}

func loincForm(code string) bool { return numbered(code, 7) }

func looksLOINC(code, system string) bool {
	if !loincForm(code) {
		return false
	}
	switch strings.ToUpper(system) {
	case "", "LN", "LNC", "LOINC", "2.16.840.1.113883.6.1":
		return true
	}
	return known[code] != "" // said to be local, and one of those read here
}

func isAnswerCode(code string) bool {
	return len(code) > 2 && (code[0]|0x20) == 'l' && (code[1]|0x20) == 'a' && numbered(code[2:], 6)
}

// checkDigit computes the mod-10 check digit of the digits before the hyphen:
// every second digit from the right is doubled, digit sums are added.
func checkDigit(digits string) int {
	sum, double := 0, true
	for i := len(digits) - 1; i >= 0; i-- {
		d := int(digits[i] - '0')
		if double {
			if d *= 2; d > 9 {
				d -= 9
			}
		}
		sum += d
		double = !double
	}
	return (10 - sum%10) % 10
}

// Mistyped reports that a LOINC code fails its check digit, and gives the code
// with the digit that fits. Source: LOINC Users' Guide (mod-10 check digit); it
// holds for all distinct codes of the messages it was tried on.
func Mistyped(code string) (suggest string, wrong bool) {
	i := strings.IndexByte(code, '-')
	if i < 0 || !loincForm(code) {
		return "", false
	}
	want := byte('0' + checkDigit(code[:i]))
	return code[:i+1] + string(rune(want)), code[i+1] != want
}

// known lists the LOINC codes that this reader uses or knows to leave aside in a
// cystic fibrosis panel, each with what it carries.
var known = map[string]string{
	"54089-8": "newborn screening panel", "57128-1": "summary panel", "57717-1": "card panel",
	"57794-0": "results panel", "54078-1": "cystic fibrosis panel",
	"48633-2": "irt", "46769-6": "interpretation", "57707-2": "comment",
	"21654-9": "variants", "78382-9": "variants", "90256-9": "variants",
	"57130-7": "overall", "57131-5": "positive", "57720-5": "equivocal", "57719-7": "tested",
	"57724-7": "narrative", "57129-9": "report", "69969-4": "narrative", "57721-3": "reason",
	"57718-9": "quality", "57723-9": "card", "57711-4": "first card", "57716-3": "issuer",
	"57715-5": "birth time", "8339-4": "birth weight", "58229-6": "card weight",
	"57714-8": "gestation", "57722-1": "plurality", "57713-0": "factors", "67703-9": "factors text",
	"62317-3": "transfusion", "73806-2": "age at collection", "79566-6": "method",
	"62323-1": "care id", "62324-9": "care name", "62325-6": "practice id",
	"62326-4": "practice", "62327-2": "practice address", "62328-0": "care phone",
	"62329-8": "facility id", "62330-6": "facility", "62331-4": "facility address",
	"62332-2": "facility phone", "73766-8": "birth place", "67706-2": "maternal factors",
	"67704-7": "feeding", "2077-6": "sweat chloride", "56448-4": "sweat screen",
	"105200-0": "sweat screen", "108639-6": "sweat chloride", "2954-6": "sweat sodium",
	"2827-4": "sweat potassium", "2958-7": "sweat ratio", "101845-6": "sweat interpretation",
	// What a sender's own code may mean that has no LOINC code.
	"sweat site": "sweat site", "sweat amount": "sweat amount", "sweat minutes": "sweat minutes",
	"sweat interpretation": "sweat interpretation", "sweat comment": "sweat comment",
}

// screenCodes are those whose presence makes a message a newborn screen.
var screenCodes = map[string]bool{
	"54089-8": true, "57128-1": true, "57717-1": true, "57794-0": true, "54078-1": true,
	"48633-2": true, "46769-6": true, "57707-2": true, "57130-7": true, "57131-5": true,
	"57720-5": true, "57719-7": true,
}

// mistypedAnswer reports an answer code whose check digit is wrong. The rule is
// worked out from the answer table, where it holds for every code; no published
// rule was seen: the LOINC check digit plus 2 when the number has an odd count of
// digits, plus 5 when even.
func mistypedAnswer(code string) (suggest string, wrong bool) {
	if !isAnswerCode(code) {
		return "", false
	}
	digits := code[2:strings.IndexByte(code, '-')]
	add := 5
	if len(digits)%2 == 1 {
		add = 2
	}
	want := byte('0' + (checkDigit(digits)+add)%10)
	return "LA" + digits + "-" + string(rune(want)), code[len(code)-1] != want
}
