package cases

import (
	"strings"
	"time"
)

// MatchFacts are the facts by which cases that may be about one infant are looked
// up, from a case or from what was sent.
type MatchFacts struct {
	Born       Day
	Surnames   []string // of the infant, now and formerly, and of the family
	Mother     string   // the mother's family name
	MotherBorn Day
	Phones     []string // as sent
	Facility   string   // where the infant was born
}

// SharedKey is something that several cases have in common, in order of making.
type SharedKey struct {
	Key string // as MatchKeys gives it; "" for a record or accession number
	IDs []ID
}

// MatchKeys gives the keys under which a case is found again. They are a pure
// function of the case: birth date (now and formerly) with the Soundex code of each surname, with the
// mother's birth date and with the birth place; each telephone number; and the
// mother's birth date with the code of her surname.
func MatchKeys(c *Case) []string {
	f := MatchFacts{Born: c.Infant.Born, Facility: c.Infant.Facility,
		Surnames: append([]string{c.Infant.Family}, c.Infant.FormerNames...)}
	if n := SplitNewborn(c.Infant.Given); n.Placeholder {
		f.Surnames = append(f.Surnames, n.Rest) // BABY BOY JONES
	}
	if fam := c.Family; fam != nil {
		f.MotherBorn = fam.MotherBorn
		_, f.Mother = c.Mother()
		f.Surnames = append(f.Surnames, f.Mother)
		for i := range fam.Guardians {
			f.Surnames = append(f.Surnames, fam.Guardians[i].Family)
			for _, p := range fam.Guardians[i].Phones {
				f.Phones = append(f.Phones, p.Number)
			}
		}
	}
	keys := f.keys(f.Born)
	for _, d := range c.Infant.FormerBirths() {
		for _, k := range f.keys(d) {
			keys = addKey(keys, k)
		}
	}
	return keys
}

// Near gives the keys of the cases that may be about the same infant: those of the
// facts, and for the day before and after the birth those with the surnames and
// the mother's birth date.
func (f MatchFacts) Near() []string {
	keys := f.keys(f.Born)
	if f.Born != 0 {
		keys = f.born(keys, f.Born-1)
		keys = f.born(keys, f.Born+1)
	}
	return keys
}

func (f *MatchFacts) keys(born Day) []string {
	var out []string
	if born != 0 {
		out = f.born(out, born)
		if place := strings.ReplaceAll(latin(f.Facility), " ", ""); place != "" {
			out = append(out, "place "+dayCode(born)+place)
		}
	}
	for _, p := range f.Phones {
		if n := PhoneKey(p); n != "" {
			out = addKey(out, "phone "+n)
		}
	}
	if f.MotherBorn != 0 {
		for _, code := range nameCodes(f.Mother) {
			out = addKey(out, "mother "+dayCode(f.MotherBorn)+code)
		}
	}
	return out
}

// born adds the keys that hang on a birth date.
func (f *MatchFacts) born(out []string, on Day) []string {
	day := dayCode(on)
	for _, name := range f.Surnames {
		for _, code := range nameCodes(name) {
			out = addKey(out, "name "+day+code)
		}
	}
	if f.MotherBorn != 0 {
		out = addKey(out, "dates "+day+dayCode(f.MotherBorn))
	}
	return out
}

// nameCodes gives the Soundex codes of a surname: of its words joined, and of each
// word that is no particle. A word of another script has its first four letters.
func nameCodes(surname string) (out []string) {
	words := NameWords(Surname(surname))
	code := func(w string) {
		c := Soundex(w)
		if c == "" {
			if rs := []rune(w); len(rs) > 4 {
				w = string(rs[:4])
			}
			c = w
		}
		if c != "" {
			out = addKey(out, c)
		}
	}
	code(strings.Join(words, ""))
	if len(words) > 1 {
		for _, w := range words {
			if !particles[w] {
				code(w)
			}
		}
	}
	return out
}

// PhoneKey gives the last seven digits of a telephone number, without an extension;
// "" for fewer digits, and for a number of one digit only, which stands for none.
func PhoneKey(number string) string {
	number, _, _ = strings.Cut(strings.ToLower(number), "x")
	digits := make([]byte, 0, 16)
	for i := range len(number) {
		if c := number[i]; c >= '0' && c <= '9' {
			digits = append(digits, c)
		}
	}
	if len(digits) < 7 {
		return ""
	}
	digits = digits[len(digits)-7:]
	if strings.Count(string(digits), string(digits[:1])) == 7 {
		return ""
	}
	return string(digits)
}

// Mother gives the mother's given and family name: of the guardian who is the
// mother, else the last word of her name as the family name.
func (c *Case) Mother() (given, family string) {
	if c.Family == nil {
		return "", ""
	}
	for i := range c.Family.Guardians {
		if g := &c.Family.Guardians[i]; g.Relation == "mother" && g.Given+g.Family != "" {
			return g.Given, g.Family
		}
	}
	words := strings.Fields(c.Family.Mother)
	if len(words) == 0 {
		return "", ""
	}
	k := len(words) - 1
	return strings.Join(words[:k], " "), words[k]
}

func dayCode(d Day) string { return d.Time().Format(time.DateOnly) + " " }

func addKey(keys []string, k string) []string {
	for _, have := range keys {
		if have == k {
			return keys
		}
	}
	return append(keys, k)
}
