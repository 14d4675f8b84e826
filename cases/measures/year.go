package measures

import (
	"time"

	"dunlin/cases"
)

// Year holds the figures of the infants born in one calendar year and referred by a
// day, as their cases stood on it. The cohort is one of births, so that a year's
// figures grow riper and are never mixed with those of another year.
type Year struct {
	Year  int       `json:"year"`
	AsOf  cases.Day `json:"as_of"`
	Cases int       `json:"cases"`
	Open  int       `json:"open"`

	ByRoute    []Count `json:"by_route"`
	ByVariants []Count `json:"by_variants"`
	ClosedAs   []Count `json:"closed_as"` // every determination that occurs, in their order

	// Diagnosed and Cleared are the ages at closure of infants closed as CF, and of
	// those closed as carrier or not affected. They hold only who has come so far, as
	// the national timeliness indicators do: the open ones can only be slower.
	Diagnosed Spread `json:"age_at_diagnosis"`
	Cleared   Spread `json:"age_when_ruled_out"`

	Rates     Rates            `json:"rates"`
	Intervals []IntervalReport `json:"intervals"` // in the order of YearIntervals
}

// YearIntervals are the intervals of a year's report, all of the same cohort: one that
// is not grouped stands for itself, the others compare groups.
var YearIntervals = []Question{
	{From: Birth, To: ScreenReported}, {From: Referral, To: DoctorTold}, {From: Referral, To: FamilyReached},
	{From: Referral, To: FirstTest}, {From: Birth, To: FirstTest}, {From: Birth, To: FirstSufficient},
	{From: Birth, To: Determination}, {From: Birth, To: Closure}, {From: Referral, To: Closure},
	{From: Birth, To: FirstTest, Group: "class"}, {From: Birth, To: FirstTest, Group: "language"}, {From: Birth, To: FirstTest, Group: "county"},
}

// Interval finds one of a year's intervals; ok is false when there is none.
func (p *PublishedYear) Interval(from, to Milestone, group string) (i PublishedInterval, ok bool) {
	for _, i := range p.Intervals {
		if i.From == from && i.To == to && i.Group == group {
			return i, true
		}
	}
	return i, false
}

// Spread is quantiles (type 7) of whole numbers of days that are all known; nil
// without any.
type Spread struct {
	N             int      `json:"n"`
	Quarter       *float64 `json:"quarter"`
	Median        *float64 `json:"median"`
	ThreeQuarters *float64 `json:"three_quarters"`
	P90           *float64 `json:"p90"`
}

// FirstOfYear and LastOfYear bound the birth days of a year.
func FirstOfYear(year int) cases.Day { return cases.MakeDay(year, time.January, 1) }

// LastOfYear is 31 December.
func LastOfYear(year int) cases.Day { return cases.MakeDay(year, time.December, 31) }

// YearTally builds the figures of a birth year from one case after the other, in
// memory that does not grow with their number.
type YearTally struct {
	year               Year
	first, last        cases.Day
	routes, closed     map[string]int
	variants           map[string]int
	diagnosed, cleared dayCounts
	rates              *RatesTally
	intervals          []*IntervalTally
}

// dayCounts counts cases by a number of days.
type dayCounts struct {
	n  int
	at []int
}

// NewYearTally starts the figures of the infants born in a year as of a day, with the
// benchmarks of a protocol.
func NewYearTally(year int, asOf cases.Day, p *cases.Protocol) *YearTally {
	t := &YearTally{year: Year{Year: year, AsOf: asOf}, first: FirstOfYear(year), last: LastOfYear(year),
		routes: map[string]int{}, closed: map[string]int{}, variants: map[string]int{}, rates: NewRatesTally(Window{AsOf: asOf}, p)}
	for _, q := range YearIntervals {
		q.By, q.Window = ByBirth, Window{From: t.first, To: t.last, AsOf: asOf}
		t.intervals = append(t.intervals, NewIntervalTally(q))
	}
	return t
}

// From is the first day of referral of a case that can belong to the year: no case is
// referred before birth.
func (t *YearTally) From() cases.Day { return t.first }

// Add counts a case, unless the infant was not born in the year, was referred after
// the day of the figures, or the case came from a test message.
func (t *YearTally) Add(m *cases.Milestones) {
	if m.Marks&cases.MarkTestMessage != 0 || m.Born < t.first || m.Born > t.last || m.Referred > t.year.AsOf || m.Born > t.year.AsOf {
		return
	}
	t.year.Cases++
	t.routes[m.Route]++
	t.variants[VariantGroup(m.Alleles)]++
	t.rates.Add(m)
	for _, x := range t.intervals {
		x.Add(m)
	}
	if m.Closed == 0 || m.Closed > t.year.AsOf {
		t.year.Open++
		return
	}
	t.closed[m.ClosedAs]++
	switch m.ClosedAs {
	case "cf":
		t.diagnosed.count(int(m.Closed - m.Born))
	case "carrier", "not-affected":
		t.cleared.count(int(m.Closed - m.Born))
	}
}

// count counts one more of a number of days; one before birth, which is a fault of the
// record, counts as birth.
func (c *dayCounts) count(days int) {
	days = max(days, 0)
	for len(c.at) <= days {
		c.at = append(c.at, 0)
	}
	c.at[days]++
	c.n++
}

func (c *dayCounts) spread() Spread {
	at := func(p float64) *float64 { return countPercentile(c.at, c.n, p) }
	return Spread{N: c.n, Quarter: at(0.25), Median: at(0.5), ThreeQuarters: at(0.75), P90: at(0.9)}
}

// Report gives the figures of what was added so far.
func (t *YearTally) Report() Year {
	y := t.year
	y.ByRoute, y.ByVariants, y.ClosedAs = countsOf(t.routes, cases.Routes), countsOf(t.variants, variantNames), countsOf(t.closed, cases.Determinations)
	y.Diagnosed, y.Cleared = t.diagnosed.spread(), t.cleared.spread()
	y.Rates = t.rates.Report()
	for _, x := range t.intervals {
		y.Intervals = append(y.Intervals, x.Report())
	}
	return y
}

// countsOf lists the counts that are not 0 in an order.
func countsOf(counts map[string]int, order []string) []Count {
	var out []Count
	for _, as := range order {
		if n := counts[as]; n > 0 {
			out = append(out, Count{As: as, N: n})
		}
	}
	return out
}
