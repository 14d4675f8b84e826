package measures

import (
	"cmp"
	"slices"
)

// Rates holds the rates of one cohort. Each rate is named by the key of its
// definition.
type Rates struct {
	Window
	ByDay       bool         `json:"by_day,omitempty"` // of tests and appointments on the days of the window
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
	// Holm is the probability of so many or more, adjusted for the groups tested.
	Holm *float64 `json:"p_holm,omitempty"`
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

// Report computes the rates of what was added so far.
func (t *RatesTally) Report() Rates {
	r := Rates{Window: t.w, ByDay: t.byDay, Cases: t.cases, Definitions: t.definitions(), RepeatTest: t.next.measure(), RepeatGrade: t.graded.measure(), Calls: t.calls}
	if t.cases > 0 && !t.byDay {
		mean := float64(t.calls.Family) / float64(t.cases)
		r.Calls.PerCase = &mean
	}
	r.Calls.Median, r.Calls.P90 = countPercentile(t.perCase, t.calls.Closed, 0.5), countPercentile(t.perCase, t.calls.Closed, 0.9)
	for _, d := range t.definitions() {
		if d.Key != Complete {
			r.Rates = append(r.Rates, t.rate(d.Key, "", t.of[d.Key].all))
		}
		r.Breakdowns = append(r.Breakdowns, t.breakdowns(d.Key)...)
	}
	return r
}

// definitions are those of the rates of this report.
func (t *RatesTally) definitions() []Definition {
	if !t.byDay {
		return Definitions
	}
	return slices.DeleteFunc(slices.Clone(Definitions), func(d Definition) bool { return !d.ByDay })
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

func (t *RatesTally) rate(measure, name string, c pair) Rate {
	r := Rate{Measure: measure, Name: name, Proportion: NewProportion(c.x, c.n)}
	if r.Benchmark = t.benchmark(measure); r.Benchmark != nil && c.n > 0 {
		test := TestAgainst(*r.Benchmark, c.x, c.n)
		r.Test = &test
	}
	return r
}

// benchmark is the protocol's rate that collections are held against, and first
// collections at the same age. The rate of infants at any age has none.
func (t *RatesTally) benchmark(measure string) *float64 {
	switch measure {
	case QNSTestsYoung, QNSFirstYoung:
		return &t.p.QNSBenchmarkYoung
	case QNSTestsOlder:
		return &t.p.QNSBenchmarkOlder
	}
	return nil
}

// breakdowns gives a rate by each grouping that occurs.
func (t *RatesTally) breakdowns(measure string) []Breakdown {
	var out []Breakdown
	for g, rows := range t.of[measure].by {
		if rows == nil {
			continue
		}
		b := Breakdown{Measure: measure, By: groupingNames[g]}
		for name, p := range rows {
			b.Rows = append(b.Rows, t.rate(measure, name, *p))
		}
		slices.SortFunc(b.Rows, func(x, y Rate) int {
			return cmp.Or(cmp.Compare(rank(grouping(g), x.Name), rank(grouping(g), y.Name)), cmp.Compare(x.Name, y.Name))
		})
		if bench := t.benchmark(measure); bench != nil {
			points := Funnel(*bench, names(b.Rows), proportions(b.Rows))
			for i := range points {
				b.Rows[i].Holm = points[i].Holm
			}
			if grouping(g) == bySite {
				b.Funnel = points
			}
		}
		out = append(out, b)
	}
	return out
}

// rank orders bands by what they mean and facts as listed; what is not recorded
// comes last. Other groups go by name.
func rank(g grouping, name string) int {
	all := map[grouping][]string{byAge: testAges.names, byWeight: testWeights.names, byBirthWeight: birthWeights.names, byGestation: pretermWeeks.names}[g]
	switch {
	case name == notKnown:
		return 1 << 30
	case g == byReadiness:
		return slices.Index([]string{CouldBeReady, NotYetReady}, name)
	case g == byFact:
		return slices.IndexFunc(facts, func(f fact) bool { return f.name == name })
	}
	return slices.Index(all, name)
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
