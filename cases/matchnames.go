package cases

import "strings"

// Soundex gives the four-character Soundex code of a name by the rules of the US
// census: the first letter, then the codes of the consonants that follow; letters
// of one code side by side, or parted only by H or W, count once. Marks over Latin
// letters are dropped first. A name without a Latin letter has no code: "".
func Soundex(name string) string {
	code := make([]byte, 0, 4)
	var last byte
	for _, r := range latin(name) {
		if r < 'A' || r > 'Z' {
			continue
		}
		c := soundexOf[r-'A']
		switch {
		case len(code) == 0:
			code = append(code, byte(r))
		case c == 'h':
			continue // keeps the last code
		case c != '0' && c != last:
			if code = append(code, c); len(code) == 4 {
				return string(code)
			}
		}
		last = c
	}
	if len(code) == 0 {
		return ""
	}
	return (string(code) + "000")[:4]
}

// soundexOf holds the code of each letter A to Z: 0 a vowel or Y, h for H and W.
const soundexOf = "0123012h02245501262301h202"

// Newborn is a name of a newborn with its place-holder words split off, so that
// BABY BOY JONES and BABY GIRL JONES are not taken for nearly the same name.
type Newborn struct {
	Rest        string // what is left: a family name, or ""
	Mother      string // the name after OF, as in BOY OF ANA
	Sex         string // female, male or ""
	Order       int    // 1 for A or 1, 2 for B or 2, ...; 0 for none
	Placeholder bool   // it began with a place-holder word
}

// placeWords begin a place-holder, each with the sex it says.
var placeWords = map[string]string{
	"BOY": "male", "BABYBOY": "male", "BB": "male", "MALE": "male", "SON": "male",
	"GIRL": "female", "BABYGIRL": "female", "BG": "female", "FEMALE": "female", "DAUGHTER": "female",
	"BABY": "", "INFANT": "", "TWIN": "", "TRIPLET": "", "QUADRUPLET": "", "NEWBORN": "", "UNKNOWN": "", "UNNAMED": "", "NB": "",
}

// orderWords are the letters and numbers that tell infants of one birth apart.
var orderWords = map[string]int{"A": 1, "B": 2, "C": 3, "D": 4, "E": 5, "F": 6, "1": 1, "2": 2, "3": 3, "4": 4, "5": 5, "6": 6,
	"I": 1, "II": 2, "III": 3, "IV": 4, "ONE": 1, "TWO": 2, "THREE": 3}

// SplitNewborn splits place-holder words off a name. A name that does not begin
// with one comes back whole in Rest; an empty name is a place-holder.
func SplitNewborn(name string) (n Newborn) {
	words := strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == ',' || r == '.' || r == '\t' || r == '#' || r == '/' })
	at := 0
	for ; at < len(words); at++ {
		w := strings.ToUpper(words[at])
		sex, place := placeWords[w]
		order := 0
		switch base, glued := gluedOrder(w); {
		case place:
		case base != "":
			sex, order = placeWords[base], glued
		case n.Placeholder && orderWords[w] != 0:
			order = orderWords[w]
		}
		if !place && order == 0 {
			break
		}
		n.Placeholder = true
		if sex != "" {
			n.Sex = sex
		}
		if order != 0 {
			n.Order = order
		}
	}
	if len(words) == 0 {
		n.Placeholder = true
		return n
	}
	rest := words[at:]
	if n.Placeholder && len(rest) > 1 && strings.EqualFold(rest[0], "of") {
		n.Mother = strings.Join(rest[1:], " ")
		return n
	}
	if k := len(rest) - 1; n.Placeholder && k > 0 && n.Order == 0 && orderWords[strings.ToUpper(rest[k])] != 0 {
		n.Order = orderWords[strings.ToUpper(rest[k])]
		rest = rest[:k]
	}
	n.Rest = strings.Join(rest, " ")
	return n
}

// Surname gives a family name without place-holder words; a name such as SON or BOY,
// which is a family name too, stays.
func Surname(name string) string {
	first, _, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(name)), " ")
	switch first {
	case "BOY", "GIRL", "SON", "DAUGHTER", "MALE", "FEMALE":
		return name
	}
	return SplitNewborn(name).Rest
}

// gluedOrder reads BABYA, TWINB or BABYGIRL2: a place-holder word with a letter or
// number at its end.
func gluedOrder(w string) (base string, order int) {
	if len(w) < 3 {
		return "", 0
	}
	base = w[:len(w)-1]
	order = orderWords[w[len(w)-1:]]
	if _, ok := placeWords[base]; !ok || len(base) < 3 || order == 0 {
		return "", 0
	}
	return base, order
}

// NameWords gives the words of a name in capitals without marks, for comparing.
// Apostrophes join; anything else that is no letter or digit parts words.
func NameWords(name string) []string {
	return strings.Fields(latin(name))
}

// particles of family names say nothing alone.
var particles = map[string]bool{"DE": true, "LA": true, "DEL": true, "LAS": true, "LOS": true, "VAN": true, "VON": true, "DER": true,
	"DEN": true, "AL": true, "EL": true, "BIN": true, "IBN": true, "DA": true, "DO": true, "DOS": true, "DI": true, "Y": true, "JR": true, "II": true}

// latin writes a name in capitals and drops marks over Latin letters; other scripts
// stay as they are.
func latin(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z':
			b.WriteByte(byte(r) - 32)
		case r >= 'A' && r <= 'Z' || r >= '0' && r <= '9':
			b.WriteByte(byte(r))
		case r == '\'' || r == '’' || r >= 0x300 && r <= 0x36F:
		case r < 0x80:
			b.WriteByte(' ')
		default:
			b.WriteString(plain(r))
		}
	}
	return b.String()
}

// plain gives the capitals of a Latin letter with marks.
func plain(r rune) string {
	switch {
	case r < 0xC0 || r == 0xD7 || r == 0xF7 || r >= 0x2000 && r <= 0x206F:
		return " "
	case r <= 0x17F:
		return strings.ReplaceAll(latinLetters[3*(r-0xC0):3*(r-0xC0)+3], " ", "")
	case r == 0x1A0 || r == 0x1A1:
		return "O"
	case r == 0x1AF || r == 0x1B0:
		return "U"
	case r == 0x218 || r == 0x219:
		return "S"
	case r == 0x21A || r == 0x21B:
		return "T"
	}
	for _, v := range vietnamese {
		if r >= v.from && r <= v.to {
			return v.letter
		}
	}
	return strings.ToUpper(string(r))
}

// vietnamese are the ranges of U+1EA0 to U+1EF9.
var vietnamese = []struct {
	from, to rune
	letter   string
}{{0x1EA0, 0x1EB7, "A"}, {0x1EB8, 0x1EC7, "E"}, {0x1EC8, 0x1ECB, "I"}, {0x1ECC, 0x1EE3, "O"}, {0x1EE4, 0x1EF1, "U"}, {0x1EF2, 0x1EF9, "Y"}}

// latinLetters holds three characters for each of U+00C0 to U+017F.
const latinLetters = "A  A  A  A  A  A  AE C  E  E  E  E  I  I  I  I  " + // C0
	"D  N  O  O  O  O  O     O  U  U  U  U  Y  TH SS " + // D0
	"A  A  A  A  A  A  AE C  E  E  E  E  I  I  I  I  " + // E0
	"D  N  O  O  O  O  O     O  U  U  U  U  Y  TH Y  " + // F0
	"A  A  A  A  A  A  C  C  C  C  C  C  C  C  D  D  " + // 100
	"D  D  E  E  E  E  E  E  E  E  E  E  G  G  G  G  " + // 110
	"G  G  G  G  H  H  H  H  I  I  I  I  I  I  I  I  " + // 120
	"I  I  IJ IJ J  J  K  K  K  L  L  L  L  L  L  L  " + // 130
	"L  L  L  N  N  N  N  N  N  N  N  N  O  O  O  O  " + // 140
	"O  O  OE OE R  R  R  R  R  R  S  S  S  S  S  S  " + // 150
	"S  S  T  T  T  T  T  T  U  U  U  U  U  U  U  U  " + // 160
	"U  U  U  U  W  W  Y  Y  Y  Z  Z  Z  Z  Z  Z  S  " // 170
