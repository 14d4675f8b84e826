package measures

import (
	"cmp"
	"slices"

	"dunlin/cases"
)

// Rates holds the rates of one cohort. Each rate is named by the key of its
// definition.
type Rates struct {
	Window
	Cases       int          `json:"cases"`
	Rates       []Rate       `json:"rates"`
	Breakdowns  []Breakdown  `json:"breakdowns"`
	Calls       Calls        `json:"calls"`
	RepeatTest  Measure      `json:"qns_to_next_test"`
	RepeatGrade Measure      `json:"first_test_to_result_of_repeat"`
	Definitions []Definition `json:"definitions"`
}

// Rate is a proportion under a definition, tested against a benchmark where there
// is one.
type Rate struct {
	Measure string `json:"measure"`
	Name    string `json:"name,omitempty"` // of the group; "" for all
	Proportion
	Benchmark *float64   `json:"benchmark,omitempty"`
	Test      *ExactTest `json:"test,omitempty"` // nil without a benchmark or a total
}

// Breakdown is one rate by groups, in order of name. Of QNS by site there is a
// funnel about the benchmark as well.
type Breakdown struct {
	Measure string        `json:"measure"`
	By      string        `json:"by"`
	Rows    []Rate        `json:"rows"`
	Funnel  []FunnelPoint `json:"funnel,omitempty"`
}

// Published hides the small counts of a breakdown with what they could be worked
// out from, row by row.
func (b Breakdown) Published(rule SmallNumbers) []HiddenRate {
	return HideRates(proportions(b.Rows), rule)
}

// Calls counts recorded contacts per case. Quantiles are of type 7 and take only
// closed cases, whose counts are complete.
type Calls struct {
	Family        int      `json:"family"`         // attempts to reach the family
	FamilyReached int      `json:"family_reached"` // of these, two-way
	Others        int      `json:"others"`
	Letters       int      `json:"letters"` // of all
	PerCase       *float64 `json:"family_per_case"`
	Closed        int      `json:"closed_cases"`
	Median        *float64 `json:"family_median_closed"`
	P90           *float64 `json:"family_p90_closed"`
}

// RatesTally builds the rates of a window from one case after the other.
type RatesTally struct {
	w            Window
	young, older float64 // benchmarks
	cases        int
	counts       map[rateKey]*pair
	calls        Calls
	perCase      []int // closed cases by number of family contacts
	next, graded waitTally
}

type rateKey struct{ measure, by, name string }

type pair struct{ x, n int }

// NewRatesTally starts an empty report with the benchmarks of a protocol.
func NewRatesTally(w Window, p *cases.Protocol) *RatesTally {
	return &RatesTally{w: w, young: p.QNSBenchmarkYoung, older: p.QNSBenchmarkOlder, counts: map[rateKey]*pair{}}
}

func (t *RatesTally) count(measure, by, name string, yes bool) {
	k := rateKey{measure, by, name}
	c := t.counts[k]
	if c == nil {
		c = &pair{}
		t.counts[k] = c
	}
	c.n++
	if yes {
		c.x++
	}
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
		t.count(LostClosures, "", "", m.ClosedAs == "lost")
	}
	t.tests(m)
	for _, v := range m.Visits {
		if v.On <= w.AsOf && (v.State == "missed" || v.State == "kept") {
			t.count(MissedVisits, "", "", v.State == "missed")
			t.count(MissedVisits, "site", orNotKnown(v.Site), v.State == "missed")
			t.count(MissedVisits, "language", orNotKnown(m.Language), v.State == "missed")
		}
	}
	t.resolution(m, NoResolution90, 90)
	t.resolution(m, NoResolution180, 180)
	t.resolution(m, NoResolution365, 365)
	t.call(m, closed)
	for _, f := range facts {
		if f.to(m) {
			t.count(Complete, "fact", f.name, m.Lacks&f.bit == 0)
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
		measure := QNSTestsYoung
		if age > YoungUntil {
			measure = QNSTestsOlder
		}
		collector := "tubing"
		if x.Pad {
			collector = "pad"
		}
		for _, g := range [...][2]string{{"", ""}, {"site", orNotKnown(x.Site)}, {"age at the test", AgeBand(age)},
			{"weight at the test", WeightBand(x.WeightG)}, {"gestation", GestationBand(m.Gestation)}, {"collector", collector}} {
			t.count(measure, g[0], g[1], qns)
		}
		if !first {
			continue
		}
		first = false
		for _, g := range [...][2]string{{"", ""}, {"site", orNotKnown(x.Site)}, {"language", orNotKnown(m.Language)}, {"birth weight", BirthWeightBand(m.BirthWeightG)}} {
			t.count(QNSInfants, g[0], g[1], qns)
		}
		if qns {
			t.repeat(m, &t.next, i, func(cases.TestMark) bool { return true })
		}
		if qns || x.Outcome == cases.Intermediate {
			t.repeat(m, &t.graded, i, func(n cases.TestMark) bool { return n.Outcome.Graded() })
		}
	}
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
	t.count(measure, "", "", m.Determined == 0 || m.Determined > at)
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

// Report computes the rates of what was added so far.
func (t *RatesTally) Report() Rates {
	r := Rates{Window: t.w, Cases: t.cases, Definitions: Definitions, RepeatTest: t.next.measure(), RepeatGrade: t.graded.measure(), Calls: t.calls}
	if t.cases > 0 {
		mean := float64(t.calls.Family) / float64(t.cases)
		r.Calls.PerCase = &mean
	}
	r.Calls.Median, r.Calls.P90 = countPercentile(t.perCase, t.calls.Closed, 0.5), countPercentile(t.perCase, t.calls.Closed, 0.9)
	for _, d := range Definitions {
		if d.Key != Complete {
			r.Rates = append(r.Rates, t.rate(rateKey{measure: d.Key}))
		}
		r.Breakdowns = append(r.Breakdowns, t.breakdowns(d.Key)...)
	}
	return r
}

// countPercentile is Percentile of n whole numbers that are counted by value.
func countPercentile(counts []int, n int, p float64) *float64 {
	if n == 0 {
		return nil
	}
	at := func(rank int) float64 {
		for v, c := range counts {
			if rank -= c; rank < 0 {
				return float64(v)
			}
		}
		return 0
	}
	h := float64(n-1) * p
	i := int(h)
	low := at(i)
	q := low + (h-float64(i))*(at(min(i+1, n-1))-low)
	return &q
}

func (t *RatesTally) rate(k rateKey) Rate {
	c := t.counts[k]
	if c == nil {
		c = &pair{}
	}
	r := Rate{Measure: k.measure, Name: k.name, Proportion: NewProportion(c.x, c.n)}
	if r.Benchmark = t.benchmark(k.measure); r.Benchmark != nil && c.n > 0 {
		test := TestAgainst(*r.Benchmark, c.x, c.n)
		r.Test = &test
	}
	return r
}

// benchmark is the protocol's rate that collections are held against. It is one of
// collections, so the rate of infants has none.
func (t *RatesTally) benchmark(measure string) *float64 {
	switch measure {
	case QNSTestsYoung:
		return &t.young
	case QNSTestsOlder:
		return &t.older
	}
	return nil
}

// breakdowns gives a rate by each grouping that occurs, in order of name.
func (t *RatesTally) breakdowns(measure string) []Breakdown {
	by := map[string][]rateKey{}
	for k := range t.counts {
		if k.measure == measure && k.by != "" {
			by[k.by] = append(by[k.by], k)
		}
	}
	var out []Breakdown
	for name, keys := range by {
		b := Breakdown{Measure: measure, By: name}
		slices.SortFunc(keys, func(a, b rateKey) int { return cmp.Or(cmp.Compare(place(a), place(b)), cmp.Compare(a.name, b.name)) })
		for _, k := range keys {
			b.Rows = append(b.Rows, t.rate(k))
		}
		if bench := t.benchmark(measure); bench != nil && name == "site" {
			b.Funnel = Funnel(*bench, names(b.Rows), proportions(b.Rows))
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b Breakdown) int { return cmp.Compare(a.By, b.By) })
	return out
}

// place orders bands by what they mean: facts as listed, then "under", numbers by
// size, and what is not recorded last.
func place(k rateKey) int {
	if k.by == "fact" {
		return slices.IndexFunc(facts, func(f fact) bool { return f.name == k.name })
	}
	if k.name == notKnown {
		return 1 << 30
	}
	n := 0
	for _, c := range k.name {
		if c < '0' || c > '9' {
			break
		}
		n = n*10 + int(c-'0')
	}
	if k.by == "site" || k.by == "language" {
		return 0
	}
	return n
}

func names(rows []Rate) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = r.Name
	}
	return out
}

func proportions(rows []Rate) []Proportion {
	out := make([]Proportion, len(rows))
	for i, r := range rows {
		out[i] = r.Proportion
	}
	return out
}
