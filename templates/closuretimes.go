package templates

// ClosureTimesPage is the report of how long an interval takes in a cohort, open
// cases counted. All figures are texts: what is hidden cannot be printed by mistake.
type ClosureTimesPage struct {
	Base
	Reports []Tab
	Figures Figures
	Lead    string
	Printed string // when and by whom, on paper only
	Often   []Tab  // intervals that are often asked for
	Form    IntervalForm

	Cohort      string   // the filter in words
	Says        []string // what the figures say
	Facts       []BigFact
	Curve       *CurveFigure
	Groups      IntervalTable
	Classes     IntervalTable // who could, and could not, be ready by the protocol's day
	Reasons     *ReasonTable  // only when the interval ends with closing
	ReasonCurve *CurveFigure
	Compare     *CohortCompare
	Refused     *RefusedCases
	Terms       []Fact // how the numbers are made
	AsOf        Date
	Files       []Tab // the figures as files

	Waiting []WaitingClosing // closings that wait for this person's word
	Agrees  bool             // the user agrees to closings
}

// File names the template.
func (*ClosureTimesPage) File() string { return "closure-times" }

// IntervalForm chooses the interval, the cases, and how they are divided.
type IntervalForm struct {
	Start, End, By                       Choice
	From, To                             Field
	Group                                Choice
	Route, Class, Site, Language, County Choice
	AlsoFrom, AlsoTo                     Field // a second cohort to compare with
	Further                              bool  // one of the further filters is in use
	Full                                 bool  // figures in full are asked for
	NoSites, NoLanguages, NoCounties     bool  // there is nothing to choose from
}

// WaitingClosing is a proposed closing that waits for a second person.
type WaitingClosing struct {
	Who
	As, By string
	On     Date
}

// BigFact is one figure of the facts strip.
type BigFact struct{ Name, Value, Note string }

// IntervalTable is a table of groups with their figures.
type IntervalTable struct {
	ID, Title, Note string
	Of              string // what the groups are: "Test site"
	Done            string // "closed"
	By              string // "day 28"
	Rows            []IntervalRow
	Days            []int // of the shares, for the second table
	Shares          []ShareRow
}

// IntervalRow is one group. Few says why nothing but the name is given.
type IntervalRow struct {
	Name, Few                  string
	Cases, Done, Waiting, Left string
	Median, MedianLimits       string
	Middle                     string // from a quarter to three quarters
	Ninth                      string // nine of ten
	By, ByLimits               string // share by the protocol's day
	Mean, MeanLimits           string // days not done, within a number of days
}

// ShareRow is the share of a group that is done by each day of a table.
type ShareRow struct {
	Name  string
	Cells []ShareCell
}

// ShareCell is a share with its limits.
type ShareCell struct{ Share, Limits string }

// ReasonTable is how cases closed: numbers, and the share by days, other reasons
// competing.
type ReasonTable struct {
	Days  []int
	Rows  []ReasonRow
	Notes []string
}

// ReasonRow is one class of closing.
type ReasonRow struct {
	Name, Count string
	Shares      []ShareCell
}

// CurveFigure is a drawing with its heading and its numbers as tables.
type CurveFigure struct {
	Curve  Curve
	Lead   string
	None   string // why there is nothing to draw
	Tables []CurveTable
}

// CurveTable is the numbers of one line.
type CurveTable struct {
	Name string
	Rows []CurveRow
}

// CurveRow is one line of the numbers under a curve.
type CurveRow struct {
	Day                 int
	Share, Limits       string
	Waiting, Done, Left string
}

// CohortCompare sets two cohorts side by side.
type CohortCompare struct {
	Lead        string
	Says        []string
	Table       IntervalTable
	Differences []Fact
	Figure      *CurveFigure
}

// RefusedCases are cases that are not counted, since their days are in the wrong order.
type RefusedCases struct {
	Text string
	Link string // to the data faults; may be empty
}
