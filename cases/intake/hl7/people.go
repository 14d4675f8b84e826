package hl7

import (
	"strings"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// name reads an XPN field: the legal name first, then the name at birth, then the
// first that was sent.
func name(s *Segment, field int) (family, given string, at Value) {
	reps, _ := s.Repeats(field)
	if len(reps) == 0 {
		return "", "", s.Field(field)
	}
	best := reps[0]
	for _, want := range []string{"B", "L"} {
		for _, r := range reps {
			if r.Comp(7).Text() == want {
				best = r
				break
			}
		}
	}
	family = collapse(best.Comp(1).Sub(1).Text())
	given = collapse(best.Comp(2).Text())
	return family, given, best
}

func collapse(s string) string { return strings.Join(strings.Fields(s), " ") }

// phones reads an XTN field with all its repeats; mail addresses are kept apart.
func phones(s *Segment, field int) (ps []cases.Phone, email string, null bool) {
	reps, _ := s.Repeats(field)
	for _, r := range reps {
		if r.Null() {
			null = true
			continue
		}
		p, mail := Phone(r)
		if mail != "" && email == "" {
			email = mail
		}
		if p.Number != "" {
			ps = append(ps, p)
		}
	}
	// A home number (PRN) goes first; the rest keep their order.
	for i, p := range ps {
		if p.Kind == "home" && i > 0 {
			copy(ps[1:i+1], ps[:i])
			ps[0] = p
			break
		}
	}
	return ps, email, null
}

// Phone reads one XTN value: area and local number, else the unformatted number,
// else the first component as text.
func Phone(v Value) (p cases.Phone, email string) {
	use, equip := strings.ToUpper(v.Comp(2).Text()), strings.ToUpper(v.Comp(3).Text())
	email = v.Comp(4).Text()
	if use == "NET" || equip == "INTERNET" || equip == "X.400" {
		if email == "" {
			email = v.Comp(1).Text()
		}
		return cases.Phone{}, email
	}
	area, local := v.Comp(6).Text(), v.Comp(7).Text()
	switch {
	case local != "":
		p.Number = local
		if len(local) == 7 && allDigits(local) {
			p.Number = local[:3] + "-" + local[3:]
		}
		if area != "" {
			p.Number = area + "-" + p.Number
		}
	case v.Comp(12).Text() != "":
		p.Number = v.Comp(12).Text()
	default:
		p.Number = collapse(v.Comp(1).Text())
	}
	if ext := v.Comp(8).Text(); ext != "" && p.Number != "" {
		p.Number += " x" + ext
	}
	switch {
	case equip == "CP":
		p.Kind = "mobile"
	case equip == "FX":
		p.Kind = "fax"
	case use == "PRN":
		p.Kind = "home"
	case use == "WPN":
		p.Kind = "work"
	}
	return p, email
}

func allDigits(s string) bool {
	for _, c := range s {
		if c < '0' || c > '9' {
			return false
		}
	}
	return s != ""
}

// address reads the first XAD of a field.
func address(s *Segment, field int) (a *cases.Address, null bool) {
	reps, _ := s.Repeats(field)
	for _, r := range reps {
		if r.Null() {
			return nil, true
		}
		if a := Address(r); a != nil {
			return a, false
		}
	}
	return nil, false
}

// Address reads one XAD value; nil when it holds nothing.
func Address(v Value) *cases.Address {
	a := &cases.Address{City: v.Comp(3).Text(), Region: v.Comp(4).Text(), Postal: v.Comp(5).Text(),
		Country: v.Comp(6).Text(), Bad: strings.EqualFold(v.Comp(7).Text(), "BA"), County: coded(v.Comp(9))}
	street := v.Comp(1).Sub(1).Text()
	if street == "" {
		street = v.Comp(1).Text()
	}
	for _, l := range []string{street, v.Comp(2).Text()} {
		if l = collapse(l); l != "" {
			a.Lines = append(a.Lines, l)
		}
	}
	if len(a.Lines) == 0 && a.City == "" && a.Postal == "" {
		return nil
	}
	return a
}

// coded gives the text of a coded value within a component, else its code.
func coded(v Value) string {
	if text := v.Sub(2).Text(); text != "" {
		return text
	}
	return v.Sub(1).Text()
}

// identifiers reads a CX field. Numbers that are no record number (social
// security, Medicaid, driver's license) are left out on purpose.
func identifiers(s *Segment, field int) (ids []intake.Identifier, card string) {
	reps, _ := s.Repeats(field)
	var others []intake.Identifier
	for _, r := range reps {
		id := intake.Identifier{Number: r.Comp(1).Text(), Authority: authority(r.Comp(4))}
		if id.Number == "" {
			continue
		}
		switch strings.ToUpper(r.Comp(5).Text()) {
		case "SS", "MA", "MD", "MC", "DL", "PPN", "AN":
		case "SNBSN":
			card = id.Number
		case "MR", "PI", "PT", "":
			ids = append(ids, id)
		default:
			others = append(others, id)
		}
	}
	return append(ids, others...), card
}

// authority names an HD value: its name, else its universal id.
func authority(v Value) string {
	if n := v.Sub(1).Text(); n != "" {
		return n
	}
	return v.Sub(2).Text()
}

// entity reads an EI value: the number and the name space that gave it.
func entity(v Value) intake.Identifier {
	id := intake.Identifier{Number: v.Comp(1).Text(), Authority: v.Comp(2).Text()}
	if id.Authority == "" {
		id.Authority = v.Comp(3).Text()
	}
	return id
}

var motherWords = map[string]bool{"MTH": true, "MOTHER": true, "NMTH": true, "M": false}

// kin reads one NK1 segment. NK1-33 and other numbers of the mother are not read:
// they may hold a social security or Medicaid number.
func kin(s *Segment) intake.Person {
	var p intake.Person
	p.Family, p.Given, _ = name(s, 2)
	rel := s.First(3)
	p.Relation = strings.ToUpper(rel.Comp(1).Text())
	if p.Relation == "" {
		p.Relation = strings.ToUpper(rel.Comp(2).Text())
	}
	if motherWords[p.Relation] || motherWords[strings.ToUpper(rel.Comp(2).Text())] {
		p.Relation = "MTH"
	}
	p.Address, p.NullAddr = address(s, 4)
	var mail string
	p.Phones, p.Email, p.NullPhone = phones(s, 5)
	more, mail, _ := phones(s, 6)
	p.Phones = append(p.Phones, more...)
	if p.Email == "" {
		p.Email = mail
	}
	p.Born = Time(s.First(16)).Day
	p.Language = intake.LanguageTag(s.First(20).Comp(1).Text(), s.First(20).Comp(2).Text())
	return p
}
