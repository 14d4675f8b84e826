package measures

import (
	"cmp"

	"dunlin/cases"
)

// RatesTally builds the rates of a window from one case after the other.
type RatesTally struct {
	w            Window
	young, older float64 // benchmarks
	cases        int
	of           map[string]*counter // by the key of the definition
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
	byFact
	groupings
)

var groupingNames = [groupings]string{"site", "language", "age at the test", "weight at the test", "birth weight", "gestation", "collector", "fact"}

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

// NewRatesTally starts an empty report with the benchmarks of a protocol.
func NewRatesTally(w Window, p *cases.Protocol) *RatesTally {
	t := &RatesTally{w: w, young: p.QNSBenchmarkYoung, older: p.QNSBenchmarkOlder, of: map[string]*counter{}}
	for _, d := range Definitions {
		t.of[d.Key] = &counter{}
	}
	return t
}

// Add counts a case, unless it lies outside of the window or came from a test
// message. Facts dated after the day of the report are left out.
func (t *RatesTally) Add(m *cases.Milestones) {
	w := &t.w
	if m.Marks&cases.MarkTestMessage != 0 || m.Referred > w.AsOf || m.Born > w.AsOf || w.From != 0 && m.Referred < w.From || w.To != 0 && m.Referred > w.To {
		return
	}
	t.cases++
	closed := m.Closed != 0 && m.Closed <= w.AsOf
	if closed {
		t.of[LostClosures].all.count(m.ClosedAs == "lost")
	}
	t.tests(m)
	missed := t.of[MissedVisits]
	for _, v := range m.Visits {
		if v.On <= w.AsOf && (v.State == "missed" || v.State == "kept") {
			yes := v.State == "missed"
			missed.all.count(yes)
			missed.group(bySite, orNotKnown(v.Site), yes)
			missed.group(byLanguage, orNotKnown(m.Language), yes)
		}
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

func orNotKnown(s string) string { return cmp.Or(s, notKnown) }

// tests counts the collections of a case, and the waits for a repeat.
func (t *RatesTally) tests(m *cases.Milestones) {
	first := true
	for i := range m.Tests {
		x := &m.Tests[i]
		if x.On > t.w.AsOf {
			break
		}
		age, qns := int(x.On-m.Born), x.Outcome == cases.QNS
		c := t.of[QNSTestsYoung]
		if age > YoungUntil {
			c = t.of[QNSTestsOlder]
		}
		c.all.count(qns)
		c.group(bySite, orNotKnown(x.Site), qns)
		c.group(byAge, AgeBand(age), qns)
		c.group(byWeight, WeightBand(x.WeightG), qns)
		c.group(byGestation, GestationBand(m.Gestation), qns)
		c.group(byCollector, collectorOf(x), qns)
		if !first {
			continue
		}
		first = false
		c = t.of[QNSInfants]
		c.all.count(qns)
		c.group(bySite, orNotKnown(x.Site), qns)
		c.group(byLanguage, orNotKnown(m.Language), qns)
		c.group(byBirthWeight, BirthWeightBand(m.BirthWeightG), qns)
		if qns {
			t.repeat(m, &t.next, i, func(cases.TestMark) bool { return true })
		}
		if qns || x.Outcome == cases.Intermediate {
			t.repeat(m, &t.graded, i, func(n cases.TestMark) bool { return n.Outcome.Graded() })
		}
	}
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

// resolution counts an infant who reached an age in days.
func (t *RatesTally) resolution(m *cases.Milestones, measure string, days int) {
	at := m.Born + cases.Day(days)
	out := m.ClosedAs == "moved" || m.ClosedAs == "died" || m.ClosedAs == "duplicate"
	if at > t.w.AsOf || m.Died != 0 && m.Died <= at || out && m.Closed <= at {
		return
	}
	t.of[measure].all.count(m.Determined == 0 || m.Determined > at)
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
