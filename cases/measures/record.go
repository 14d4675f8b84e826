package measures

import (
	"iter"

	"dunlin/cases"
)

// Record is what the measures need of one case, without names. Days of 0 mean
// that it has not happened.
type Record struct {
	Reference string
	Route     string // how the infant was referred: screen, clinical, sibling ...
	Born      cases.Day
	Referred  cases.Day // never before birth: a prenatal referral counts from birth
	// FirstTest is the day of the first chloride collection, QNS included, as
	// the first-test clock reads it; conductivity does not count.
	FirstTest cases.Day
	FirstSite string    // where that was
	FirstQNS  bool      // that collection gave too little sweat
	Closed    cases.Day // the day of the closure that stands
	ClosedAs  string
	Died      cases.Day
	// NotReady marks a case that could not be ready for a test by day 28 (the
	// exception of the first-test clock).
	NotReady bool
}

// FromCase takes from a case, and its assessment on the day of the report,
// what the measures need.
func FromCase(c *cases.Case, a *cases.Assessment) Record {
	r := Record{
		Reference: c.Reference,
		Route:     c.Referral.Route,
		Born:      c.Infant.Born,
		Referred:  max(c.Referral.On, c.Infant.Born),
		FirstTest: a.Clocks.FirstTest.MetOn,
		NotReady:  a.Clocks.FirstTest.Exception != "",
	}
	if c.Infant.Died <= a.On {
		r.Died = c.Infant.Died
	}
	if a.Closed {
		r.Closed, r.ClosedAs = a.ClosedOn, a.ClosedAs
	}
	for _, t := range a.Tests {
		if t.On != r.FirstTest || t.Test.IsConductivity() {
			continue
		}
		r.FirstSite, r.FirstQNS = t.Test.Site, t.Outcome == cases.QNS
		break
	}
	return r
}

// Collect assesses every case of a sequence as of a day and takes its record.
// Cases of infants born, or referred, after the day are left out.
func Collect(seq iter.Seq2[cases.Case, error], p *cases.Protocol, asOf cases.Day) ([]Record, error) {
	var out []Record
	for c, err := range seq {
		if err != nil {
			return nil, err
		}
		if c.Infant.Born > asOf || c.Referral.On > asOf {
			continue
		}
		a := p.AssessStep(&c, asOf)
		out = append(out, FromCase(&c, &a))
	}
	return out, nil
}

// open tells whether no closure stands on the day.
func (r Record) open(on cases.Day) bool { return r.Closed == 0 || r.Closed > on }

// toTest is the time to the first test from start. Closure without a test, and
// death, end the wait without the event.
func (r Record) toTest(start, asOf cases.Day) Span {
	if r.FirstTest != 0 && r.FirstTest <= asOf {
		return span(start, r.FirstTest, true)
	}
	last := asOf
	if !r.open(asOf) {
		last = r.Closed
	}
	if r.Died != 0 && r.Died < last {
		last = r.Died
	}
	return span(start, last, false)
}

// toClosure is the time to closure from start; a closure of any kind counts.
func (r Record) toClosure(start, asOf cases.Day) Span {
	if r.open(asOf) {
		return span(start, asOf, false)
	}
	return span(start, r.Closed, true)
}

// span counts whole days; what happened before the start counts as day 0.
func span(from, to cases.Day, event bool) Span {
	return Span{Days: max(0, int(to-from)), Event: event}
}

// RecordOf takes a record from the milestones of a case. It stands for any day on or
// after the last recorded fact; for a report as of an earlier day, in which what was
// undone since counts, take it from the case (FromCase).
func RecordOf(m *cases.Milestones) Record {
	r := Record{Reference: m.Reference, Route: m.Route, Born: m.Born, Referred: m.Referred, FirstTest: m.FirstTest,
		Closed: m.Closed, ClosedAs: m.ClosedAs, Died: m.Died, NotReady: m.Marks&cases.MarkException != 0}
	if m.FirstTest != 0 {
		r.FirstSite = m.Site
		r.FirstQNS = len(m.Tests) > 0 && m.Tests[0].On == m.FirstTest && m.Tests[0].Outcome == cases.QNS
	}
	return r
}
