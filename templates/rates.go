package templates

// RatesPage is the report of QNS and other rates of a cohort.
type RatesPage struct {
	Base
	Reports  []Tab
	Figures  Figures
	Files    []Tab // the figures as files
	Lead     string
	From, To Field
	By       Choice // whose day the window bounds: of referral, or of test
	Count    Choice // which collections the tables count
	Route    Choice
	Small    string   // note when there is nothing, or little, to count
	Says     []string // what the figures say
	Facts    []BigFact
	Funnel   FunnelFigure
	Tables   []RateTable // the first is that by site
	Ages     *AgesFigure // nil for a report of days
	Tested   []TestedRow // shares tested by age; none for a report of days
	Others   []RateRow
	Missed   *RateTable
	Waits    []WaitRow
	Calls    []Fact // contacts for each case
	Complete []RateRow
	Terms    []RateTerm
	Notes    []string // how the numbers are made, and what is not counted
	AsOf     Date
}

// File names the template.
func (*RatesPage) File() string { return "rates" }

// FunnelFigure is a funnel with its heading; Note stands in its place when there is
// nothing to draw, and Left names the sites that are not drawn.
type FunnelFigure struct {
	Chart Funnel
	Lead  string
	Note  string
	Left  string
}

// RateTable is one rate by groups against a benchmark.
type RateTable struct {
	ID, Title, Lead string
	By              string // heading of the groups: "Site"
	Of, Count       string // headings of total and count: "Tested", "QNS"
	Against         bool   // there is a benchmark: p and place are given
	Rows            []RateRow
}

// RateRow is one rate in words. A hidden count reads "hidden".
type RateRow struct {
	Name            string
	Count, Of       string
	Rate, Limits    string // empty when hidden
	P, Holm         string // exact probability of so many or more, alone and adjusted
	Place           Tag    // in the funnel; none without one
	Benchmark, Note string
}

// TestedRow is the share tested by an age: of all who reached it, and of those who
// could be ready in time and could not.
type TestedRow struct {
	Age             string
	All, Ready, Not RateRow
}

// AgesFigure is the chart of ages at the first test with its numbers as a table.
type AgesFigure struct {
	Chart AgesChart
	Lead  string
	Rows  []AgesNumbers
}

// AgesNumbers is one quarter of births in numbers.
type AgesNumbers struct{ Quarter, Tested, Untested, Median, Middle string }

// RateTerm says what a rate counts.
type RateTerm struct{ Name, Numerator, Denominator, Note string }

// WaitRow is a wait for a repeat, in words.
type WaitRow struct{ Name, Infants, Median, Limits, By14 string }
