package measures

import (
	"cmp"

	"dunlin/cases"
)

// RatesTally builds the rates of a window from one case after the other.
type RatesTally struct {
	w            Window
	byDay        bool // the window is one of days of tests and appointments
	p            *cases.Protocol
	cal          cases.Calendar
	cases        int
	of           map[string]*counter // by the key of the definition
	aged         []*counter          // of the shares tested, in the order of TestedAges
	calls        Calls
	perCase      []int // closed cases by number of family contacts
	next, graded waitTally
}

// counter counts one rate, of all and by groups.
type counter struct {
	all pair
	by  [groupings]map[string]*pair
}

type pair struct{ x, n int }

func (p *pair) count(yes bool) {
	p.n++
	if yes {
		p.x++
	}
}

// grouping is what a rate is broken down by.
type grouping uint8

const (
	bySite grouping = iota
	byLanguage
	byAge
	byWeight
	byBirthWeight
	byGestation
	byCollector
	byReadiness
	byFact
	groupings
)

var groupingNames = [groupings]string{"site", "language", "age at the test", "weight at the test", "birth weight", "gestation", "collector", "readiness", "fact"}

func (c *counter) group(g grouping, name string, yes bool) {
	if c.by[g] == nil {
		c.by[g] = map[string]*pair{}
	}
	p := c.by[g][name]
	if p == nil {
		p = &pair{}
		c.by[g][name] = p
	}
	p.count(yes)
}

// NewRatesTally starts an empty report of the cases referred in a window, with the
// benchmarks, readiness and working days of a protocol.
func NewRatesTally(w Window, p *cases.Protocol) *RatesTally {
	t := &RatesTally{w: w, p: p, cal: p.Calendar(), of: map[string]*counter{}}
	for _, d := range Definitions {
		t.of[d.Key] = &counter{}
	}
	for _, days := range TestedAges {
		t.aged = append(t.aged, t.of[TestedBy(days)])
	}
	return t
}

// NewDayTally starts an empty report of the collections and appointments on the days
// of a window, whenever the infants were referred. It has only the rates that
// Definition.ByDay marks.
func NewDayTally(w Window, p *cases.Protocol) *RatesTally {
	t := NewRatesTally(w, p)
	t.byDay = true
	return t
}

// Add counts a case, unless it lies outside of the window or came from a test
// message. Facts dated after the day of the report are left out.
func (t *RatesTally) Add(m *cases.Milestones) {
	w := &t.w
	if m.Marks&cases.MarkTestMessage != 0 || m.Referred > w.AsOf || m.Born > w.AsOf {
		return
	}
	if t.byDay {
		if t.tests(m)+t.visits(m) > 0 {
			t.cases++
		}
		return
	}
	if w.From != 0 && m.Referred < w.From || w.To != 0 && m.Referred > w.To {
		return
	}
	t.cases++
	closed := m.Closed != 0 && m.Closed <= w.AsOf
	if closed {
		t.of[LostClosures].all.count(m.ClosedAs == "lost")
	}
	t.tests(m)
	t.visits(m)
	t.tested(m)
	t.told(m)
	if m.Route == "screen" {
		t.of[PredictsCF].all.count(closed && m.ClosedAs == "cf")
		t.of[PredictsEither].all.count(closed && (m.ClosedAs == "cf" || m.ClosedAs == "crms-cfspid"))
	}
	t.resolution(m, NoResolution90, 90)
	t.resolution(m, NoResolution180, 180)
	t.resolution(m, NoResolution365, 365)
	t.call(m, closed)
	complete := t.of[Complete]
	for i := range facts {
		if f := &facts[i]; f.to(m) {
			complete.group(byFact, f.name, m.Lacks&f.bit == 0)
		}
	}
}

// counts tells whether what happened on a day is counted.
func (t *RatesTally) counts(on cases.Day) bool {
	w := &t.w
	return on <= w.AsOf && (!t.byDay || (w.From == 0 || on >= w.From) && (w.To == 0 || on <= w.To))
}

func orNotKnown(s string) string { return cmp.Or(s, notKnown) }

// visits counts the appointments of a case and returns how many.
func (t *RatesTally) visits(m *cases.Milestones) (n int) {
	missed := t.of[MissedVisits]
	for _, v := range m.Visits {
		if t.counts(v.On) && (v.State == "missed" || v.State == "kept") {
			yes := v.State == "missed"
			missed.all.count(yes)
			missed.group(bySite, orNotKnown(v.Site), yes)
			missed.group(byLanguage, orNotKnown(m.Language), yes)
			n++
		}
	}
	return n
}

// tests counts the collections of a case, and the waits for a repeat, and returns how
// many.
func (t *RatesTally) tests(m *cases.Milestones) (n int) {
	for i := range m.Tests {
		x := &m.Tests[i]
		if !t.counts(x.On) {
			continue
		}
		n++
		young, qns := x.On-m.Born <= YoungUntil, x.Outcome == cases.QNS
		c := t.of[QNSTestsYoung]
		if !young {
			c = t.of[QNSTestsOlder]
		}
		c.collection(m, x, qns)
		if i > 0 {
			continue
		}
		c = t.of[QNSInfants]
		c.collection(m, x, qns)
		c.group(byLanguage, orNotKnown(m.Language), qns)
		if young {
			t.of[QNSFirstYoung].collection(m, x, qns)
		}
		if qns {
			t.repeat(m, &t.next, i, func(cases.TestMark) bool { return true })
		}
		if qns || x.Outcome == cases.Intermediate {
			t.repeat(m, &t.graded, i, func(n cases.TestMark) bool { return n.Outcome.Graded() })
		}
	}
	return n
}

// collection counts one collection, by all that it is broken down by.
func (c *counter) collection(m *cases.Milestones, x *cases.TestMark, qns bool) {
	c.all.count(qns)
	c.group(bySite, orNotKnown(x.Site), qns)
	c.group(byAge, AgeBand(int(x.On-m.Born)), qns)
	c.group(byWeight, WeightBand(x.WeightG), qns)
	c.group(byBirthWeight, BirthWeightBand(m.BirthWeightG), qns)
	c.group(byGestation, GestationBand(m.Gestation), qns)
	c.group(byCollector, collectorOf(x), qns)
}

func collectorOf(t *cases.TestMark) string {
	if t.Pad {
		return "pad"
	}
	return "tubing"
}

// repeat counts the wait from a collection to a later one of a kind; closing, or
// death, without one ends the wait.
func (t *RatesTally) repeat(m *cases.Milestones, into *waitTally, from int, counts func(cases.TestMark) bool) {
	start := m.Tests[from].On
	for _, n := range m.Tests[from+1:] {
		if n.On <= t.w.AsOf && counts(n) {
			into.add(span(start, n.On, true), false)
			return
		}
	}
	last, left := t.w.AsOf, false
	for _, end := range []cases.Day{m.Closed, m.Died} {
		if end != 0 && end <= last {
			last, left = end, true
		}
	}
	into.add(span(start, last, false), left)
}

func (t *RatesTally) call(m *cases.Milestones, closed bool) {
	c := m.Calls
	t.calls.Family += c.Family
	t.calls.FamilyReached += c.FamilyReached
	t.calls.Others += c.Others
	t.calls.Letters += c.Letters
	if !closed {
		return
	}
	for len(t.perCase) <= c.Family {
		t.perCase = append(t.perCase, 0)
	}
	t.perCase[c.Family]++
	t.calls.Closed++
}
