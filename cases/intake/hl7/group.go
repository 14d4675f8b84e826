package hl7

import (
	"fmt"
	"strings"

	"dunlin/cases/intake"
)

// group is one patient result: PID and what follows it up to the next PID.
type group struct {
	segs     []Segment
	midOrder bool // the PID came between an ORC and its OBR
	early    bool // a result stands before any order
}

// groups splits a message by PID. Results before any PID form a group of their own.
func groups(m *Message) []group {
	var gs []group
	last, from := "", 0
	begin := func(i int, mid bool) {
		from = i
		gs = append(gs, group{midOrder: mid})
	}
	for i := range m.Segments {
		s := &m.Segments[i]
		switch s.Name {
		case "MSH", "SFT", "UAC", "DSC":
			continue
		case "PID":
			mid := len(gs) > 0 && last == "ORC"
			if mid {
				gs[len(gs)-1].midOrder = true
			}
			begin(i, mid)
		case "NTE":
		default:
			if len(gs) == 0 {
				begin(i, false)
			}
		}
		last = s.Name
		if len(gs) > 0 {
			gs[len(gs)-1].segs = m.Segments[from : i+1]
		}
	}
	return gs
}

// reading carries the state of reading one group.
type reading struct {
	it        *intake.Item
	r         *intake.Referral
	obr       *Segment
	panel     bool              // the OBR above is the cystic fibrosis panel
	sweat     bool              // the OBR above is a sweat test
	sweatHere bool              // a sweat result stands under another order
	site      int               // index of the sweat site being filled, -1 for none
	first     int               // index of the first site under the order above
	subs      []string          // the sub-identifier of each site under the order above
	specimens int               // specimens so far under the order above
	codes     map[string]string // the sender's own codes
	goodTime  [2]string         // times of results (OBX-14, OBX-19) that were read and were in order
	end       *Segment          // last segment of the group
	ownScreen bool              // a newborn screen by its name, under a code of the laboratory
	facts     cardFacts
}

func (rd *reading) problem(v Value, s intake.Severity, text string) {
	rd.it.Problems = append(rd.it.Problems, v.Problem(s, text))
}

// read fills the item from the group.
func (g group) read(it *intake.Item, codes map[string]string) {
	rd := &reading{it: it, r: &it.Referral, site: -1, codes: codes, obr: &Segment{}}
	if n := len(g.segs); n > 0 {
		rd.end = &g.segs[n-1]
	}
	hasPID := false
	for i := range g.segs {
		s := &g.segs[i]
		if text := rd.full(); text != "" {
			rd.problem(s.Field(0), intake.Fault, text+" From here on the message was not read; it is kept whole. Ask the sender.")
			break
		}
		switch s.Name {
		case "PID":
			hasPID = true
			rd.repeated(s)
			rd.pid(s)
		case "NK1":
			rd.repeated(s)
			rd.kin(kin(s), s)
		case "PD1":
			rd.care(s)
		case "ORC":
			rd.orc(s)
		case "OBR":
			rd.order(s)
		case "OBX":
			rd.obx(s)
		case "NTE":
			rd.nte(s)
		case "SPM":
			rd.spm(s)
		default:
			rd.elsewhere(s)
		}
	}
	rd.mixed(g.segs)
	if !hasPID {
		it.Problems = append(it.Problems, intake.Problem{Severity: intake.Fault, Segment: "PID",
			Text: "The message names no infant (it has no PID segment). Ask the sender for the whole message."})
	}
	rd.close()
}

// full says of what there is more than any infant has.
func (rd *reading) full() string {
	switch {
	case len(rd.r.Guardians) > MaxFamily:
		return fmt.Sprintf("There are more than %d people of the family.", MaxFamily)
	case len(rd.r.Sites) > MaxSites:
		return fmt.Sprintf("There are more than %d sites of sweat.", MaxSites)
	}
	return ""
}

func (rd *reading) pid(s *Segment) {
	r := rd.r
	r.Infant.Family, r.Infant.Given, _ = name(s, 5)
	r.Infant.Generic = intake.GenericName(r.Infant.Given)
	r.Maiden, _, _ = name(s, 6)
	r.Infant.Born = Time(s.First(7))
	sex := s.First(8).Comp(1)
	r.Infant.Sex = sexWord(sex.Text())
	if r.Infant.Sex == "" && sex.Text() != "" {
		r.Infant.Sex = "unknown"
		rd.problem(sex, intake.Note, "The sex is not one of table 0001.")
	}
	var card string
	r.Infant.Records, card = identifiers(s, 3)
	if card != "" {
		r.Card = card
	}
	if mothers, _ := identifiers(s, 21); len(mothers) > 0 {
		r.Infant.MotherID = mothers[0]
	}
	r.Infant.Multiple = strings.ToUpper(s.First(24).Comp(1).Text())
	rd.facts.orderAt = s.Field(25)
	if t := s.Field(25).Text(); t != "" {
		if n, ok := intake.Number(t); ok && n >= 1 && n <= 12 && n == float64(int(n)) {
			r.Infant.Order = int(n)
		} else {
			rd.problem(s.Field(25), intake.Check, "The birth order is not a number from 1 to 12.")
		}
	}
	if strings.EqualFold(s.Field(30).Text(), "Y") {
		r.Infant.Deceased = true
	}
	r.Infant.Died = Time(s.First(29))
	if !s.Field(29).Empty() && !s.Field(29).Null() {
		r.Infant.Deceased = true
	}
	home := intake.Person{Language: intake.LanguageTag(s.First(15).Comp(1).Text(), s.First(15).Comp(2).Text())}
	home.Phones, home.Email, _ = phones(s, 13)
	home.Address, _ = address(s, 11)
	r.Home = &home
	r.Infant.Facility = s.First(23).Comp(1).Text()
}

func sexWord(s string) string {
	switch strings.ToUpper(s) {
	case "F", "FEMALE":
		return "female"
	case "M", "MALE":
		return "male"
	case "O", "A", "OTHER":
		return "other"
	case "U", "N", "UNKNOWN":
		return "unknown"
	}
	return ""
}

// kin puts a person of NK1 in place: the mother, or one of the guardians.
func (rd *reading) kin(p intake.Person, s *Segment) {
	if p.Relation == "MTH" && rd.r.Mother.Family == "" && rd.r.Mother.Given == "" {
		rd.r.Mother = p
	} else if p.Family != "" || p.Given != "" || len(p.Phones) > 0 || p.Address != nil {
		rd.r.Guardians = append(rd.r.Guardians, p)
	}
	for _, f := range []int{4, 5} {
		if v := s.Field(f); v.Null() {
			what := "address"
			if f == 5 {
				what = "telephone number"
			}
			rd.problem(v, intake.Check, "The message asks to delete the "+what+". Nothing was deleted; ask the sender or the family what is right.")
		}
	}
}

// care reads the primary care provider of PD1-4.
func (rd *reading) care(s *Segment) {
	v := s.First(4)
	if n := strings.TrimSpace(v.Comp(3).Text() + " " + v.Comp(2).Sub(1).Text()); n != "" {
		rd.facts.pd1 = n
	}
}

// orc keeps the order numbers, the ordering provider and the ordering place.
func (rd *reading) orc(s *Segment) {
	rd.numbers(s)
	rd.provider(s.First(12))
	if f := s.First(21).Comp(1).Text(); f != "" {
		rd.facts.orcPlace = f
	}
}

// numbers reads the placer and filler numbers, which stand in fields 2 and 3 of
// both ORC and OBR. A placer number with name space FormNumber is the card.
func (rd *reading) numbers(s *Segment) {
	if id := entity(s.First(3)); id.Number != "" && rd.r.Accession.Number == "" {
		rd.r.Accession = id
	}
	id := entity(s.First(2))
	if id.Number == "" {
		return
	}
	if strings.EqualFold(id.Authority, "FormNumber") {
		if rd.facts.formCard == "" {
			rd.facts.formCard = id.Number
		}
	} else if rd.r.Order.Number == "" {
		rd.r.Order = id
	}
}

func (rd *reading) provider(v Value) {
	if rd.r.Ordering != "" {
		return
	}
	rd.r.Ordering = strings.TrimSpace(v.Comp(3).Text() + " " + v.Comp(2).Sub(1).Text())
}
