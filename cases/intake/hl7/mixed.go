package hl7

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases/intake"
)

// mixed looks for signs that the results of two infants stand under one PID, because
// the PID and more were lost on the way. Each sign is one that HL7 version 2.5.1
// (chapter 7: the order of segments, set ids, sub-identifiers) does not allow in the
// report of one infant, and that none of the real messages has. The first sign is told;
// a person then decides.
func (rd *reading) mixed(segs []Segment) {
	m := mixture{rd: rd, answers: map[string]orderAbove{}}
	for i := range segs {
		if v, text := m.sign(&segs[i]); text != "" {
			rd.problem(v, intake.Fault, text)
			return
		}
	}
}

// mixture is what mixed has seen of a group so far.
type mixture struct {
	rd      *reading
	results bool // an order or a result
	values  bool // a result
	orc     bool // an ORC whose OBR did not come yet
	order   orderAbove
	panel   string                // laboratory number of the first cystic fibrosis panel
	card    string                // first card number that came as a result
	answers map[string]orderAbove // answers of which an infant has one, by code and sub-identifier
	set     sets
}

// orderAbove is the order that a result stands under.
type orderAbove struct {
	n      int // counted from 1, 0 before any order
	number string
	sweat  bool
}

// sets are the set ids (OBX-1) under one order.
type sets struct {
	seen, first, other bool
	subs               map[string]bool
}

// sign looks at the next segment and gives the place and the words of a sign in it.
func (m *mixture) sign(s *Segment) (Value, string) {
	switch s.Name {
	case "NK1":
		if m.results {
			return s.Field(0), "A person of the family stands after an order or its results, so the PID of another infant may be missing. Nothing was decided; ask the sender whose the results are."
		}
	case "PD1", "PV1":
		if m.values {
			return s.Field(0), "The care of an infant is named after results, so the PID of another infant may be missing. Nothing was decided; ask the sender whose the results are."
		}
	case "ORC":
		if m.orc {
			return s.Field(0), "Two orders (ORC) follow each other, so the results of the first, or the PID of another infant, may be missing. Nothing was decided; ask the sender."
		}
		m.results, m.orc = true, true
	case "OBR":
		return m.obr(s)
	case "SPM":
		m.set = sets{}
	case "OBX":
		m.results, m.values = true, true
		return m.obx(s)
	}
	return Value{}, ""
}

func (m *mixture) obr(s *Segment) (Value, string) {
	m.results, m.orc, m.set = true, false, sets{}
	code, nm, _ := m.rd.code(s.First(4))
	number := entity(s.First(3)).Number
	m.order = orderAbove{m.order.n + 1, number, code == "86964003" || strings.Contains(strings.ToLower(nm), "sweat")}
	if code == "54078-1" && number != "" {
		if m.panel != "" && number != m.panel {
			return s.Field(3), fmt.Sprintf("There are two cystic fibrosis panels with different laboratory numbers (%s and %s). They may belong to two infants or to two cards; ask the sender.", intake.Shorten(m.panel), intake.Shorten(number))
		}
		m.panel = number
	}
	return Value{}, ""
}

func (m *mixture) obx(s *Segment) (Value, string) {
	sub := s.Field(4).Text()
	if !m.order.sweat && m.set.again(s.Field(1).Text(), sub) {
		return s.Field(1), "The numbers of the results (OBX-1) begin again under one order, so another order, or the PID of another infant, may be missing. Nothing was decided; ask the sender whose the results are."
	}
	if len(m.rd.codes) == 0 && !tells(s.Field(3).Raw()) || s.Field(5).Empty() {
		return Value{}, ""
	}
	switch status := strings.ToUpper(s.Field(11).Text()); status {
	case "D", "W", "X":
		return Value{}, ""
	}
	code, _, loinc := m.rd.code(s.First(3))
	if !loinc {
		return Value{}, ""
	}
	switch known[code] {
	case "card":
		n := firstComp(s, text(s.Field(5)))
		if m.card != "" && n != m.card {
			return s.Field(5), fmt.Sprintf("There are two card numbers (%s and %s). The results may belong to two infants or to two cards; ask the sender.", intake.Shorten(m.card), intake.Shorten(n))
		}
		m.card = n
	case "interpretation", "variants":
		return m.single(s, code, sub)
	}
	return Value{}, ""
}

// telling are the codes of the results that obx looks at.
var telling = func() (out []string) {
	for code, what := range known {
		if what == "card" || what == "interpretation" || what == "variants" {
			out = append(out, code)
		}
	}
	return out
}()

// tells reports a field that holds one of those codes; most do not.
func tells(raw string) bool {
	return slices.ContainsFunc(telling, func(code string) bool { return strings.Contains(raw, code) })
}

// single looks at a result of which a report has one, unless sub-identifiers tell
// several apart. Several variants under one order without any are common.
func (m *mixture) single(s *Segment, code, sub string) (Value, string) {
	key := code + "\x1f" + sub
	before, was := m.answers[key]
	m.answers[key] = m.order
	if !was {
		return Value{}, ""
	}
	same := before.n == m.order.n
	switch {
	case same && known[code] == "interpretation":
		return s.Field(4), "There are two cystic fibrosis interpretations under one order, and no sub-identifier (OBX-4) tells them apart. They may belong to two infants; ask the sender."
	case !same && (before.number == "" || before.number != m.order.number):
		return s.First(3), "The same cystic fibrosis result stands under two orders, which no laboratory number joins. They may belong to two infants; ask the sender."
	}
	return Value{}, ""
}

// again reports a result numbered 1 after results of the same order that were numbered,
// unless a sub-identifier of its own says that it begins a new set. An order whose
// results all have the number 1 was not numbered at all.
func (t *sets) again(id, sub string) bool {
	apart := sub != "" && !t.subs[sub]
	if apart {
		if t.subs == nil {
			t.subs = map[string]bool{}
		}
		t.subs[sub] = true
	}
	one := id == "1"
	switch {
	case id == "":
		return false
	case one && t.other && !apart:
		return true
	case !one && t.seen && t.first: // 1, 1, 2
		return true
	case apart:
		*t = sets{subs: t.subs}
	}
	t.first = one && t.seen && !t.other
	t.seen = true
	t.other = t.other || !one
	return false
}
