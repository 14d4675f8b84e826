package cases

import (
	"fmt"
	"math/bits"
)

// DataFault is one kind of fault in what is recorded of a case. A case has a kind
// once, however many of its days or tests are concerned.
type DataFault uint8

// The kinds, in the order in which they are listed.
const (
	ImpossibleOrder  DataFault = iota // of two days, which cannot be
	UnusualOrder                      // of two milestones: the interval between them leaves the case out
	DayAhead                          // a fact dated after today
	NoAmount                          // a collection without its amount of sweat
	NoTestWeight                      // a collection without a weight of the week before
	NoTestSite                        // a collection without its site
	NoBirthWeight                     // of the infant
	NoGestation                       // of the infant
	NoScreenDays                      // collection or report of the screen
	NoContact                         // open, the first contact is due, and nobody was tried
	NoPhone                           // open, and no telephone
	NoLanguage                        // open, and no language
	NoPrimaryCare                     // open, and no doctor
	SuspectDuplicate                  // another case that may be about the same infant
	dataFaultCount
)

// DataFaultKind says in words what a kind of data fault is.
type DataFaultKind struct {
	Key   string // "impossible-order"
	Name  string // "Days in an impossible order"
	Means string // when a case has it
	Do    string // what to do about it
	Part  string // the part of the case page that it is about: tests, contacts, family, screen; "" the whole
}

// DataFaultKinds lists the kinds, by DataFault.
var DataFaultKinds = [dataFaultCount]DataFaultKind{
	{"impossible-order", "Days in an impossible order", "One day lies before another that must come first.", "Find out which day is wrong, from the document or the sender, and correct it.", "screen"},
	{"unusual-order", "Days out of the usual order", "One day lies before another that mostly comes first. It may be true. The interval between the two does not count the case.", "Look whether both days are right. When they are, nothing is to be done.", "screen"},
	{"day-ahead", "Days that lie ahead", "Something is recorded as done on a day that has not come.", "Correct the day.", "screen"},
	{"no-amount", "Tests without the amount of sweat", "A collection was recorded, and the amount of an arm was not.", "Ask the test site for the amount, and record it with the test.", "tests"},
	{"no-test-weight", "Tests without a weight", "No weight was recorded with a test, nor in the 7 days before it.", "Ask the test site for the weight, and record it.", "tests"},
	{"no-test-site", "Tests without a test site", "A collection was recorded without saying where.", "Record the site with the test.", "tests"},
	{"no-birth-weight", "No birth weight", "The birth weight is not recorded.", "Ask the birth hospital or the sender of the screen.", "screen"},
	{"no-gestation", "No gestation", "The gestation is not recorded. Nobody can tell whether the infant was old enough for a test.", "Ask the birth hospital or the sender of the screen.", "screen"},
	{"no-screen-days", "Screen without its days", "Referred by the screen, and the day of its collection or of its report is not recorded.", "Take the days from the laboratory’s report.", "screen"},
	{"no-contact", "Open cases without any contact", "The case is open, the first contact is due, and no contact is recorded with anybody.", "Record the contacts there were. When there were none, begin today.", "contacts"},
	{"no-phone", "Open cases without a telephone", "The case is open, and no telephone number of the family is recorded.", "Ask primary care or the birth hospital.", "family"},
	{"no-language", "Open cases without a language", "The case is open, and the family’s language is not recorded.", "Ask primary care or the birth hospital. Do not guess it from the name.", "family"},
	{"no-primary-care", "Open cases without primary care", "The case is open, and no doctor or practice is recorded.", "Ask the family or the birth hospital.", "family"},
	{"duplicate", "Two cases that may be one infant", "Another case is so much alike that both may be about the same infant. Twins on record, and cases that a person kept apart, are left out.", "Compare both cases and decide: one infant, and the cases are merged once another person agrees, or two, and they are never listed again.", ""},
}

// Kind says in words what the fault is.
func (f DataFault) Kind() *DataFaultKind { return &DataFaultKinds[f] }

// DataFaultByKey gives the kind of a key.
func DataFaultByKey(key string) (DataFault, bool) {
	for f := range dataFaultCount {
		if f.Kind().Key == key {
			return f, true
		}
	}
	return 0, false
}

// DataFaults are the kinds that a case has.
type DataFaults uint32

// Has tells whether a kind is among them.
func (s DataFaults) Has(f DataFault) bool { return s>>f&1 != 0 }

// Count is how many kinds there are.
func (s DataFaults) Count() int { return bits.OnesCount32(uint32(s)) }

func (s *DataFaults) set(f DataFault, yes bool) {
	if yes {
		*s |= 1 << f
	}
}

// DataQuality finds faults in what is recorded, as of a day. It reads milestones
// alone; SuspectDuplicate, which needs two cases, it leaves to intake.Suspects.
type DataQuality struct {
	today    Day
	calendar Calendar
	tellDays int
}

// NewDataQuality reads by a protocol as of a day.
func NewDataQuality(p *Protocol, today Day) *DataQuality {
	return &DataQuality{today: today, calendar: p.Calendar(), tellDays: p.TellPrimaryCareWorkingDays}
}

// Counts tells whether a case is looked at: not one opened by a test message, nor one
// closed as the duplicate of another.
func (q *DataQuality) Counts(m *Milestones) bool {
	return m.Marks&MarkTestMessage == 0 && m.ClosedAs != "duplicate"
}

// Faults gives the kinds of faults of a case; none where it does not count.
func (q *DataQuality) Faults(m *Milestones) (s DataFaults) {
	if !q.Counts(m) {
		return 0
	}
	days := m.days()
	m.orders(&days, func(x wrongOrder) { s.set(x.kind, true) })
	s.set(DayAhead, q.ahead(m, &days, nil))
	s.set(NoAmount, m.Lacks&LacksAmount != 0)
	s.set(NoTestWeight, m.Lacks&LacksTestWeight != 0)
	s.set(NoTestSite, m.Lacks&LacksTestSite != 0)
	s.set(NoBirthWeight, m.Lacks&LacksBirthWeight != 0)
	s.set(NoGestation, m.Lacks&LacksGestation != 0)
	s.set(NoScreenDays, m.Lacks&(LacksCollected|LacksReported) != 0)
	if m.Closed != 0 || m.Died != 0 {
		return s
	}
	s.set(NoContact, m.Calls.Family+m.Calls.Others == 0 && q.calendar.Add(m.Referred, q.tellDays) < q.today)
	s.set(NoPhone, m.Lacks&LacksPhone != 0)
	s.set(NoLanguage, m.Lacks&LacksLanguage != 0)
	s.set(NoPrimaryCare, m.Lacks&LacksPrimaryCare != 0)
	return s
}

// Words says what is wrong with a case, one sentence for each thing of one kind, with
// the days. It is empty for SuspectDuplicate and for a kind that the case does not have.
func (q *DataQuality) Words(m *Milestones, f DataFault) (out []string) {
	if !q.Faults(m).Has(f) {
		return nil
	}
	days := m.days()
	switch f {
	case ImpossibleOrder, UnusualOrder:
		out = m.orderWords(&days, f)
	case DayAhead:
		q.ahead(m, &days, func(what string, on Day) {
			out = append(out, fmt.Sprintf("%s is dated %s, and today is %s.", what, Say(on), Say(q.today)))
		})
	case NoAmount, NoTestWeight, NoTestSite:
		out = m.testWords(f)
	case NoScreenDays:
		if m.Lacks&LacksCollected != 0 {
			out = append(out, "The day of the screen’s collection is not recorded.")
		}
		if m.Lacks&LacksReported != 0 {
			out = append(out, "The day of the screen’s report is not recorded.")
		}
	case NoContact:
		out = append(out, fmt.Sprintf("Referred on %s, and no contact is recorded with anybody up to %s.", Say(m.Referred), Say(q.today)))
	default:
		out = append(out, f.Kind().Means)
	}
	return out
}

func (m *Milestones) testWords(f DataFault) (out []string) {
	for i := range m.Tests {
		t := &m.Tests[i]
		switch {
		case f == NoAmount && t.NoAmount:
			out = append(out, fmt.Sprintf("The test of %s has an arm without its amount of sweat.", Say(t.On)))
		case f == NoTestWeight && t.WeightG == 0:
			out = append(out, fmt.Sprintf("No weight is recorded with the test of %s, nor in the 7 days before.", Say(t.On)))
		case f == NoTestSite && t.Site == "":
			out = append(out, fmt.Sprintf("The test of %s does not say where it was.", Say(t.On)))
		}
	}
	if len(out) == 0 { // tests that the kept milestones had no room for
		out = append(out, f.Kind().Means)
	}
	return out
}
