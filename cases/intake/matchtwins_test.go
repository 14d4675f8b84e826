package intake_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// shelf is a reader that finds cases by their keys and numbers, as the store does.
type shelf struct {
	cases.Reader
	cases []cases.Case
	under map[string][]int // by key
}

func (s *shelf) put(c cases.Case) *shelf {
	if s.under == nil {
		s.under = map[string][]int{}
	}
	add := func(k string) { s.under[k] = append(s.under[k], len(s.cases)) }
	for _, k := range cases.MatchKeys(&c) {
		add(k)
	}
	add("accession " + c.Referral.Screen.Accession)
	for _, r := range c.Infant.Records {
		add("record " + r.Number)
	}
	s.cases = append(s.cases, c)
	return s
}

func (s *shelf) MatchIDs(keys []string) (out []cases.ID, err error) {
	var at []int
	for _, k := range keys {
		at = append(at, s.under[k]...)
	}
	slices.Sort(at)
	for _, i := range slices.Compact(at) {
		out = append(out, s.cases[i].ID)
	}
	return out, nil
}

func (s *shelf) Case(id cases.ID) (cases.Case, error) {
	i := slices.IndexFunc(s.cases, func(c cases.Case) bool { return c.ID == id })
	return s.cases[i], nil
}

func (s *shelf) read(key string) (out []cases.Case, err error) {
	ids, err := s.MatchIDs([]string{key})
	for _, id := range ids {
		c, _ := s.Case(id)
		out = append(out, c)
	}
	return out, err
}

func (s *shelf) ByAccession(n string) ([]cases.Case, error) {
	return s.read("accession " + n)
}

func (s *shelf) ByRecord(n string) ([]cases.Case, error) {
	return s.read("record " + n)
}

// child is the truth about one infant.
type child struct {
	id, order, of int
	given         string
	sex           string
	minute        int // of birth, counted from midnight of day
	day           cases.Day
	grams         float64
	home          *household
}

type household struct {
	family, mother, motherFamily, phone, postal, place string
	motherBorn                                         cases.Day
	id                                                 int
}

// world draws infants and what is sent about them.
type world struct {
	*rand.Rand
	next int
}

func (w *world) one(list ...string) string { return list[w.IntN(len(list))] }
func (w *world) chance(p float64) bool     { return w.Float64() < p }

var (
	inventedFamilies = strings.Fields("Wren Lark Tern Finch Heron Swift Plover Martin Crake Egret Garcia-Lopez Nguyen Muller Hernandez Fernandez O'Neil Jones Johnson Smith Smythe")
	inventedMothers  = strings.Fields("Maria Mary Marie Ina Ana Anna June Rosa Lena Mei Elif Vera Nora Dora")
	inventedGiven    = strings.Fields("Ada Bea Ben Cal Dot Eli Fay Gus Hal Ivy Jan Kit Leo Max Ned Oda Pia Ray Sol Una")
)

// siblings draws one birth of n infants, mostly of one sex.
func (w *world) siblings(n int) []child {
	w.next++
	h := &household{id: w.next, family: w.one(inventedFamilies...), mother: w.one(inventedMothers...), phone: fmt.Sprintf("555-%07d", 1000000+w.IntN(8999999)),
		postal: fmt.Sprintf("%05d", w.IntN(60)), place: w.one("Alder Bay Hospital", "Tern Valley Hospital", "North Spit Hospital"),
		motherBorn: cases.MakeDay(1985, 1, 1) + cases.Day(w.IntN(20*365))}
	h.motherFamily = h.family
	if w.chance(0.3) {
		h.motherFamily = w.one(inventedFamilies...)
	}
	day, minute, sex := cases.MakeDay(2026, 1, 1)+cases.Day(w.IntN(60)), w.IntN(1440), w.one("female", "male")
	names := w.Perm(len(inventedGiven))
	var out []child
	for i := range n {
		c := child{id: w.next*10 + i, order: i + 1, of: n, given: inventedGiven[names[i]], sex: sex, grams: float64(1600 + 10*w.IntN(200)), home: h}
		if w.chance(0.2) {
			c.sex = w.one("female", "male")
		}
		c.day, c.minute = day+cases.Day(minute/1440), minute%1440
		if !w.chance(0.1) { // else born within the same minute
			minute += 1 + w.IntN(40)
		}
		out = append(out, c)
	}
	return out
}

// placeholder is a name that a ward gives.
func (w *world) placeholder(c *child) string {
	sex := map[string]string{"female": "GIRL", "male": "BOY"}[c.sex]
	letter := string(rune('A' + c.order - 1))
	if c.of == 1 {
		letter = ""
	}
	return strings.TrimSpace(w.one("BABY"+sex, "BABY "+sex, "BABY", "", sex+" OF "+strings.ToUpper(c.home.mother),
		"BABY "+sex+" "+letter, "BABY "+letter, "BABY"+sex+" "+letter, "TWIN "+letter, "BABY "+sex+" "+strings.ToUpper(c.home.family)))
}

// message is what one sender writes about an infant: true, but parts may be missing,
// the order swapped, and names of newborns are place-holders.
func (w *world) message(c *child) intake.Referral {
	w.next++
	lose := func(p float64, s string) string {
		if w.chance(p) {
			return ""
		}
		return s
	}
	h := c.home
	r := intake.Referral{Sender: "Alder Bay Laboratory", Accession: intake.Identifier{Number: lose(0.1, fmt.Sprintf("A%06d", w.next))},
		Card: lose(0.2, fmt.Sprintf("C%06d", w.next))}
	in := &r.Infant
	in.Family, in.Given, in.Sex = lose(0.1, h.family), w.placeholder(c), lose(0.1, c.sex)
	if w.chance(0.3) {
		in.Given = c.given
	}
	in.Born = intake.Moment{Day: c.day, Clock: cases.Clock(lose(0.4, fmt.Sprintf("%02d:%02d", c.minute/60, c.minute%60)))}
	if !w.chance(0.4) {
		in.Order = c.order
		if c.of > 1 && w.chance(0.15) {
			in.Order = 1 + w.IntN(c.of)
		}
	}
	if !w.chance(0.4) {
		in.Plurality = c.of
	}
	if c.of > 1 {
		in.Multiple = lose(0.5, "Y")
	} else {
		in.Multiple = lose(0.3, "N")
	}
	if !w.chance(0.4) {
		in.BirthWeight = c.grams
	}
	if w.chance(0.5) {
		in.Records = append(in.Records, intake.Identifier{Number: fmt.Sprintf("H%06d", c.id), Authority: h.place})
	}
	if w.chance(0.2) {
		in.Records = append(in.Records, intake.Identifier{Number: fmt.Sprintf("K%06d", c.id), Authority: "Alder Bay Children's Hospital"})
	}
	if w.chance(0.4) {
		in.MotherID = intake.Identifier{Number: fmt.Sprintf("M%06d", h.id), Authority: h.place}
	}
	in.Facility = lose(0.3, h.place)
	r.Mother = intake.Person{Given: lose(0.15, h.mother), Family: lose(0.15, h.motherFamily), Relation: "MTH"}
	if w.chance(0.5) {
		r.Mother.Born = h.motherBorn
	}
	if !w.chance(0.2) {
		r.Mother.Phones = []cases.Phone{{Number: h.phone}}
	}
	if !w.chance(0.3) {
		r.Mother.Address = &cases.Address{Postal: h.postal}
	}
	return r
}

var matching = cases.DefaultProtocol().Matching

// take matches one message, as intake does, with a person who decides rightly. It
// gives the level of the first candidate, and the child of a certain one.
func (s *shelf) take(t testing.TB, r intake.Referral, c *child) (level string, joined *cases.Case) {
	t.Helper()
	found, err := intake.Match(s, &r, &matching)
	if err != nil {
		t.Fatal(err)
	}
	level = intake.LevelApart
	if len(found) > 0 {
		level = found[0].Level
	}
	if level == intake.LevelCertain {
		return level, &found[0].Case
	}
	for i := range s.cases {
		if s.cases[i].Owner == fmt.Sprint(c.id) {
			return level, nil // a person finds the infant, or it is known to be lost
		}
	}
	k := intake.CaseOf(r, cases.MakeDay(2026, 3, 30))
	k.ID, k.Reference, k.Owner = cases.ID(fmt.Sprint(len(s.cases))), fmt.Sprintf("AB-2026-%04d", len(s.cases)+1), fmt.Sprint(c.id)
	for _, f := range found {
		if f.Level == intake.LevelTwin {
			k.Siblings = append(k.Siblings, f.Case.Reference)
		}
	}
	s.put(k)
	return level, nil
}

// TestNoMessageJoinsASibling draws 20,000 births of one to four infants with two to
// three messages about each, mixed: none attaches by itself to a sibling, or to any
// other infant. Twins who cannot be told apart go to a person (Adelman et al., Pediatrics
// 2019, on how often records of twins are mixed up).
func TestNoMessageJoinsASibling(t *testing.T) {
	w := &world{Rand: rand.New(rand.NewPCG(3, 7))}
	draws := 20_000
	if testing.Short() {
		draws = 2_000
	}
	attached, multiples, asked := 0, 0, 0
	for range draws {
		birth := w.siblings([]int{1, 2, 2, 2, 3, 4}[w.IntN(6)])
		s := &shelf{}
		about := slices.Repeat(w.Perm(len(birth)), 2)
		about = append(about, w.IntN(len(birth)))
		w.Shuffle(len(about), func(i, j int) { about[i], about[j] = about[j], about[i] })
		for _, i := range about {
			c := &birth[i]
			r := w.message(c)
			level, joined := s.take(t, r, c)
			switch {
			case joined != nil && joined.Owner != fmt.Sprint(c.id):
				t.Fatalf("a message about infant %d of %d attached to another, %s:\n%+v\n%+v", c.order, c.of, joined.Owner, r, joined)
			case joined != nil:
				attached++
				if c.of > 1 {
					multiples++
				}
			case level == intake.KindSame || level == intake.KindTwin:
				asked++
			}
		}
	}
	t.Logf("%d draws: %d messages attached, %d of them of twins and more; %d went to a person", draws, attached, multiples, asked)
	if attached < draws/20 || multiples == 0 {
		t.Errorf("only %d attached, %d of twins: nothing is tested", attached, multiples)
	}
}

// slip changes a word as a typist does.
func (w *world) slip(s string) string {
	r := []rune(s)
	if len(r) < 4 {
		return s
	}
	i := 1 + w.IntN(len(r)-2)
	switch w.IntN(3) {
	case 0:
		r[i], r[i+1] = r[i+1], r[i]
	case 1:
		r = slices.Delete(r, i, i+1)
	default:
		r[i] = 'e'
	}
	return string(r)
}

// blemishes are what happens to a second message about the same infant.
var blemishes = map[string]func(w *world, r *intake.Referral, c *child){
	"surname mistyped":  func(w *world, r *intake.Referral, c *child) { r.Infant.Family = w.slip(r.Infant.Family) },
	"mother mistyped":   func(w *world, r *intake.Referral, c *child) { r.Mother.Given = w.slip(r.Mother.Given) },
	"infant renamed":    func(w *world, r *intake.Referral, c *child) { r.Infant.Family = "Osgood" },
	"mother renamed":    func(w *world, r *intake.Referral, c *child) { r.Mother.Family = "Osgood" },
	"phone changed":     func(w *world, r *intake.Referral, c *child) { r.Mother.Phones = []cases.Phone{{Number: "555-9990001"}} },
	"moved":             func(w *world, r *intake.Referral, c *child) { r.Mother.Address = &cases.Address{Postal: "99999"} },
	"sex wrong":         func(w *world, r *intake.Referral, c *child) { r.Infant.Sex = "other" },
	"a day off":         func(w *world, r *intake.Referral, c *child) { r.Infant.Born.Day++ },
	"no phone":          func(w *world, r *intake.Referral, c *child) { r.Mother.Phones = nil },
	"no mother":         func(w *world, r *intake.Referral, c *child) { r.Mother.Given, r.Mother.Family = "", "" },
	"other birth place": func(w *world, r *intake.Referral, c *child) { r.Infant.Facility = "Elsewhere" },
	"given name":        func(w *world, r *intake.Referral, c *child) { r.Infant.Given = c.given },
	"no numbers of a hospital": func(w *world, r *intake.Referral, c *child) {
		r.Infant.Records, r.Infant.MotherID = nil, intake.Identifier{}
	},
}

// TestTheSameInfantIsNotLost: a second message about an infant with up to two
// blemishes attaches or goes to a person; it opens a second case only where nothing
// that is left says that it is the same infant.
func TestTheSameInfantIsNotLost(t *testing.T) {
	w := &world{Rand: rand.New(rand.NewPCG(5, 11))}
	var names []string
	for n := range blemishes {
		names = append(names, n)
	}
	slices.Sort(names)
	levels := map[string]int{}
	const draws = 10_000
	for range draws {
		c := w.siblings(1)[0]
		first, second := w.message(&c), w.message(&c)
		for _, r := range []*intake.Referral{&first, &second} { // what any referral names
			r.Infant.Family, r.Mother.Given, r.Mother.Family = c.home.family, c.home.mother, c.home.motherFamily
			r.Mother.Phones, r.Infant.Facility = []cases.Phone{{Number: c.home.phone}}, c.home.place
		}
		var did []string
		for range w.IntN(3) {
			n := names[w.IntN(len(names))]
			blemishes[n](w, &second, &c)
			did = append(did, n)
		}
		s := &shelf{}
		s.take(t, first, &c)
		level, joined := s.take(t, second, &c)
		if joined != nil && joined.Owner != fmt.Sprint(c.id) {
			t.Fatal("joined another")
		}
		levels[level]++
		if level == intake.LevelApart {
			t.Errorf("lost by %v:\n%+v\n%+v", did, first, second)
		}
	}
	t.Logf("%d pairs: %v", draws, levels)
}

// TestStrangersAreNotJoined: infants of other families never attach. Among 2,000 of one
// year, with 400 surnames and 40 birth places, few are asked about.
func TestStrangersAreNotJoined(t *testing.T) {
	w := &world{Rand: rand.New(rand.NewPCG(9, 13))}
	s, of := &shelf{}, map[string]int{}
	const n = 2_000
	for range n {
		c := w.siblings(1)[0]
		h := c.home
		h.family, h.mother, h.place = w.invent(20, "sson"), w.invent(10, "a"), fmt.Sprintf("%s Hospital", w.invent(2, "dale"))
		h.motherFamily, c.day = h.family, cases.MakeDay(2026, 1, 1)+cases.Day(w.IntN(365))
		level, joined := s.take(t, w.message(&c), &c)
		if joined != nil {
			t.Fatalf("joined a stranger: %+v", joined)
		}
		of[level]++
	}
	t.Logf("%d infants of a year: %v", n, of)
	if of[intake.LevelApart] < n*99/100 {
		t.Errorf("too many are asked about: %v", of)
	}
}

// invent makes one of 20n names.
func (w *world) invent(n int, end string) string {
	return strings.Fields("Abbo Bran Cor Dern Elm Fal Gor Hend Ilv Jor Kest Lam Mor Nil Orr Pel Quin Ros Stav Tam")[w.IntN(20)] + strings.Fields("a e i o u an en in on un ar er ir or ur al el il ol ul")[w.IntN(n)] + end
}

// TestMatchingIsFreeOfOrder: which of two messages came first does not change what is
// thought of them. What a case does not keep, PID-24, is left out.
func TestMatchingIsFreeOfOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w := &world{Rand: rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))}
		birth := append(w.siblings(rapid.IntRange(1, 4).Draw(rt, "born together")), w.siblings(1)...)
		a, b := &birth[w.IntN(len(birth))], &birth[w.IntN(len(birth))]
		x, y := w.message(a), w.message(b)
		x.Infant.Multiple, y.Infant.Multiple = "", ""
		one, _ := (&shelf{}).put(caseFor(x)).take(t, y, b)
		two, _ := (&shelf{}).put(caseFor(y)).take(t, x, a)
		if one != two {
			rt.Fatalf("%s one way, %s the other:\n%+v\n%+v", one, two, x, y)
		}
	})
}

func caseFor(r intake.Referral) cases.Case {
	c := intake.CaseOf(r, cases.MakeDay(2026, 3, 30))
	c.ID, c.Reference = "1", "AB-2026-0001"
	return c
}
