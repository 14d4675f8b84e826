package intake

import (
	"slices"
	"strings"

	"dunlin/cases"
)

// field is one fact that two records are compared by, in the order shown.
type field uint8

const (
	fBorn field = iota
	fTime
	fSex
	fSurname
	fGiven
	fOrder
	fPlurality
	fBirthWeight
	fFacility
	fPostal
	fMotherGiven
	fMotherName
	fMotherBorn
	fPhone
	fCard
	fAccession
	fRecord
	fMotherRecord
	fieldCount
)

// state says how a field of two records compares.
type state uint8

const (
	isMissing state = iota // one of them does not say
	isSame
	isAlike // names that are not written the same
	isDifferent
)

// facts are what a record says of an infant, made ready for comparing.
type facts struct {
	referral     *Referral // for numbers; nil for a case
	born         cases.Day
	formerBorn   []cases.Day // birth dates that were corrected
	time         cases.Clock
	sex          string
	order        int
	plurality    int
	said         string // "Y" or "N" for a multiple birth
	given        []string
	surnames     [][]string // of the infant
	others       [][]string // of mother and guardians
	motherGiven  []string
	motherFamily []string
	motherBorn   cases.Day
	phones       []string
	facility     []string
	postal       []string
	grams        float64
}

// factsSent makes what was sent ready for comparing.
func factsSent(r *Referral) facts {
	in := &r.Infant
	f := facts{referral: r, born: in.Born.Day, time: in.Born.Clock, order: in.Order, plurality: in.Plurality, said: in.Multiple,
		motherGiven: cases.NameWords(r.Mother.Given), motherFamily: cases.NameWords(r.Mother.Family), motherBorn: r.Mother.Born,
		facility: cases.NameWords(in.Facility), grams: in.BirthWeight}
	f.named(in.Given, in.Sex)
	f.surname(&f.surnames, in.Family)
	f.surname(&f.others, r.Mother.Family)
	f.surname(&f.others, r.Maiden)
	people := append([]Person{r.Mother}, r.Guardians...)
	if r.Home != nil {
		people = append(people, *r.Home)
	}
	for i := range people {
		p := &people[i]
		if p.Relation == "MTH" && i > 0 && f.motherBorn == 0 {
			f.motherBorn = p.Born
		}
		f.surname(&f.others, p.Family)
		f.reached(p.Phones, p.Address)
	}
	f.ofMother(in.Given)
	return f
}

// factsOf makes a case ready for comparing.
func factsOf(c *cases.Case) (f facts) {
	in := &c.Infant
	f = facts{born: in.Born, formerBorn: in.FormerBirths(), time: in.BornAt, order: in.BirthOrder, plurality: in.Plurality, facility: cases.NameWords(in.Facility), grams: in.BirthWeightG}
	f.named(in.Given, in.Sex)
	f.surname(&f.surnames, in.Family)
	for _, n := range in.FormerNames {
		f.surname(&f.surnames, n)
	}
	defer f.ofMother(in.Given)
	if c.Family == nil {
		return f
	}
	f.motherBorn = c.Family.MotherBorn
	if given, family := c.Mother(); given+family != "" {
		f.motherGiven, f.motherFamily = cases.NameWords(given), cases.NameWords(family)
		f.surname(&f.others, family)
	}
	for i := range c.Family.Guardians {
		g := &c.Family.Guardians[i]
		f.surname(&f.others, g.Family)
		f.reached(g.Phones, g.Address)
	}
	return f
}

// named reads given name and sex; a place-holder is no name, but may say sex and order.
func (f *facts) named(given, sex string) {
	n := cases.SplitNewborn(given)
	if sex == "" || sex == "unknown" {
		sex = n.Sex
	}
	f.sex = sex
	switch {
	case !n.Placeholder:
		f.given = cases.NameWords(given)
	case n.Rest != "":
		f.surname(&f.surnames, n.Rest)
	}
	if f.order == 0 && n.Placeholder {
		f.order = n.Order
	}
}

// ofMother takes the mother's name from a place-holder such as BOY OF ANA.
func (f *facts) ofMother(given string) {
	if len(f.motherGiven) == 0 {
		f.motherGiven = cases.NameWords(cases.SplitNewborn(given).Mother)
	}
}

func (f *facts) surname(to *[][]string, name string) {
	if w := cases.NameWords(cases.Surname(name)); len(w) > 0 {
		*to = append(*to, w)
	}
}

func (f *facts) reached(phones []cases.Phone, a *cases.Address) {
	for _, p := range phones {
		if k := cases.PhoneKey(p.Number); k != "" {
			f.phones = append(f.phones, k)
		}
	}
	if a != nil && a.Postal != "" {
		f.postal = append(f.postal, postalKey(a.Postal))
	}
}

// postalKey keeps the part of a postal code before an extension such as -1234.
func postalKey(s string) string {
	s, _, _ = strings.Cut(s, "-")
	return fold(s)
}

// set notes the state of a field that both records have.
func (e *evidence) set(f field, both, agree bool) {
	switch {
	case !both:
	case agree:
		e.states[f] = isSame
	default:
		e.states[f] = isDifferent
	}
}

// score notes the state of a field with its weight.
func (e *evidence) score(f field, both, agree bool, c cases.Chance) {
	e.set(f, both, agree)
	switch e.states[f] {
	case isSame:
		e.weights[f] = c.Agree()
	case isDifferent:
		e.weights[f] = c.Differ()
	}
}

// scoreName does the same for names, which may agree in part, and gives the share.
func (e *evidence) scoreName(f field, both bool, similarity float64, c cases.Chance, m *cases.Matching) float64 {
	share := m.NameShare(similarity)
	e.set(f, both, share > 0)
	if both && share > 0 && similarity < 1 {
		e.states[f] = isAlike
	}
	if both {
		e.weights[f] = c.Partly(share)
	}
	return share
}

// facts compares two records; either may be the one that was sent.
func (e *evidence) facts(a, b *facts, m *cases.Matching, shared map[string]bool) {
	if d := a.born - b.born; a.born != 0 && b.born != 0 {
		e.born, e.bornNear, e.bornApart = d == 0, d >= -1 && d <= 1, max(d, -d)
		e.bornAlike = datesAlike(a.born, b.born) || slices.Contains(a.formerBorn, b.born) || slices.Contains(b.formerBorn, a.born)
	}
	e.score(fBorn, a.born != 0 && b.born != 0, e.born, m.BirthDate)
	known := func(s string) bool { return s != "" && s != "unknown" }
	e.score(fSex, known(a.sex) && known(b.sex), a.sex == b.sex, m.Sex)
	e.set(fTime, a.time != "" && b.time != "", a.time == b.time)
	e.score(fOrder, a.order != 0 && b.order != 0, a.order == b.order, m.BirthOrder)
	e.set(fPlurality, a.plurality != 0 && b.plurality != 0, a.plurality == b.plurality)
	gap := max(a.grams-b.grams, b.grams-a.grams)
	e.score(fBirthWeight, a.grams > 0 && b.grams > 0, gap <= m.WeightWithinG, m.BirthWeight)
	e.score(fPostal, len(a.postal) > 0 && len(b.postal) > 0, overlap(a.postal, b.postal, nil), m.Postal)
	e.phone = overlap(a.phones, b.phones, shared)
	e.score(fPhone, anyOwn(a.phones, shared) && anyOwn(b.phones, shared), e.phone, m.Phone)
	place := len(a.facility) > 0 && len(b.facility) > 0
	e.facility = e.scoreName(fFacility, place, alikeNames(a.facility, b.facility), m.Facility, m) == 1 && place
	e.score(fMotherBorn, a.motherBorn != 0 && b.motherBorn != 0, a.motherBorn == b.motherBorn, m.MotherBorn)
	e.names(a, b, m)

	e.motherBorn = e.states[fMotherBorn] == isSame
	e.sexDiffers = e.states[fSex] == isDifferent
	e.orderSame, e.orderDiffer = e.states[fOrder] == isSame, e.states[fOrder] == isDifferent
	e.timeSame, e.timeDiffers = e.states[fTime] == isSame, e.states[fTime] == isDifferent
	e.weightDiffers = e.states[fBirthWeight] == isDifferent
	e.pluralDiffers = e.states[fPlurality] == isDifferent || a.plurality == 1 && b.ofMany() || b.plurality == 1 && a.ofMany()
	for _, f := range []*facts{a, b} {
		e.plural = e.plural || f.ofMany()
		e.single = e.single || f.plurality == 1
		e.saidSingle = e.saidSingle || f.said == "N"
	}
}

// ofMany tells a record that speaks of a multiple birth.
func (f *facts) ofMany() bool { return f.plurality > 1 || f.said == "Y" || f.order > 1 }

// names compares family names, the mothers, and given names that are no place-holders.
func (e *evidence) names(a, b *facts, m *cases.Matching) {
	infant := max(best(a.surnames, b.surnames), best(a.surnames, b.others), best(a.others, b.surnames))
	both := len(a.surnames) > 0 && len(b.surnames) > 0
	named := e.scoreName(fSurname, both || infant > 0, infant, m.Surname, m) == 1
	switch { // what is shown is the infant's own name; what counts may be the mother's
	case !both:
		e.states[fSurname] = isMissing
	case e.states[fSurname] == isSame && best(a.surnames, b.surnames) < 1:
		e.states[fSurname] = isAlike
	}
	e.family = named || m.NameShare(best(a.others, b.others)) == 1

	gs, fs := len(a.motherGiven) > 0 && len(b.motherGiven) > 0, len(a.motherFamily) > 0 && len(b.motherFamily) > 0
	given, family := alikeNames(a.motherGiven, b.motherGiven), alikeNames(a.motherFamily, b.motherFamily)
	if gs && fs { // both may have been written the wrong way round
		g, f := alikeNames(a.motherGiven, b.motherFamily), alikeNames(a.motherFamily, b.motherGiven)
		if g+f > given+family && g == 1 && f == 1 {
			given, family = g, f
		}
	}
	share := e.scoreName(fMotherGiven, gs, given, m.MotherGiven, m)
	e.mumDiffers, e.noMum = gs && share < 1, gs && share == 0
	e.scoreName(fMotherName, fs, family, m.MotherName, m)
	if fs && named && m.NameShare(family) == 1 && m.NameShare(max(best(a.surnames, [][]string{a.motherFamily}), best(b.surnames, [][]string{b.motherFamily}))) == 1 {
		e.weights[fMotherName] = 0 // the same name a second time says nothing more
	}
	e.mother = gs && fs && given == 1 && family == 1

	like := alikeNames(a.given, b.given)
	e.set(fGiven, len(a.given) > 0 && len(b.given) > 0, m.NameShare(like) == 1)
	if e.states[fGiven] == isSame && like < 1 {
		e.states[fGiven] = isAlike
	}
	e.givenSame, e.givenDiffers = e.states[fGiven] == isSame, e.states[fGiven] == isDifferent
}

// best is the highest similarity of any name with any.
func best(as, bs [][]string) (most float64) {
	for _, a := range as {
		for _, b := range bs {
			most = max(most, alikeNames(a, b))
		}
	}
	return most
}

// alikeNames gives the similarity of two names by their words, 0 when one is empty.
// One word is compared with each word of a longer name: GARCIA is GARCIA LOPEZ.
func alikeNames(a, b []string) float64 {
	switch {
	case len(a) == 0 || len(b) == 0:
		return 0
	case len(a) == 1 && len(b) == 1:
		return jaroWinkler(a[0], b[0])
	}
	ja, jb := strings.Join(a, ""), strings.Join(b, "")
	most := jaroWinkler(ja, jb)
	if len(a) > 1 && len(b) > 1 {
		return most
	}
	for _, x := range a {
		for _, y := range b {
			if len(x) > 2 && len(y) > 2 {
				most = max(most, jaroWinkler(x, y))
			}
		}
	}
	return most
}

func overlap(as, bs []string, without map[string]bool) bool {
	for _, a := range as {
		for _, b := range bs {
			if a == b && !without[a] {
				return true
			}
		}
	}
	return false
}

func anyOwn(list []string, without map[string]bool) bool {
	for _, s := range list {
		if !without[s] {
			return true
		}
	}
	return false
}

// datesAlike tells dates that differ as by a slip: day and month changed over, or
// one digit.
func datesAlike(a, b cases.Day) bool {
	y, m, d := a.Date()
	if yy, mm, dd := b.Date(); y == yy && m == dd && d == mm {
		return true
	}
	s, t, off := a.String(), b.String(), 0
	for i := range min(len(s), len(t)) {
		if s[i] != t[i] {
			off++
		}
	}
	return off <= 1
}

func guardians(c *cases.Case) []cases.Guardian {
	if c.Family == nil {
		return nil
	}
	return c.Family.Guardians
}
