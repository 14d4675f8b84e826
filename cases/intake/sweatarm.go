package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// amountOf is where an arm of the test keeps its amount.
func amountOf(t *cases.SweatTest, m *cases.Arm) **float64 {
	if t.Collector == "pad" {
		return &m.AmountMg
	}
	return &m.AmountUL
}

func amountText(t *cases.SweatTest, m *cases.Arm) string {
	v := *amountOf(t, m)
	switch {
	case v == nil:
		return "no amount"
	case t.Collector == "pad":
		return number(*v) + " mg"
	}
	return number(*v) + " µL"
}

// newArm adds an arm to the test. Nothing that the case needs is made up.
func (a *sweatAdder) newArm(t *cases.SweatTest, s *Site, path string, value *float64) {
	bad := len(a.asks)
	if len(t.Arms) == 2 {
		a.ask(path+"side", "a test has two sides, and the message or the case holds more")
	}
	if s.Minutes == 0 {
		a.ask(path+"minutes", "the message does not say how many minutes sweat was collected on the %s side", s.Side)
	}
	asked := len(a.asks)
	amount := a.amount(t, s, path)
	if amount == nil && !s.QNS && len(a.asks) == asked {
		a.ask(path+"quantity", "the message does not say how much sweat was collected on the %s side; a value can be read only with it", s.Side)
	}
	if len(a.asks) > bad {
		return
	}
	m := cases.Arm{Side: s.Side, Place: s.Limb, Minutes: s.Minutes, Chloride: value, Accession: s.Accession}
	if m.Place == "forearm" {
		m.Place = ""
	}
	if s.Began.Clock != "" && s.Ended.Clock >= s.Began.Clock {
		m.Began, m.Ended = s.Began.Clock, s.Ended.Clock
	}
	*amountOf(t, &m) = amount
	t.Arms = append(t.Arms, m)
	a.done = append(a.done, s.Side+" "+valueText(value))
}

// amount gives the amount as sent in the unit of the test's collector, nil when none
// was sent that can be recorded.
func (a *sweatAdder) amount(t *cases.SweatTest, s *Site, path string) *float64 {
	q, unit := &s.Quantity, microliters
	if t.Collector == "pad" {
		unit = milligrams
	}
	switch {
	case q.Text == "" && q.Value == nil:
		return nil
	case q.Value == nil || q.Comparator != "":
		if !s.QNS { // what was too little to be measured needs no number
			a.ask(path+"quantity", "the amount %q is not a number of µL or mg that can be recorded", Shorten(s.Amount))
		}
		return nil
	case q.Unit != unit:
		a.ask(path+"quantity", "the amount %q is not in the unit of the test on file (%s); ask the laboratory", Shorten(s.Amount), unit)
		return nil
	}
	v := *q.Value
	return &v
}

func valueText(v *float64) string {
	if v == nil {
		return "QNS"
	}
	return number(*v) + " mmol/L"
}

// oldArm fills an arm that was recorded without its value, or puts a corrected value
// in place of the earlier one. What the nurse recorded at the collection stays.
func (a *sweatAdder) oldArm(t *cases.SweatTest, m *cases.Arm, s *Site, path string, value *float64) {
	if m.Accession == "" {
		m.Accession = s.Accession
	}
	if s.Side == "" {
		s.Side = m.Side
	}
	if have := or(m.Place, "forearm"); s.Limb != "" && s.Limb != have {
		a.says = append(a.says, fmt.Sprintf("%s side: the message says %q, on file is the %s; what is on file stays.", sentenceCase(m.Side), Shorten(s.Place), strings.ReplaceAll(have, "-", " ")))
	}
	a.minutes(t, m, s, path)
	a.amounts(t, m, s, path)
	have := m.Chloride
	switch {
	case value == nil && have == nil:
		if t.Laboratory == nil {
			a.done = append(a.done, m.Side+" QNS")
		}
	case value != nil && have != nil && *value == *have:
	case have == nil && !s.corrected():
		if t.Verified != nil {
			a.doubt(path+"chloride", "%s has checked the test of %s and called it %s; nothing was changed", t.Verified.By, t.On, t.Verified.As)
		}
		a.done = append(a.done, m.Side+" "+valueText(value))
		m.Chloride = value
	case !s.corrected():
		a.ask(path+"chloride", "%s is on file for the %s side, and the message says %s without calling it a correction; ask the laboratory which is right", valueText(have), m.Side, valueText(value))
	default:
		a.supersede(t, m, path, value)
	}
}

// supersede puts a corrected value in place, with the earlier one in the test's note.
func (a *sweatAdder) supersede(t *cases.SweatTest, m *cases.Arm, path string, value *float64) {
	a.kind = KindCorrected
	if t.Verified != nil {
		a.top = true
		a.doubt(path+"chloride", "the laboratory corrects the %s side to %s, and %s has checked the test of %s and called it %s; nothing was changed", m.Side, valueText(value), t.Verified.By, t.On, t.Verified.As)
		t.Verified = nil // the word was on the earlier value
	}
	had := "no value"
	if m.Chloride != nil {
		had = valueText(m.Chloride)
	}
	a.done = append(a.done, fmt.Sprintf("%s %s in place of %s", m.Side, valueText(value), had))
	a.fix(t, fmt.Sprintf("%s side: %s, before %s.", m.Side, valueText(value), had))
	m.Chloride = value
}

// fix notes a correction in the test and for the person who is told.
func (a *sweatAdder) fix(t *cases.SweatTest, text string) {
	text = sentenceOf(text)
	a.fixed = append(a.fixed, text)
	line := "Corrected by the laboratory"
	if a.r.Sender != "" {
		line = "Corrected by " + a.r.Sender
	}
	line += ", taken in on " + a.p.today.String() + ". " + text
	if t.Note != "" {
		line = t.Note + "\n" + line
	}
	t.Note = line
}

// minutes compares the time of collection. The recorded one stays; where the other
// would change whether there was enough sweat, a person decides.
func (a *sweatAdder) minutes(t *cases.SweatTest, m *cases.Arm, s *Site, path string) {
	if s.Minutes == 0 || s.Minutes == m.Minutes {
		return
	}
	with := func(min float64) bool {
		one, probe := *m, *t
		one.Minutes = min
		probe.Arms = []cases.Arm{one}
		return a.reading(a.c, &probe).Arms.A[0].Usable
	}
	if with(m.Minutes) != with(s.Minutes) {
		a.doubt(path+"minutes", "%s minutes are on file for the %s side and %s in the message; the amount is enough for only one of them", number(m.Minutes), m.Side, number(s.Minutes))
		if !a.force {
			return
		}
		a.done = append(a.done, m.Side+" "+number(s.Minutes)+" minutes")
		m.Minutes = s.Minutes
		return
	}
	a.says = append(a.says, fmt.Sprintf("%s side: %s minutes in the message, %s on file; what is on file stays.", sentenceCase(m.Side), number(s.Minutes), number(m.Minutes)))
}

// amounts compares the amount of sweat: a missing one is filled, one that differs
// beyond rounding goes to a person, a corrected one takes its place.
func (a *sweatAdder) amounts(t *cases.SweatTest, m *cases.Arm, s *Site, path string) {
	asked := len(a.asks)
	sent, have := a.amount(t, s, path), amountOf(t, m)
	switch {
	case sent == nil:
		if *have == nil && !s.QNS && len(a.asks) == asked {
			a.ask(path+"quantity", "neither the message nor the case says how much sweat was collected on the %s side; a value can be read only with it", m.Side)
		}
	case *have == nil:
		*have = sent
		a.done = append(a.done, m.Side+" "+amountText(t, m))
	case near(*sent, **have):
	case s.corrected() && t.Verified == nil:
		was := amountText(t, m)
		*have = sent
		a.done = append(a.done, fmt.Sprintf("%s %s in place of %s", m.Side, amountText(t, m), was))
		a.fix(t, fmt.Sprintf("%s side: %s of sweat, before %s.", m.Side, amountText(t, m), was))
	case a.force:
		was := amountText(t, m)
		*have = sent
		a.done = append(a.done, fmt.Sprintf("%s %s in place of %s", m.Side, amountText(t, m), was))
	default:
		a.ask(path+"quantity", "%s is on file for the %s side, and the message says %s; find out which is right", amountText(t, m), m.Side, s.Amount)
	}
}
