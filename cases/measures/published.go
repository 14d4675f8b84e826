package measures

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
)

// PublishedRates are rates as they may leave the program: small counts are hidden
// with what they could be worked out from within each table, and a rate with its
// limits goes with its count. Figures of one report can still be set against those
// of another; a program that publishes several keeps their groups the same.
type PublishedRates struct {
	Window
	ByDay       bool                 `json:"by_day,omitempty"`
	Below       int                  `json:"hidden_below"`
	Cases       Cell                 `json:"cases"`
	Rates       []PublishedRate      `json:"rates"`
	Breakdowns  []PublishedBreakdown `json:"breakdowns"`
	PerCase     *float64             `json:"family_contacts_per_case"` // nil when the cases are hidden
	CallsMedian *float64             `json:"family_contacts_median_closed"`
	CallsP90    *float64             `json:"family_contacts_p90_closed"` // both nil when too few are closed
	RepeatTest  PublishedWait        `json:"qns_to_next_test"`
	RepeatGrade PublishedWait        `json:"first_test_to_result_of_repeat"`
	Definitions []Definition         `json:"definitions"`
}

// PublishedRate is a rate as it may be shown.
type PublishedRate struct {
	Measure string `json:"measure,omitempty"`
	Name    string `json:"name,omitempty"`
	HiddenRate
	Benchmark *float64   `json:"benchmark,omitempty"`
	Test      *ExactTest `json:"test,omitempty"`
	Holm      *float64   `json:"p_holm,omitempty"` // adjusted for the groups that are shown
}

// PublishedBreakdown is a breakdown as it may be shown. Its funnel places only the
// groups whose rate is shown.
type PublishedBreakdown struct {
	Measure string          `json:"measure"`
	By      string          `json:"by"`
	Rows    []PublishedRate `json:"rows"`
	Funnel  []FunnelPoint   `json:"funnel,omitempty"`
}

// PublishedWait is a duration as it may be shown; nothing when too few waited.
type PublishedWait struct {
	Cases  Cell      `json:"cases"`
	Median *Quantile `json:"median"`
	By14   *Share    `json:"by_day_14"`
}

// Publish hides what the rule hides.
func (r Rates) Publish(rule SmallNumbers) PublishedRates {
	out := PublishedRates{Window: r.Window, ByDay: r.ByDay, Below: rule.Below, Cases: rule.cell(r.Cases), Definitions: r.Definitions,
		RepeatTest: publishWait(r.RepeatTest, rule), RepeatGrade: publishWait(r.RepeatGrade, rule)}
	if !out.Cases.Hidden {
		out.PerCase = r.Calls.PerCase
	}
	if !rule.Small(r.Calls.Closed) {
		out.CallsMedian, out.CallsP90 = r.Calls.Median, r.Calls.P90
	}
	hidden := map[string]HiddenRate{}
	for _, x := range r.Rates {
		hidden[x.Measure] = HideRates([]Proportion{x.Proportion}, rule)[0]
	}
	r.hidePredictions(hidden, rule)
	for _, x := range r.Rates {
		if slices.Contains(ofCases, x.Measure) {
			hidden[x.Measure] = both(hidden[x.Measure], rule.part(x.Proportion, r.Cases))
		}
	}
	alike(hidden, DoctorInTime, FamilyInTime)
	for _, b := range r.Breakdowns {
		shown, total := hideWithTotal(proportions(b.Rows), rule)
		switch {
		case b.Measure == Complete:
			shown = r.hideFacts(b.Rows, rule)
		case r.fewUntested(b.Measure, rule):
			hidden[b.Measure] = nothing
			hideOneMore(b.Rows, shown)
		default:
			hidden[b.Measure] = both(hidden[b.Measure], total)
		}
		out.Breakdowns = append(out.Breakdowns, b.published(shown))
	}
	for _, chain := range chains() {
		r.hideSteps(hidden, out.Breakdowns, chain, rule)
	}
	for _, x := range r.Rates {
		out.Rates = append(out.Rates, publishRate(x, hidden[x.Measure]))
	}
	if hidden[QNSInfants].Count.Hidden { // the same infants wait for a repeat
		out.RepeatTest = PublishedWait{Cases: Cell{Hidden: true}}
	}
	return out
}

// published sets out the rows as shown. What is adjusted for several groups is
// adjusted for those that are shown, so that it says nothing of the others.
func (b Breakdown) published(shown []HiddenRate) PublishedBreakdown {
	p := PublishedBreakdown{Measure: b.Measure, By: b.By}
	var at []int
	var ns []string
	var props []Proportion
	for i, x := range b.Rows {
		p.Rows = append(p.Rows, publishRate(x, shown[i]))
		if shown[i].Rate != nil && x.Benchmark != nil {
			at, ns, props = append(at, i), append(ns, x.Name), append(props, x.Proportion)
		}
	}
	if len(at) == 0 {
		return p
	}
	points := Funnel(*b.Rows[at[0]].Benchmark, ns, props)
	for k, i := range at {
		p.Rows[i].Holm = points[k].Holm
	}
	if b.Funnel != nil {
		p.Funnel = points
	}
	return p
}

func publishRate(r Rate, h HiddenRate) PublishedRate {
	p := PublishedRate{Measure: r.Measure, Name: r.Name, HiddenRate: h, Benchmark: r.Benchmark}
	if h.Rate != nil {
		p.Test = r.Test
	}
	return p
}

// both hides what either hides.
func both(a, b HiddenRate) HiddenRate {
	if b.Count.Hidden {
		a.Count = b.Count
	}
	if b.Of.Hidden {
		a.Of = b.Of
	}
	if a.Count.Hidden || a.Of.Hidden {
		a.Rate, a.Limits = nil, nil
	}
	return a
}

func (s SmallNumbers) cell(n int) Cell {
	if s.Small(n) {
		return Cell{Hidden: true}
	}
	return Cell{N: n}
}

func publishWait(m Measure, rule SmallNumbers) PublishedWait {
	w := PublishedWait{Cases: rule.cell(m.Cases)}
	if w.Cases.Hidden || m.Cases == 0 || rule.Small(m.Done) || rule.Small(m.Cases-m.Done) {
		return w
	}
	by := m.Curve.DoneBy(14)
	median := m.Median
	w.Median, w.By14 = &median, &by
	return w
}

// WriteText prints the rates as tables for a terminal.
func (r PublishedRates) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Rates, %s, as of %s: %s cases.\n", r.Window.words(), r.AsOf, r.Cases)
	if r.Below > 1 {
		fmt.Fprintf(&b, "Counts from 1 to %d are hidden, and as many others as they could be worked out from.\n", r.Below-1)
	}
	b.WriteString("\n")
	t := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
	for _, x := range r.Rates {
		d, _ := DefinitionOf(x.Measure)
		fmt.Fprintf(t, "%s\t%s\t%s\n", d.Name, x.words(), x.against())
	}
	t.Flush()
	for _, p := range r.Breakdowns {
		d, _ := DefinitionOf(p.Measure)
		fmt.Fprintf(&b, "\n%s, by %s\n", d.Name, p.By)
		t := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
		for _, x := range p.Rows {
			fmt.Fprintf(t, "  %s\t%s\t%s\n", x.Name, x.words(), x.against())
		}
		t.Flush()
	}
	b.WriteString("\n")
	for _, x := range []struct {
		name string
		wait PublishedWait
	}{{"From a first test with too little sweat to the next test", r.RepeatTest}, {"From a first QNS or intermediate test to the result of a repeat", r.RepeatGrade}} {
		fmt.Fprintf(&b, "%s: %s infants", x.name, x.wait.Cases)
		if m := x.wait.Median; m != nil {
			fmt.Fprintf(&b, ", median %s days", Days(m.Day))
		}
		b.WriteString(".\n")
	}
	b.WriteString("\nWhat is counted\n")
	for _, d := range r.Definitions {
		fmt.Fprintf(&b, "%s: %s, of %s. %s\n", d.Name, lowerFirst(d.Numerator), lowerFirst(d.Denominator), d.Note)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// words gives the rate with its Wilson limits.
func (h HiddenRate) words() string {
	if h.Rate == nil {
		return fmt.Sprintf("%s of %s", h.Count, h.Of)
	}
	return Proportion{Count: h.Count.N, Of: h.Of.N, Rate: h.Rate, Limits: h.Limits}.Words()
}

func (p PublishedRate) against() string {
	if p.Benchmark == nil || p.Test == nil {
		return ""
	}
	return fmt.Sprintf("benchmark %g %%, exact p of so many or more %.3f", *p.Benchmark*100, p.Test.Greater)
}

func lowerFirst(s string) string {
	if strings.HasPrefix(s, "QNS") || s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
