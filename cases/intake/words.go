package intake

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"

	"dunlin/cases"
)

var languages = map[string]string{
	"english": "en", "eng": "en", "spanish": "es", "spa": "es", "español": "es", "french": "fr", "fra": "fr", "fre": "fr",
	"german": "de", "deu": "de", "ger": "de", "chinese": "zh", "zho": "zh", "chi": "zh", "mandarin": "zh",
	"vietnamese": "vi", "vie": "vi", "arabic": "ar", "ara": "ar", "russian": "ru", "rus": "ru", "korean": "ko", "kor": "ko",
	"portuguese": "pt", "por": "pt", "haitian": "ht", "hat": "ht", "haitian creole": "ht", "somali": "so", "som": "so",
	"hmong": "hmn", "tagalog": "tl", "tgl": "tl", "japanese": "ja", "jpn": "ja", "polish": "pl", "pol": "pl",
	"ukrainian": "uk", "ukr": "uk", "hindi": "hi", "hin": "hi", "nepali": "ne", "nep": "ne", "swahili": "sw", "swa": "sw",
	"italian": "it", "ita": "it", "burmese": "my", "mya": "my", "bur": "my", "karen": "kar", "farsi": "fa", "persian": "fa",
}

// LanguageTag gives the short tag of a language sent as a code or in words; ""
// when nothing usable was sent.
func LanguageTag(code, name string) string {
	for _, s := range []string{code, name} {
		s = strings.ToLower(strings.TrimSpace(s))
		if t, ok := languages[s]; ok {
			return t
		}
		if main, _, _ := strings.Cut(s, "-"); len(main) == 2 && main[0] >= 'a' && main[0] <= 'z' && main[1] >= 'a' && main[1] <= 'z' {
			return s
		}
	}
	return ""
}

// GenericName reports a place-holder such as BABYGIRL or BOY OF ANA. It is shown
// and never used for matching.
func GenericName(given string) bool { return cases.SplitNewborn(given).Placeholder }

var twinLetter = regexp.MustCompile(`(?i)(?:\b(?:baby|boy|girl|babyboy|babygirl|twin|triplet|infant|bb|bg)\s+([A-F])|\b(?:baby|twin)([A-F]))$`)

// TwinLetter gives 1 for a name that ends "TWIN A" or "BABYGIRL A", 2 for B and so
// on; 0 for other names.
func TwinLetter(given string) int {
	g := twinLetter.FindStringSubmatch(strings.TrimSpace(given))
	if g == nil {
		return 0
	}
	return int(strings.ToUpper(g[1] + g[2])[0]-'A') + 1
}

// pluralWords: the LOINC answers of 57722-1 that were seen, and words.
var pluralWords = map[string]int{
	"LA12411-7": 1, "LA6112-2": 1, "LA12412-5": 2, "LA6114-8": 3,
	"SINGLETON": 1, "SINGLE": 1, "TWINS": 2, "TWIN": 2, "TRIPLETS": 3, "TRIPLET": 3,
	"QUADRUPLETS": 4, "QUADS": 4, "QUINTUPLETS": 5,
}

// PluralityWord gives the number of infants that a code, a word or a number means;
// 0 when it means none.
func PluralityWord(s string) int {
	s = strings.ToUpper(strings.TrimSpace(s))
	if n, ok := pluralWords[s]; ok {
		return n
	}
	if n, err := strconv.Atoi(s); err == nil && n >= 1 && n <= 12 {
		return n
	}
	return 0
}

// Grams gives a weight in whole grams. A value outside 300 to 7,000 g, or in
// another unit than g or kg, is not used: why then says so in a sentence that
// begins with a verb, and g is 0.
func Grams(m Measure) (g float64, why string) {
	if m.Value == nil || m.Comparator != "" {
		if m.Doubt != "" {
			return 0, m.Doubt + ". It is kept as text; enter the weight in grams."
		}
		return 0, "is not one plain number. It is kept as text; enter the weight in grams."
	}
	v := *m.Value
	unit := strings.ToLower(strings.TrimSpace(m.Unit))
	switch unit {
	case "g", "gm", "gram", "grams", "":
	case "kg", "kilogram", "kilograms":
		v *= 1000
	default:
		return 0, "has the unit " + Shorten(m.Unit) + ", which is not converted. It is kept as text; enter the weight in grams."
	}
	if v < 300 || v > 7000 {
		if v >= 0.3 && v <= 7 {
			return 0, "looks like kilograms where grams are meant. It is kept as text; enter the weight in grams."
		}
		return 0, "is not between 300 g and 7,000 g. It is kept as text; check it."
	}
	if unit == "" {
		return math.Round(v), "has no unit and was read as grams; check it."
	}
	return math.Round(v), ""
}

var gestationForm = regexp.MustCompile(`^(\d{2})\s*(?:w|wk|wks|weeks?|\+)?\s*(?:\+|,|and)?\s*(?:(\d)\s*(?:d|days?|/7)?)?$`)

// ReadGestation reads completed weeks ("39"), weeks and days ("39w2d", "39+2",
// "39 2/7"), or days when the unit is d. Only 22w0d to 44w6d can be used.
func ReadGestation(s, unit string) (g cases.Gestation, why string) {
	t := strings.ToLower(strings.TrimSpace(s))
	if f, err := strconv.ParseFloat(t, 64); err == nil && !math.IsNaN(f) && !math.IsInf(f, 0) {
		switch unit {
		case "d", "day", "days":
			g = cases.Gestation(math.Max(0, math.Min(f, 400)))
			if f != math.Trunc(f) {
				return 0, "is not a whole number of days. It is kept as text; enter weeks and days."
			}
		case "", "wk", "wks", "w", "week", "weeks":
			if f != math.Trunc(f) {
				return 0, "has a decimal, which may mean days or tenths of a week. It is kept as text; enter weeks and days."
			}
			g = cases.Gestation(math.Max(0, math.Min(f, 60)) * 7)
		default:
			return 0, "has the unit " + Shorten(unit) + ", not weeks. It is kept as text; enter weeks and days."
		}
	} else if m := gestationForm.FindStringSubmatch(t); m != nil {
		w, _ := strconv.Atoi(m[1])
		d, _ := strconv.Atoi("0" + m[2])
		if d > 6 {
			return 0, "has more than 6 days. It is kept as text; enter weeks and days."
		}
		g = cases.Gestation(w*7 + d)
	} else {
		return 0, "cannot be read. It is kept as text; enter weeks and days."
	}
	if g < 22*7 || g > 44*7+6 {
		return 0, "is not between 22w0d and 44w6d. It is kept as text; check it."
	}
	return g, ""
}

// fold brings spellings of a name together for matching only: case, accents,
// blanks and punctuation are dropped.
func fold(s string) string {
	if asciiText(s) {
		return foldASCII(s)
	}
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(s)) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case r == 'ł':
			b.WriteRune('l')
		case r == 'ø':
			b.WriteRune('o')
		case r == 'ß':
			b.WriteString("ss")
		case r > 0x2FF && !(r >= 0x300 && r <= 0x36F):
			b.WriteRune(r) // other scripts stay as they are
		}
	}
	return b.String()
}

// foldASCII is fold for plain text, which most names and numbers are.
func foldASCII(s string) string {
	out := make([]byte, 0, len(s))
	for i := range len(s) {
		switch c := s[i]; {
		case c >= 'A' && c <= 'Z':
			out = append(out, c|0x20)
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
			out = append(out, c)
		}
	}
	return string(out)
}

// digits keeps the last ten digits of a telephone number, for matching only.
func digits(s string) string {
	var b strings.Builder
	s, _, _ = strings.Cut(s, "x")
	for _, r := range s {
		if r >= '0' && r <= '9' {
			b.WriteRune(r)
		}
	}
	t := b.String()
	if len(t) > 10 {
		t = t[len(t)-10:]
	}
	return t
}
