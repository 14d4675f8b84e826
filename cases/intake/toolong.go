package intake

import (
	"fmt"
	"unicode/utf8"
)

// longest is how many bytes of one value are read: more than any name, number, answer
// or list of variants has. Comments and notes may be longer.
const longest = 2000

// shortened cuts values that are longer than anything meant, before they are compared
// with words and names, and sends the item to a person. The document is kept whole.
func (it *Item) shortened() {
	r := &it.Referral
	c := cutter{it: it}
	for _, as := range [][]Answer{r.Interpretation, r.Overall, r.Positive, r.Equivocal, r.Quality, r.Factors} {
		for i := range as {
			c.at = as[i].At
			c.cut(&as[i].Code, &as[i].System, &as[i].Text, &as[i].Other, &as[i].Flag)
		}
	}
	for i := range r.IRT {
		c.measure(&r.IRT[i])
	}
	for i := range r.Variants {
		c.at = r.Variants[i].At
		c.cut(&r.Variants[i].Text, &r.Variants[i].Code, &r.Variants[i].Sub)
	}
	for i := range r.Unknown {
		c.at = r.Unknown[i].At
		c.cut(&r.Unknown[i].Text, &r.Unknown[i].Code, &r.Unknown[i].Name)
	}
	for i := range r.Sites {
		s := &r.Sites[i]
		c.measure(&s.Chloride)
		c.measure(&s.Quantity)
		c.cut(&s.Place, &s.Amount, &s.Accession, &s.Order, &s.Reads)
	}
	c.people(r)
	if c.found {
		c.place.Severity, c.place.Value = Fault, Shorten(c.value)
		c.place.Text = fmt.Sprintf("A value of %d bytes is too long to be read; only its beginning was. Look at the document, and ask the sender.", len(c.value))
		it.Problems = append(it.Problems, c.place)
	}
}

// people cuts what names the infant and the family.
func (c *cutter) people(r *Referral) {
	c.at = Problem{}
	for _, m := range []*Moment{&r.Sent, &r.Referred, &r.Infant.Born, &r.Infant.Died, &r.Collected, &r.Received, &r.Reported, &r.Transfused} {
		c.at = m.At
		c.cut(&m.Text, &m.Offset)
	}
	in := &r.Infant
	c.at = Problem{}
	c.cut(&r.Sender, &r.Program, &r.ControlID, &r.Processing, &r.Card, &r.FirstCard, &r.Maiden, &r.Ordering, &r.LabReads,
		&in.Family, &in.Given, &in.Multiple, &in.WeightText, &in.Facility)
	if in.Care != nil {
		c.cut(&in.Care.Name, &in.Care.Practice, &in.Care.Phone)
	}
	c.numbers(&r.Accession, &r.Order, &in.MotherID)
	for i := range in.Records {
		c.numbers(&in.Records[i])
	}
	c.person(&r.Mother)
	if r.Home != nil {
		c.person(r.Home)
	}
	for i := range r.Guardians {
		c.person(&r.Guardians[i])
	}
}

// cutter cuts values and remembers the first that was too long, with its place.
type cutter struct {
	it    *Item
	at    Problem
	found bool
	place Problem
	value string
}

func (c *cutter) cut(values ...*string) {
	for _, s := range values {
		if len(*s) <= longest {
			continue
		}
		if !c.found {
			c.found, c.place, c.value = true, c.at, *s
		}
		*s = clip(*s, longest)
	}
}

// clip gives the first bytes of a longer text, at a character boundary.
func clip(s string, most int) string {
	for back := range utf8.UTFMax {
		if utf8.RuneStart(s[most-back]) {
			return s[:most-back]
		}
	}
	return s[:most] // no text at all
}

func (c *cutter) measure(m *Measure) {
	c.at = m.At
	c.cut(&m.Text, &m.Unit, &m.Comparator, &m.Range, &m.Flag)
}

func (c *cutter) numbers(ids ...*Identifier) {
	for _, id := range ids {
		c.cut(&id.Number, &id.Authority)
	}
}

func (c *cutter) person(p *Person) {
	c.cut(&p.Family, &p.Given, &p.Relation, &p.Email, &p.Language)
	for i := range p.Phones {
		c.cut(&p.Phones[i].Number)
	}
	if a := p.Address; a != nil {
		c.cut(&a.City, &a.County, &a.Region, &a.Postal, &a.Country)
		for i := range a.Lines {
			c.cut(&a.Lines[i])
		}
	}
}
