package cases

import "strings"

// Milestones are the days that mattered in one case, and the little else that
// measures over many cases group and count by. Beside the case's own reference they
// hold nothing that names or reaches anybody. The store keeps them with each case,
// written in the same transaction, so that a report reads no whole cases. A day of 0
// means that it has not happened, or is not known.
type Milestones struct {
	Case      ID
	Reference string

	Born      Day
	Collected Day // of the screen
	Reported  Day // of the screen
	Referred  Day // not before birth
	DoctorTold,
	FamilyReached Day // as their clocks read them
	FirstBooking    Day // the day the first booking was made where that is recorded, else the day it was for
	FirstTest       Day // first chloride collection, QNS included, as the first-test clock reads it
	FirstSufficient Day // first chloride collection with enough sweat, not void
	LastResult      Day // latest collection that could be graded
	Determined      Day // closed with a determination: what the infant has, or has not
	Closed          Day // closed for any reason; ClosedAs says which
	Died            Day

	Route    string
	ClosedAs string
	Site     string // of the first collection, else of the last appointment
	Language string
	County   string // of the family's address, in the letters it was written
	Region   string // of the family's address
	Postal   string // first three characters of the postal code

	Gestation    Gestation
	BirthWeightG int // 0 when unknown
	Alleles      Alleles
	Marks        Marks
	Lacks        Lacks

	Tests  []TestMark  // chloride collections that are not void, in order
	Visits []VisitMark // appointments, in the order they were entered
	Calls  CallCounts
}

// Marks are yes-or-no facts of a case.
type Marks uint8

// The marks.
const (
	MarkException   Marks = 1 << iota // could not be ready for a test by the protocol's day
	MarkPresumptive                   // two CF-causing alleles are known
	MarkTestMessage                   // opened by a message marked as a test: never counted
	MarkProposed                      // a closure waits for a second person
)

// Lacks says which of the facts that measures rest on are missing.
type Lacks uint16

// What can be missing. The tests are those that count.
const (
	LacksGestation Lacks = 1 << iota
	LacksBirthWeight
	LacksCollected
	LacksReported
	LacksLanguage
	LacksPostal
	LacksPhone
	LacksPrimaryCare
	LacksGenotype
	LacksTestWeight // a collection without a weight of that day or the 7 days before
	LacksTestSite
	LacksAmount // an arm of a collection without its amount of sweat
	LacksCounty
)

// TestMark is one chloride collection as the protocol reads it.
type TestMark struct {
	On       Day
	Outcome  Outcome
	Site     string
	Pad      bool // collected on a pad, else in tubing
	NoAmount bool // an arm is without its amount of sweat
	WeightG  int  // at the test, else the latest of the 7 days before; 0 when unknown
}

// Sufficient tells a collection with enough sweat, resulted or not.
func (t TestMark) Sufficient() bool { return t.Outcome != QNS }

// VisitMark is one appointment: its day, where, and what became of it.
type VisitMark struct {
	On    Day
	Site  string
	State string // booked kept missed cancelled
}

// CallCounts counts recorded contacts, from the referral on.
type CallCounts struct {
	Family        int // attempts to reach the family, by any means
	FamilyReached int // of these, two-way
	Others        int // primary care, specialists, public-health nurses, supervisors
	Letters       int // of all, by letter or certified letter
}

// diagnosed are the closures that say what the infant has or has not.
func diagnosed(as string) bool {
	switch as {
	case "cf", "crms-cfspid", "carrier", "not-affected", "other-diagnosis":
		return true
	}
	return false
}

// weightReach is how many days before a test a weight still stands for it.
const weightReach = 7

// MilestonesOf takes the milestones from a case and its assessment. With an
// assessment of a day on or after the last recorded fact they do not depend on
// the day.
func MilestonesOf(c *Case, a *Assessment) Milestones {
	m := Milestones{
		Case: c.ID, Reference: c.Reference,
		Born: c.Infant.Born, Referred: c.effective(c.Referral.On), Died: c.Infant.Died,
		DoctorTold: a.Clocks.PrimaryCareTold.MetOn, FamilyReached: a.Clocks.FamilyReached.MetOn,
		FirstTest: a.Clocks.FirstTest.MetOn,
		Route:     c.Referral.Route, Gestation: c.Infant.Gestation, BirthWeightG: grams(c.Infant.BirthWeightG), Alleles: a.Genotype.Alleles,
	}
	if s := c.Referral.Screen; s != nil {
		m.Collected, m.Reported = s.Collected, s.Reported
	}
	if a.Closed {
		m.Closed, m.ClosedAs = a.ClosedOn, a.ClosedAs
		if diagnosed(a.ClosedAs) {
			m.Determined = a.ClosedOn
		}
	}
	m.mark(MarkException, a.Clocks.FirstTest.Exception != "")
	m.mark(MarkPresumptive, a.PresumptiveCF)
	m.mark(MarkTestMessage, c.TestMessage)
	m.mark(MarkProposed, a.Proposed != nil)
	m.takeTests(c, a)
	m.takeVisits(c)
	m.takeCalls(c)
	m.takeFamily(c)
	m.takeLacks(c, a)
	return m
}

func (m *Milestones) mark(bit Marks, yes bool) {
	if yes {
		m.Marks |= bit
	}
}

func (m *Milestones) lack(bit Lacks, yes bool) {
	if yes {
		m.Lacks |= bit
	}
}

func grams(g float64) int { return int(g + 0.5) }

func (m *Milestones) takeTests(c *Case, a *Assessment) {
	for i := range a.Tests {
		r := &a.Tests[i]
		if r.Test.IsConductivity() {
			continue
		}
		if r.Outcome.Graded() {
			m.LastResult = r.On
		}
		if r.On == m.FirstTest && m.Site == "" {
			m.Site = r.Test.Site
		}
		if r.Outcome == VoidTest {
			continue
		}
		t := TestMark{On: r.On, Outcome: r.Outcome, Site: r.Test.Site, Pad: r.Test.Collector == "pad", WeightG: grams(c.weightAt(r.Test))}
		if t.Sufficient() && m.FirstSufficient == 0 {
			m.FirstSufficient = r.On
		}
		for j := range r.Test.Arms {
			arm := &r.Test.Arms[j]
			t.NoAmount = t.NoAmount || arm.AmountUL == nil && arm.AmountMg == nil
		}
		m.Tests = append(m.Tests, t)
		m.lack(LacksTestWeight, t.WeightG == 0)
		m.lack(LacksTestSite, t.Site == "")
		m.lack(LacksAmount, t.NoAmount)
	}
}

// weightAt is the weight recorded with a test, else the latest of the days before.
func (c *Case) weightAt(t *SweatTest) float64 {
	if t.WeightG > 0 {
		return t.WeightG
	}
	best := Weight{}
	for _, w := range c.Infant.Weights {
		if w.On <= t.On && w.On >= t.On-weightReach && (w.On > best.On || w.On == best.On && w.G < best.G) {
			best = w
		}
	}
	return best.G
}

// madeOn is the day a booking was made: as recorded; while nothing became of it, the
// day its state was set; else the day of the appointment.
func (b *Booking) madeOn() Day {
	switch {
	case b.Made != 0:
		return b.Made
	case b.State == "booked" && b.Changed != 0:
		return b.Changed
	}
	return b.On
}

func (m *Milestones) takeVisits(c *Case) {
	last := Day(0)
	for i := range c.Bookings {
		b := &c.Bookings[i]
		m.Visits = append(m.Visits, VisitMark{On: b.On, Site: b.Site, State: b.State})
		if made := b.madeOn(); m.FirstBooking == 0 || made < m.FirstBooking {
			m.FirstBooking = made
		}
		if m.FirstTest == 0 && b.Site != "" && b.On >= last {
			m.Site, last = b.Site, b.On
		}
	}
}

func (m *Milestones) takeCalls(c *Case) {
	for i := range c.Contacts {
		k := &c.Contacts[i]
		if c.effective(k.On) < m.Referred {
			continue
		}
		if k.With == "family" {
			m.Calls.Family++
			if k.Reached {
				m.Calls.FamilyReached++
			}
		} else {
			m.Calls.Others++
		}
		if k.By == "letter" || k.By == "certified-letter" {
			m.Calls.Letters++
		}
	}
}

// postalWidth keeps of a postal code what names an area, not a street.
const postalWidth = 3

func (m *Milestones) takeFamily(c *Case) {
	f := c.Family
	if f == nil {
		return
	}
	m.Language = f.Language
	for i := range f.Guardians {
		a := f.Guardians[i].Address
		if a == nil {
			continue
		}
		if m.County == "" {
			m.County = strings.Join(strings.Fields(a.County), " ")
		}
		if a.Postal != "" {
			m.Region = a.Region
			m.Postal = a.Postal
			if r := []rune(a.Postal); len(r) > postalWidth {
				m.Postal = string(r[:postalWidth])
			}
			return
		}
	}
}

func (m *Milestones) takeLacks(c *Case, a *Assessment) {
	m.lack(LacksGestation, m.Gestation == 0)
	m.lack(LacksBirthWeight, m.BirthWeightG == 0)
	if m.Route == "screen" {
		m.lack(LacksCollected, m.Collected == 0)
		m.lack(LacksReported, m.Reported == 0)
	}
	m.lack(LacksLanguage, m.Language == "")
	m.lack(LacksPostal, m.Postal == "")
	m.lack(LacksCounty, m.County == "")
	m.lack(LacksPrimaryCare, c.PrimaryCare == nil || c.PrimaryCare.Name == "" && c.PrimaryCare.Practice == "")
	m.lack(LacksGenotype, !a.Genotype.Reported)
	phone := false
	if c.Family != nil {
		for i := range c.Family.Guardians {
			phone = phone || len(c.Family.Guardians[i].Phones) > 0
		}
	}
	m.lack(LacksPhone, !phone)
}
