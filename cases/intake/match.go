package intake

import (
	"strings"

	"dunlin/cases"
)

// level says how sure a match with a case is.
type level uint8

const (
	apart    level = iota // another infant
	clash                 // another infant that carries the same number
	twin                  // another infant of the same birth, said so by both
	doubtful              // a person decides
	certain               // the same infant
)

// match is one case that may be the infant of an item.
type match struct {
	Case  cases.Case
	Level level
	Kind  string // for doubtful ones: possible twin, possible same infant
	Why   string
}

// motherRecord marks the mother's record number among an infant's numbers.
const motherRecord = "mother"

// cardRecord marks the serial number of the card among an infant's numbers.
const cardRecord = "newborn screen card"

// evidence is what two records say of each other.
type evidence struct {
	born, bornNear          bool
	card, otherCard         bool
	accession               bool
	record, otherRecord     bool // otherRecord: the same authority gave both another number
	motherID                bool
	family, mother, noMum   bool // noMum: both mothers are named and differ
	phone, facility         bool
	sexDiffers, orderDiffer bool
	timeDiffers             bool
	givenSame, givenDiffers bool
	plural                  bool
}

// compare gathers the evidence between what was sent and a case.
func compare(r *Referral, c *cases.Case) evidence {
	var e evidence
	in := &r.Infant
	if d := in.Born.Day - c.Infant.Born; in.Born.Day != 0 {
		e.born, e.bornNear = d == 0, d >= -1 && d <= 1
	}
	if s := c.Referral.Screen; s != nil {
		e.card = same(r.Card, s.CardSerial)
		e.otherCard = r.Card != "" && s.CardSerial != "" && !e.card
		e.accession = same(r.Accession.Number, s.Accession) && (r.Sender == "" || s.Laboratory == "" || fold(r.Sender) == fold(s.Laboratory))
	}
	for _, n := range c.Infant.Records {
		for _, id := range in.Records {
			fits := authorityFits(id.Authority, n.Authority)
			e.record = e.record || same(id.Number, n.Number) && fits
			e.otherRecord = e.otherRecord || fits && id.Authority != "" && n.Authority != "" && !same(id.Number, n.Number)
		}
		if strings.HasPrefix(n.Authority, motherRecord) {
			e.motherID = e.motherID || same(in.MotherID.Number, n.Number)
		}
	}
	e.names(r, c)
	for _, p := range sentPhones(r) {
		for _, g := range guardians(c) {
			for _, q := range g.Phones {
				e.phone = e.phone || len(digits(p)) >= 7 && digits(p) == digits(q.Number)
			}
		}
	}
	e.facility = in.Facility != "" && fold(in.Facility) == fold(c.Infant.Facility)
	e.sexDiffers = in.Sex != "" && c.Infant.Sex != "" && in.Sex != c.Infant.Sex && in.Sex != "unknown" && c.Infant.Sex != "unknown"
	e.orderDiffer = in.Order != 0 && c.Infant.BirthOrder != 0 && in.Order != c.Infant.BirthOrder
	e.timeDiffers = in.Born.Clock != "" && c.Infant.BornAt != "" && in.Born.Clock != c.Infant.BornAt
	e.plural = in.Plurality > 1 || in.Multiple == "Y" || c.Infant.Plurality > 1
	return e
}

func same(a, b string) bool { return a != "" && b != "" && fold(a) == fold(b) }

// authorityFits reports that two authorities are the same, or that one is unknown.
func authorityFits(a, b string) bool {
	return b != cardRecord && !strings.HasPrefix(b, motherRecord) && (a == "" || b == "" || fold(a) == fold(b))
}

// names compares family names (of infant and mother, any with any), the mothers,
// and given names that are no place-holders.
func (e *evidence) names(r *Referral, c *cases.Case) {
	ours := map[string]bool{}
	for _, n := range append([]string{c.Infant.Family}, c.Infant.FormerNames...) {
		ours[fold(n)] = true
	}
	mother := ""
	if c.Family != nil {
		mother = fold(c.Family.Mother)
		for _, g := range c.Family.Guardians {
			ours[fold(g.Family)] = true
		}
	}
	delete(ours, "")
	for _, n := range []string{r.Infant.Family, r.Mother.Family} {
		e.family = e.family || ours[fold(n)]
	}
	e.family = e.family || r.Maiden != "" && same(r.Maiden, c.Infant.Family)
	theirs := fold(r.Mother.Given + r.Mother.Family)
	switch {
	case theirs == "" || mother == "":
	case theirs == mother:
		e.mother = true
	case r.Mother.Given == "" || strings.HasPrefix(mother, fold(r.Mother.Given)) && e.family:
		e.mother = e.family
	default:
		e.noMum = true
	}
	if !GenericName(r.Infant.Given) && !GenericName(c.Infant.Given) {
		e.givenSame = fold(r.Infant.Given) == fold(c.Infant.Given)
		e.givenDiffers = !e.givenSame
	}
}

func guardians(c *cases.Case) []cases.Guardian {
	if c.Family == nil {
		return nil
	}
	return c.Family.Guardians
}

func sentPhones(r *Referral) (out []string) {
	people := append([]Person{r.Mother}, r.Guardians...)
	if r.Home != nil {
		people = append(people, *r.Home)
	}
	for _, p := range people {
		for _, n := range p.Phones {
			out = append(out, n.Number)
		}
	}
	return out
}

// judge turns evidence into a level. Certain needs the same card or laboratory
// number and the same birth date, and nothing that speaks for another infant;
// twins are never merged; anything between goes to a person.
func (e evidence) judge() (level, string, string) {
	number := e.card || e.accession
	who := e.family || e.record || e.motherID || e.mother || e.givenSame
	other := e.otherRecord && !e.record || e.sexDiffers || e.orderDiffer || e.noMum || e.accession && e.otherCard
	kind := KindSame
	if (e.mother || e.motherID) && (e.sexDiffers || e.orderDiffer || e.timeDiffers || e.givenDiffers || e.plural || e.otherRecord && !e.record) {
		kind = KindTwin
	}
	switch {
	case number && e.born && who && !other:
		return certain, "", ""
	case e.orderDiffer && e.plural && e.bornNear && (e.mother || e.motherID) && !number && !e.record:
		return twin, "", ""
	case number && !e.born && !who:
		return clash, "", "the same card or laboratory number"
	case number && !e.bornNear && !e.record && !e.motherID && !e.mother && !e.givenSame:
		return clash, "", "the same card or laboratory number"
	case number:
		return doubtful, kind, "the same card or laboratory number, but other facts differ"
	case e.record && e.bornNear:
		return doubtful, kind, "the same record number"
	case e.record && (e.family || e.mother):
		return doubtful, kind, "the same record number, but another birth date"
	case e.noMum && !e.motherID && !e.phone:
		return apart, "", ""
	case e.born && e.motherID:
		return doubtful, kind, "the same mother's number and birth date"
	case e.born && e.family && (e.phone || e.mother || e.facility) && (!e.noMum || e.phone):
		return doubtful, kind, "the same birth date and family name"
	case e.bornNear && e.mother && (e.phone || e.facility):
		return doubtful, kind, "the same mother, born a day apart"
	}
	return apart, "", ""
}
