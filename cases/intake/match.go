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

	weight float64
}

// motherRecord marks the mother's record number among an infant's numbers.
const motherRecord = "mother"

// cardRecord marks the serial number of the card among an infant's numbers.
const cardRecord = "newborn screen card"

// betweenBirths is the least number of days between two births of one mother: the
// least gestation that the case document takes.
const betweenBirths = 22 * 7

// evidence is what two records say of each other.
type evidence struct {
	states  [fieldCount]state
	weights [fieldCount]float64
	weight  float64 // their sum

	born, bornNear      bool
	bornApart           cases.Day // days between both birth dates; 0 when one is missing
	bornAlike           bool      // the dates differ as by a slip of the pen, or by a correction
	card, otherCard     bool
	accession           bool
	record, otherRecord bool // otherRecord: the same authority gave both another number
	recordSure          bool // the same authority gave both the same number, not the mother's
	motherID            bool
	otherMother         bool // the same authority gave both mothers another number
	family              bool // a family name of one is one of the other
	mother              bool // the mothers have the same full name
	mumDiffers          bool // the mothers' given names are not the same
	noMum               bool // they are not even alike
	motherBorn          bool
	phone, facility     bool
	sexDiffers          bool
	orderSame           bool
	orderDiffer         bool
	timeSame            bool
	timeDiffers         bool
	weightDiffers       bool
	givenSame           bool
	givenDiffers        bool
	pluralDiffers       bool
	plural              bool // one of them says that more than one was born
	single              bool // one of them says how many were born: one
	saidSingle          bool // one of them only says "no multiple birth", which systems fill in by themselves
	sibling             bool // another case of the same mother, born at most a day apart, is on file
}

// compare gathers the evidence between what was sent and a case. Phones that many
// families have count as none.
func compare(sent, file *facts, c *cases.Case, m *cases.Matching, shared map[string]bool) evidence {
	var e evidence
	e.facts(sent, file, m, shared)
	e.numbers(sent.referral, c)
	e.sibling = len(c.Siblings) > 0
	for _, w := range e.weights {
		e.weight += w
	}
	return e
}

// numbers compares the numbers that laboratories and hospitals gave.
func (e *evidence) numbers(r *Referral, c *cases.Case) {
	in := &r.Infant
	s := c.Referral.Screen
	if s == nil {
		s = &cases.Screen{}
	}
	e.card = same(r.Card, s.CardSerial) || same(r.FirstCard, s.CardSerial)
	e.accession = same(r.Accession.Number, s.Accession) && (r.Sender == "" || s.Laboratory == "" || fold(r.Sender) == fold(s.Laboratory))
	for _, x := range c.Merged { // the numbers of a case that was about the same infant
		e.accession = e.accession || same(r.Accession.Number, x.Accession) && (r.Sender == "" || x.Laboratory == "" || fold(r.Sender) == fold(x.Laboratory))
	}
	motherHas := ""
	for _, n := range c.Infant.Records {
		switch {
		case n.Authority == cardRecord:
			e.card = e.card || same(r.Card, n.Number) || same(r.FirstCard, n.Number)
			continue
		case strings.HasPrefix(n.Authority, motherRecord):
			e.motherID = e.motherID || same(in.MotherID.Number, n.Number)
			e.otherMother = e.otherMother || !e.motherID && in.MotherID.Number != "" && in.MotherID.Authority != "" &&
				n.Authority == motherAuthority(in.MotherID.Authority)
			motherHas = n.Number
			continue
		}
		for _, id := range in.Records {
			fits := id.Authority == "" || n.Authority == "" || fold(id.Authority) == fold(n.Authority)
			named := fits && id.Authority != "" && n.Authority != ""
			equal := same(id.Number, n.Number)
			e.record = e.record || equal && fits
			e.recordSure = e.recordSure || equal && named && !same(id.Number, in.MotherID.Number)
			e.otherRecord = e.otherRecord || named && !equal
		}
	}
	for _, id := range in.Records {
		if same(id.Number, motherHas) {
			e.recordSure = false
		}
	}
	e.otherRecord = e.otherRecord && !e.record
	e.otherCard = r.Card != "" && s.CardSerial != "" && !e.card
	e.set(fCard, r.Card != "" && s.CardSerial != "", e.card)
	// Another laboratory gives another number to the same infant.
	sameLab := fold(r.Sender) == fold(s.Laboratory)
	e.set(fAccession, r.Accession.Number != "" && s.Accession != "" && (e.accession || sameLab), e.accession)
	e.set(fRecord, e.record || e.otherRecord, e.record)
	e.set(fMotherRecord, e.motherID || e.otherMother, e.motherID)
}

func same(a, b string) bool { return a != "" && b != "" && fold(a) == fold(b) }

// judge turns evidence into a level. Certain is the same card or laboratory number
// and birth date with nothing against it, or see sure; infants of one birth are
// never joined by the sum of weights; anything between goes to a person.
func (e *evidence) judge(m *cases.Matching) (level, string) {
	number := e.card || e.accession
	who := e.family || e.record || e.motherID || e.mother || e.givenSame
	// A card or a number can be written on the wrong infant of a birth.
	other := e.otherRecord || e.sexDiffers || e.orderDiffer || e.pluralDiffers || e.timeDiffers || e.givenDiffers || e.mumDiffers || e.accession && e.otherCard
	mum := e.mother || e.motherID
	switch {
	case number && e.born && who && !other:
		return certain, ""
	case e.orderDiffer && e.plural && e.bornNear && mum && !number && !e.record:
		return twin, ""
	case number && !e.born && !who, number && !e.bornNear && !e.record && !mum && !e.givenSame && !e.motherBorn:
		return clash, ""
	case !number && e.sure(m):
		return certain, ""
	case number, e.record && (e.bornNear || e.family || e.mother):
		return doubtful, e.kind()
	case e.stranger():
		return apart, ""
	case e.born && e.motherID,
		e.born && e.family && (e.phone || e.mother || e.facility),
		e.bornNear && e.mother && (e.phone || e.facility),
		e.weight >= m.ReviewFrom && e.oneBirth():
		return doubtful, e.kind()
	}
	return apart, ""
}

// kind says whether a twin or the same infant is the first thought.
func (e *evidence) kind() string {
	mum := e.mother || e.motherID || e.motherBorn
	if mum && (e.bornNear || e.bornApart == 0) && (e.sexDiffers || e.orderDiffer || e.timeDiffers || e.givenDiffers || e.weightDiffers || e.plural || e.otherRecord) {
		return KindTwin
	}
	return KindSame
}

// stranger tells records of two families: one authority gave both infants and both
// mothers other numbers; or nothing that belongs to one mother or household agrees, and
// two facts of their own differ; or the mothers have other given names, and either the
// births lie days apart or nothing of one household or infant agrees.
func (e *evidence) stranger() bool {
	if e.otherRecord && e.otherMother && (!e.phone || e.noMum) {
		return true
	}
	mum := e.motherID || e.motherBorn
	own := 0
	for _, differ := range []bool{e.sexDiffers, e.timeDiffers, e.givenDiffers, e.weightDiffers, e.otherRecord,
		e.otherMother, e.states[fMotherBorn] == isDifferent, e.noMum} {
		if differ {
			own++
		}
	}
	if own >= 2 && !mum && !e.phone && !e.mother && !e.givenSame {
		return true
	}
	if !e.noMum || mum {
		return false
	}
	infant := !e.otherRecord && (e.givenSame || e.timeSame && e.states[fBirthWeight] == isSame)
	return e.otherDay() || !e.phone && !infant
}

// otherDay tells birth dates that differ by more than a night or a slip.
func (e *evidence) otherDay() bool {
	return e.states[fBorn] == isDifferent && !e.bornNear && !e.bornAlike
}

// oneBirth tells whether both records can be of one birth. Where the dates are others,
// what a household shares says nothing of an infant: something of the infant's own must
// agree, or nothing of it differ and the days be too few for two births of one mother.
func (e *evidence) oneBirth() bool {
	switch {
	case !e.otherDay(), e.givenSame, e.timeSame && e.states[fBirthWeight] == isSame && !e.otherRecord:
		return true
	case e.sexDiffers, e.timeDiffers, e.givenDiffers, e.weightDiffers, e.orderDiffer, e.otherRecord:
		return false
	}
	return e.bornApart < betweenBirths
}

// sure tells whether the sum of weights may attach by itself: it is high, two
// independent identifiers agree beside birth date and sex, nothing differs that
// tells two infants apart, and no twin can be meant.
func (e *evidence) sure(m *cases.Matching) bool {
	if !e.born || e.weight < m.CertainFrom || e.contradicted() {
		return false
	}
	ids := 0
	for _, agree := range []bool{e.phone, e.mother, e.motherBorn, e.motherID, e.givenSame, e.timeSame, e.recordSure} {
		if agree {
			ids++
		}
	}
	return ids >= 2 && e.alone()
}

// contradicted tells whether anything differs that tells two infants or two
// mothers apart.
func (e *evidence) contradicted() bool {
	return e.sexDiffers || e.orderDiffer || e.timeDiffers || e.weightDiffers || e.givenDiffers || e.pluralDiffers ||
		e.otherRecord || e.mumDiffers || e.otherMother || e.states[fMotherBorn] == isDifferent
}

// alone tells whether no twin can be meant. All that twins share, which is the mother,
// the phone and the day, says nothing here. Where a twin is known of, only the given
// name or a number with the order or the minute will do; where nothing is known, a
// given name or a number; where a system says "no multiple birth", the minute; and
// where somebody wrote down that one infant was born, nothing more.
func (e *evidence) alone() bool {
	switch {
	case e.plural || e.sibling:
		return e.givenSame || e.recordSure && (e.orderSame || e.timeSame)
	case e.single, e.givenSame, e.recordSure:
		return true
	}
	return e.saidSingle && e.timeSame
}
