package cases_test

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
)

// Sources: the Soundex examples of the US census and of Knuth, The Art of Computer
// Programming, volume 3, as the file gives them; the rest by two implementations
// that agree.
func TestSoundex(t *testing.T) {
	rows := table(t, "../linkage/phonetic_codes.csv")
	for _, row := range rows {
		if row["soundex"] != row["soundex_ts"] {
			t.Errorf("%s: the file's own implementations disagree", row["name"])
		}
		if got := cases.Soundex(row["name"]); got != row["soundex"] {
			t.Errorf("%s: %s, want %s", row["name"], got, row["soundex"])
		}
	}
	if len(rows) != 50 {
		t.Errorf("%d names", len(rows))
	}
	for name, want := range map[string]string{"": "", "  ": "", "Peña": "P500", "PENA": "P500", "Łukasz": "L220", "Nguyễn": "N250",
		"Muller": "M460", "Müller": "M460", "Mu\u0308ller": "M460", "Фёдоров": "", "O'Neil": "O540", "van der Berg": "V536"} {
		if got := cases.Soundex(name); got != want {
			t.Errorf("%q: %s, want %s", name, got, want)
		}
	}
}

// Sources: the file; its check rows were published, the fields' m and u are
// illustrative. The birth order of the file (m below u) would let a difference speak
// for the same infant; such values are refused, and the default differs there.
func TestFellegiSunterWeights(t *testing.T) {
	m := cases.DefaultProtocol().Matching
	ours := map[string]cases.Chance{"mother_last_name": m.MotherName, "infant_last_name": m.Surname, "dob": m.BirthDate, "sex": m.Sex,
		"birth_facility": m.Facility, "birth_weight_50g": m.BirthWeight, "mother_dob": m.MotherBorn, "phone_last7": m.Phone, "zip5": m.Postal}
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-6*max(1, math.Abs(b)) }
	number := func(s string) float64 {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	compared := 0
	for _, row := range table(t, "../linkage/fs_weights.csv") {
		c := cases.Chance{M: number(row["m"]), U: number(row["u"])}
		if !near(c.Agree(), number(row["w_agree"])) || !near(c.Differ(), number(row["w_disagree"])) {
			t.Errorf("%s: %f %f, want %s %s", row["field"], c.Agree(), c.Differ(), row["w_agree"], row["w_disagree"])
		}
		if d, ok := ours[row["field"]]; ok {
			compared++
			if !near(d.Agree(), c.Agree()) || !near(d.Differ(), c.Differ()) {
				t.Errorf("the default of %s is %v, the file says %v", row["field"], d, c)
			}
		}
	}
	if compared != len(ours) {
		t.Errorf("%d defaults compared, want %d", compared, len(ours))
	}
}

func TestMatchingValuesAreRead(t *testing.T) {
	p, err := cases.ParseProtocol([]byte(`{"matching":{"certain_from":35,"phone":{"m":0.6}}}`))
	if err != nil {
		t.Fatal(err)
	}
	if p.Matching.CertainFrom != 35 || p.Matching.Phone.M != 0.6 || p.Matching.Phone.U != 1e-6 || p.Matching.ReviewFrom != 12 {
		t.Errorf("%+v", p.Matching)
	}
	for doc, path := range map[string]string{
		`{"matching":{"birth_order":{"m":0.9,"u":0.95}}}`: "matching.birth_order",
		`{"matching":{"sex":{"m":1}}}`:                    "matching.sex",
		`{"matching":{"phone":{"u":0}}}`:                  "matching.phone",
		`{"matching":{"certain_from":10}}`:                "matching.certain_from",
		`{"matching":{"name_differs_below":0.95}}`:        "matching.name_differs_below",
		`{"matching":{"blood_group":{"m":1}}}`:            "matching.blood_group",
	} {
		_, err := cases.ParseProtocol([]byte(doc))
		var e *cases.Error
		if !errors.As(err, &e) || !slices.ContainsFunc(e.Faults, func(f cases.Fault) bool { return f.Path == path }) {
			t.Errorf("%s: want a fault at %s, have %v", doc, path, err)
		}
	}
}

func TestSplitNewborn(t *testing.T) {
	for name, want := range map[string]cases.Newborn{
		"BABY BOY JONES":   {Rest: "JONES", Sex: "male", Placeholder: true},
		"BABY GIRL JONES":  {Rest: "JONES", Sex: "female", Placeholder: true},
		"BABY A RAMIREZ":   {Rest: "RAMIREZ", Order: 1, Placeholder: true},
		"BABY B RAMIREZ":   {Rest: "RAMIREZ", Order: 2, Placeholder: true},
		"Baby Girl A":      {Sex: "female", Order: 1, Placeholder: true},
		"BABYGIRL B":       {Sex: "female", Order: 2, Placeholder: true},
		"BABYGIRLB":        {Sex: "female", Order: 2, Placeholder: true},
		"TWIN 2":           {Order: 2, Placeholder: true},
		"BABY BOY JONES B": {Rest: "JONES", Sex: "male", Order: 2, Placeholder: true},
		"BOY OF ANA":       {Mother: "ANA", Sex: "male", Placeholder: true},
		"BABY":             {Placeholder: true},
		"":                 {Placeholder: true},
		"ADA":              {Rest: "ADA"},
		"Bobby":            {Rest: "Bobby"},
		"Jose Baby":        {Rest: "Jose Baby"},
		"A":                {Rest: "A"},
	} {
		if got := cases.SplitNewborn(name); got != want {
			t.Errorf("%q: %+v, want %+v", name, got, want)
		}
	}
	for name, want := range map[string]string{"BABY BOY JONES": "JONES", "SON": "SON", "Boy": "Boy", "de la Cruz": "de la Cruz", "BABYGIRL": ""} {
		if got := cases.Surname(name); got != want {
			t.Errorf("family name %q: %q, want %q", name, got, want)
		}
	}
}

func TestMatchKeys(t *testing.T) {
	c := cases.Case{Infant: cases.Infant{Family: "García-López", FormerNames: []string{"Van Deusen"}, Born: mustDay(t, "2026-03-01"), Facility: "Alder Bay Hospital"},
		Family: &cases.Family{Mother: "Ina Garcia", MotherBorn: mustDay(t, "1995-02-03"),
			Guardians: []cases.Guardian{{Given: "Ina", Family: "Garcia", Relation: "mother", Phones: []cases.Phone{{Number: "(555) 555-0101 x7"}, {Number: "000-0000"}, {Number: "911"}}}}}}
	want := "dates 2026-03-01 1995-02-03 |mother 1995-02-03 G620|name 2026-03-01 D250|name 2026-03-01 G620|name 2026-03-01 G624|name 2026-03-01 L120|name 2026-03-01 V532|phone 5550101|place 2026-03-01 ALDERBAYHOSPITAL"
	got := cases.MatchKeys(&c)
	slices.Sort(got)
	if s := strings.Join(got, "|"); s != want {
		t.Errorf("keys\n%s, want\n%s", s, want)
	}
	find := func(f cases.MatchFacts) bool {
		return slices.ContainsFunc(f.Near(), func(k string) bool { return slices.Contains(got, k) })
	}
	born := c.Infant.Born
	for what, f := range map[string]cases.MatchFacts{
		"the day before, one surname of two": {Born: born - 1, Surnames: []string{"LOPEZ"}},
		"joined surname":                     {Born: born, Surnames: []string{"VANDEUSEN"}},
		"the day after, mother's birth date": {Born: born + 1, MotherBorn: c.Family.MotherBorn},
		"phone alone":                        {Phones: []string{"1-555-555-0101"}},
		"no birth date, mother known":        {Mother: "GARCIA", MotherBorn: c.Family.MotherBorn},
		"no name, same place":                {Born: born, Facility: "ALDER BAY HOSPITAL"},
	} {
		if !find(f) {
			t.Errorf("%s: not found by %q", what, f.Near())
		}
	}
	for what, f := range map[string]cases.MatchFacts{
		"two days apart":          {Born: born + 2, Surnames: []string{"Garcia"}},
		"other name, other place": {Born: born, Surnames: []string{"Wren"}, Facility: "Other"},
		"nothing":                 {},
		"a number of zeros":       {Phones: []string{"000-0000"}},
	} {
		if find(f) {
			t.Errorf("%s: found by %q", what, f.Near())
		}
	}
}
