package cases

import (
	"fmt"
	"slices"
	"strings"
)

// Identity is what tells an infant from another besides the name: birth date and time,
// sex, how many were born and which of them, and the numbers that hospitals and the
// screening laboratory gave.
type Identity struct {
	Born       Day
	BornAt     Clock
	Sex        string
	Plurality  int
	BirthOrder int
	Records    []RecordNo
	Accession  string // of the screen specimen
}

// FormerIdentity is one correction of an infant's identity: when, by whom and why, and
// the values that were on record before. A value that was not corrected, or that
// nothing stood in before, is absent.
type FormerIdentity struct {
	On         Day        `json:"on" req:"yes"`
	By         string     `json:"by" req:"yes"`
	Reason     string     `json:"reason" req:"yes"`
	Born       Day        `json:"born,omitempty"`
	BornAt     Clock      `json:"born_at,omitempty"`
	Sex        string     `json:"sex,omitempty" enum:"female male other unknown"`
	Plurality  int        `json:"plurality,omitempty" min:"1" max:"12"`
	BirthOrder int        `json:"birth_order,omitempty" min:"1" max:"12"`
	Records    []RecordNo `json:"records,omitempty" note:"numbers that are not the infant's any more"`
	Accession  string     `json:"accession,omitempty"`
	Out        []string   `json:"letters_out,omitempty" note:"numbers of letters that had left and say what was corrected"`
}

// IdentityOf gives what is on record.
func IdentityOf(c *Case) Identity {
	in := &c.Infant
	x := Identity{Born: in.Born, BornAt: in.BornAt, Sex: in.Sex, Plurality: in.Plurality, BirthOrder: in.BirthOrder, Records: slices.Clone(in.Records)}
	if s := c.Referral.Screen; s != nil {
		x.Accession = s.Accession
	}
	return x
}

// Differs names what differs between two identities, in words and in the order of the
// fields; none when they are the same.
func (x *Identity) Differs(from *Identity) []string {
	var out []string
	for _, d := range []struct {
		differs bool
		word    string
	}{
		{x.Born != from.Born, "birth date"}, {x.BornAt != from.BornAt, "time of birth"}, {x.Sex != from.Sex, "sex"},
		{x.Plurality != from.Plurality, "number born together"}, {x.BirthOrder != from.BirthOrder, "birth order"},
		{!slices.Equal(x.Records, from.Records), "record numbers"}, {x.Accession != from.Accession, "specimen number"},
	} {
		if d.differs {
			out = append(out, d.word)
		}
	}
	return out
}

// Correct sets what tells the infant from another, and keeps the values before among
// the former ones. It refuses what cannot be, in words, and changes nothing then:
// *Error of kind Invalid names the field, Refused says that nothing differs.
func (c *Case) Correct(x Identity, by, reason string, on Day) error {
	was := IdentityOf(c)
	if len(x.Differs(&was)) == 0 {
		return Errorf(Refused, "Nothing differs from what is on record, so there is nothing to correct.")
	}
	if strings.TrimSpace(reason) == "" {
		return FieldError("reason", "Enter the reason for the correction")
	}
	if err := c.mayCorrect(&x, on); err != nil {
		return err
	}
	f := former(&was, &x)
	f.On, f.By, f.Reason = on, by, reason
	f.Out = c.outWith(&was, &x)
	in := &c.Infant
	in.Former = append(in.Former, f)
	in.Born, in.BornAt, in.Sex, in.Plurality, in.BirthOrder, in.Records = x.Born, x.BornAt, x.Sex, x.Plurality, x.BirthOrder, slices.Clone(x.Records)
	if s := c.Referral.Screen; s != nil {
		s.Accession = x.Accession
	}
	return nil
}

// mayCorrect refuses an identity that what is on record speaks against.
func (c *Case) mayCorrect(x *Identity, today Day) error {
	switch {
	case x.Born == 0:
		return FieldError("infant.born", "Enter the birth date")
	case x.Born > today:
		return FieldError("infant.born", "Birth date %s is in the future; today is %s", x.Born, today)
	case x.BirthOrder > 1 && x.Plurality == 0:
		return FieldError("infant.plurality", "Enter how many were born together: this infant was number %d of them", x.BirthOrder)
	case x.Plurality != 0 && x.BirthOrder > x.Plurality:
		return FieldError("infant.birth_order", "This infant cannot be number %d of %d born together", x.BirthOrder, x.Plurality)
	case x.Accession != "" && c.Referral.Screen == nil:
		return FieldError("referral.screen.accession", "No screen is on record, so no specimen number belongs to it")
	}
	for i, r := range x.Records {
		if r.Number == "" {
			return FieldError("infant.records", "Enter the number of %s", r.Authority)
		}
		if slices.Contains(x.Records[:i], r) {
			return FieldError("infant.records", "%s is written twice", r.Number)
		}
	}
	if d, ok := c.beforeBirth(x.Born); ok {
		return FieldError("infant.born", "Birth date %s is after %s of %s, which is on record. One of both is wrong", x.Born, factWord(d.path), d.day)
	}
	return nil
}

// beforeBirth finds the first recorded day that lies before a birth date, a test first.
func (c *Case) beforeBirth(born Day) (first dated, found bool) {
	for _, d := range c.dates() {
		if d.kind == prenatal || d.day >= born {
			continue
		}
		test := strings.HasPrefix(d.path, "sweat_tests")
		if !found || test && !strings.HasPrefix(first.path, "sweat_tests") {
			first, found = d, true
		}
	}
	return first, found
}

// factWord says what the day at a path of the case document belongs to.
func factWord(path string) string {
	for _, w := range []struct{ start, word string }{
		{"sweat_tests", "the sweat test"}, {"infant.weights", "the weighing"}, {"infant.died", "the death"}, {"referral.on", "the referral"},
		{"referral.screen.collected", "the screen specimen"}, {"referral.screen.reported", "the screen report"}, {"holds", "the hold"},
		{"bookings", "the booking"}, {"closures", "the closure"}, {"letters", "the letter"}, {"messages", "the message"},
	} {
		if strings.HasPrefix(path, w.start) {
			return w.word
		}
	}
	return fmt.Sprintf("the day at %s", path)
}

// former gives the values of an identity that another does not have.
func former(was, is *Identity) (f FormerIdentity) {
	gone(&f.Born, was.Born, is.Born)
	gone(&f.BornAt, was.BornAt, is.BornAt)
	gone(&f.Sex, was.Sex, is.Sex)
	gone(&f.Plurality, was.Plurality, is.Plurality)
	gone(&f.BirthOrder, was.BirthOrder, is.BirthOrder)
	gone(&f.Accession, was.Accession, is.Accession)
	for _, r := range was.Records {
		if !slices.Contains(is.Records, r) {
			f.Records = append(f.Records, r)
		}
	}
	return f
}

func gone[T comparable](to *T, was, is T) {
	if was != is {
		*to = was
	}
}

// saysCorrected tells whether a letter of a kind says something that differs between
// two identities: each one to the family or to primary care the birth date, those to
// primary care the first record number, and the one about the referral the specimen.
func saysCorrected(kind string, was, is *Identity) bool {
	to := LetterKindOf(kind).To
	switch {
	case to != ToFamily && to != ToPrimaryCare:
		return false
	case was.Born != is.Born:
		return true
	case to != ToPrimaryCare:
		return false
	}
	return firstRecord(was.Records) != firstRecord(is.Records) || kind == LetterReferral && was.Accession != is.Accession
}

// firstRecord is the record number that a letter to primary care says.
func firstRecord(list []RecordNo) RecordNo {
	for _, r := range list {
		if r.Number != "" {
			return r
		}
	}
	return RecordNo{}
}

// outWith lists the numbers of the letters that have left and say what is corrected.
func (c *Case) outWith(was, is *Identity) []string {
	return c.lettersLeft(func(kind string) bool { return saysCorrected(kind, was, is) })
}

// LettersOut lists the numbers of the letters that have left and say who the infant is.
func (c *Case) LettersOut() []string {
	return c.lettersLeft(func(kind string) bool { return saysCorrected(kind, &Identity{}, &Identity{Born: c.Infant.Born}) })
}

func (c *Case) lettersLeft(says func(kind string) bool) []string {
	var out []string
	for i := range c.Letters {
		l := &c.Letters[i]
		if waits := l.State == "to-print" || l.State == "printed" || l.State == "held"; l.Number != "" && !waits && says(l.Kind) {
			out = append(out, l.Number)
		}
	}
	return out
}

// FormerBirths are the birth dates under which the infant was known before, each once.
func (in *Infant) FormerBirths() []Day {
	var out []Day
	for i := range in.Former {
		if d := in.Former[i].Born; d != 0 && d != in.Born && !slices.Contains(out, d) {
			out = append(out, d)
		}
	}
	return out
}

// FormerRecords are the record numbers that were the infant's before, each once.
func (in *Infant) FormerRecords() []RecordNo {
	var out []RecordNo
	for i := range in.Former {
		for _, r := range in.Former[i].Records {
			if !slices.Contains(in.Records, r) && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	return out
}

// FormerAccessions are the specimen numbers that stood on the screen before, each once.
func (in *Infant) FormerAccessions() []string {
	var out []string
	for i := range in.Former {
		if a := in.Former[i].Accession; a != "" && !slices.Contains(out, a) {
			out = append(out, a)
		}
	}
	return out
}
