package fhir

import (
	"strings"

	"dunlin/cases"
)

// How intake marks a number that is not the infant's record number.
const (
	cardNumber   = "newborn screen card"
	motherNumber = "mother"
)

// people adds the doctor, the infant, and the family.
func (b *builder) people() {
	b.addDoctor()
	in := &b.Case.Infant
	p := &Patient{Gender: in.Sex, BirthDate: in.Born.String(), DeceasedDateTime: in.Died.String(),
		GeneralPractitioner: b.doctor, ManagingOrganization: b.program}
	p.Identifier = b.numbers()
	if in.Family != "" || in.Given != "" {
		p.Name = append(p.Name, HumanName{Use: "official", Family: in.Family, Given: []string{in.Given}})
	}
	for _, n := range in.FormerNames {
		p.Name = append(p.Name, HumanName{Use: "old", Text: n})
	}
	if t, ok := b.time(in.Born, in.BornAt); ok {
		p.BirthDateMore = &Extended{[]Extension{{URL: extension + "patient-birthTime", ValueDateTime: b.moment(t)}}}
	}
	switch several := in.Plurality > 1; {
	case several && in.BirthOrder > 0:
		p.MultipleBirthInteger = in.BirthOrder
	case in.Plurality > 0:
		p.MultipleBirthBoolean = &several
	}
	if f := b.Case.Family; f != nil {
		if f.Interpreter {
			yes := true
			p.Extension = append(p.Extension, Extension{URL: extension + "patient-interpreterRequired", ValueBoolean: &yes})
		}
		if g := lettersTo(f); g != nil {
			p.Address = address(g.Address)
		}
	}
	b.patient = b.add("patient", "", p)
	b.addFamily()
}

// numbers lists the case's reference and the infant's record numbers. The serial number
// of the card goes with its specimen too, the mother's number with her.
func (b *builder) numbers() []Identifier {
	var out []Identifier
	if ref := b.Case.Reference; ref != "" {
		out = append(out, Identifier{Use: "usual", Type: words("Reference of the follow-up case"), Value: ref, Assigner: b.program})
	}
	for _, n := range b.Case.Infant.Records {
		switch {
		case n.Authority == cardNumber:
			out = append(out, Identifier{Use: "secondary", Type: words("Newborn screening card serial number"), Value: n.Number})
		case !ofMother(n):
			out = append(out, record(n.Number, n.Authority))
		}
	}
	return out
}

func ofMother(n cases.RecordNo) bool {
	return n.Authority == motherNumber || strings.HasPrefix(n.Authority, motherNumber+", ")
}

// record is a medical record number; an authority that is an object identifier becomes
// the number's system.
func record(number, authority string) Identifier {
	i := Identifier{Type: own(sysNumber, "MR", "Medical record number"), Value: number}
	if isOID(authority) {
		i.System = "urn:oid:" + authority
	} else {
		i.Assigner = name(authority)
	}
	return i
}

// isOID tells an object identifier: numbers joined by dots, of which the first is 0 to 2.
func isOID(s string) bool {
	parts := strings.Split(s, ".")
	for _, p := range parts {
		if p == "" || strings.Trim(p, "0123456789") != "" || len(p) > 1 && p[0] == '0' {
			return false
		}
	}
	return len(parts) > 2 && len(parts[0]) == 1 && parts[0] <= "2"
}

// addDoctor adds the infant's doctor and practice.
func (b *builder) addDoctor() {
	d := b.Case.PrimaryCare
	if d == nil {
		return
	}
	var lines []ContactPoint
	lines = append(lines, ContactPoint{"phone", d.Phone, "work"}, ContactPoint{"fax", d.Fax, "work"}, ContactPoint{"email", d.Email, "work"})
	for i := range lines {
		if clean(lines[i].Value) == "" {
			lines[i] = ContactPoint{}
		}
	}
	var who, practice *Reference
	if clean(d.Name) != "" {
		who = b.add("doctor", "", &Practitioner{Name: []HumanName{{Text: d.Name}}, Telecom: lines, Address: address(d.Address)})
		who.Display = clean(d.Name)
		lines = nil
	}
	if clean(d.Practice) != "" {
		o := &Organization{Name: d.Practice, Telecom: lines}
		if who == nil {
			o.Address = address(d.Address)
		}
		practice = b.add("practice", "", o)
		practice.Display = clean(d.Practice)
	}
	b.doctor = list(who, practice)
}

// lettersTo is the guardian who gets the letters: the one picked, else the only one.
func lettersTo(f *cases.Family) *cases.Guardian {
	for i := range f.Guardians {
		if f.Guardians[i].Letters {
			return &f.Guardians[i]
		}
	}
	if len(f.Guardians) == 1 {
		return &f.Guardians[0]
	}
	return nil
}

// addFamily adds the mother, and each guardian apart from her.
func (b *builder) addFamily() {
	f := b.Case.Family
	if f == nil {
		return
	}
	var speaks []SpokenLanguage
	if f.Language != "" {
		speaks = []SpokenLanguage{{own(sysLanguage, strings.Join(strings.Fields(f.Language), "-"), cases.LanguageWord(f.Language)), true}}
	}
	to, mother := lettersTo(f), false
	for i := range f.Guardians {
		g := &f.Guardians[i]
		p := &RelatedPerson{Patient: b.patient, Relationship: relation(g.Relation), Telecom: reach(g), Address: address(g.Address), Communication: speaks}
		if g.Given != "" || g.Family != "" {
			p.Name = []HumanName{{Family: g.Family, Given: []string{g.Given}}}
		}
		if isMother(g) && !mother {
			mother = true
			b.ofMother(p)
		}
		r := b.add("guardian", g.Relation, p)
		if g == to {
			b.family = r
		}
	}
	if !mother && (f.Mother != "" || f.MotherBorn != 0) {
		p := &RelatedPerson{Patient: b.patient, Relationship: relation("mother"), Communication: speaks}
		if f.Mother != "" {
			p.Name = []HumanName{{Text: f.Mother}}
		}
		b.ofMother(p)
		b.add("mother", "", p)
	}
}

func isMother(g *cases.Guardian) bool {
	return strings.EqualFold(strings.TrimSpace(g.Relation), "mother")
}

// ofMother adds what the case keeps of the mother herself.
func (b *builder) ofMother(p *RelatedPerson) {
	p.BirthDate = b.Case.Family.MotherBorn.String()
	for _, n := range b.Case.Infant.Records {
		if ofMother(n) {
			p.Identifier = append(p.Identifier, record(n.Number, strings.TrimPrefix(strings.TrimPrefix(n.Authority, motherNumber), ", ")))
		}
	}
}

// roles leads from the words of the program to codes of v3 RoleCode (HL7; the codes are
// from memory). Any other relation keeps its words alone.
var roles = map[string]Coding{
	"mother":      {sysRole, "MTH", "mother"},
	"father":      {sysRole, "FTH", "father"},
	"parent":      {sysRole, "PRN", "parent"},
	"guardian":    {sysRole, "GUARD", "guardian"},
	"grandparent": {sysRole, "GRPRN", "grandparent"},
}

func relation(word string) []CodeableConcept {
	c := CodeableConcept{Text: word}
	if k, ok := roles[strings.ToLower(strings.TrimSpace(word))]; ok {
		c.Coding = []Coding{k}
	}
	return []CodeableConcept{c}
}

// reach lists a guardian's telephone numbers and mail address.
func reach(g *cases.Guardian) (out []ContactPoint) {
	for _, p := range g.Phones {
		if clean(p.Number) == "" {
			continue
		}
		use := ""
		switch k := strings.ToLower(p.Kind); {
		case strings.Contains(k, "mobile") || strings.Contains(k, "cell"):
			use = "mobile"
		case strings.Contains(k, "work"):
			use = "work"
		case strings.Contains(k, "home"):
			use = "home"
		}
		out = append(out, ContactPoint{"phone", p.Number, use})
	}
	if clean(g.Email) != "" {
		out = append(out, ContactPoint{System: "email", Value: g.Email})
	}
	return out
}

// address is a postal address; one from which mail came back is marked as no longer in
// use, so that nobody writes to it again.
func address(a *cases.Address) []Address {
	if a == nil {
		return nil
	}
	out := Address{Line: append([]string(nil), a.Lines...), City: a.City, District: a.County, State: a.Region, PostalCode: a.Postal, Country: a.Country}
	if a.Bad {
		out.Use = "old"
	}
	return []Address{out}
}
