package templates

// ClosureTimesPage is the report of how long cases take, open ones counted.
type ClosureTimesPage struct {
	Base
	Reports  []Tab
	Lead     string
	From, To Field // referred from and to
	Route    Choice
	Cases    int
	Small    string // note when there are few cases
	Facts    []BigFact
	Clocks   []ClockTime
	Curves   []CurveFigure
	Open     []OpenBand
	OpenSum  int
	Ended    []Fact   // how closed cases ended
	Export   string   // address of the CSV
	Terms    []string // how the numbers are made
	AsOf     Date
	Waiting  []WaitingClosing // closings that wait for this person's word
	Agrees   bool             // the user agrees to closings
}

// WaitingClosing is a proposed closing that waits for a second person.
type WaitingClosing struct {
	Who
	As, By string
	On     Date
}

// BigFact is one figure of the facts strip.
type BigFact struct{ Name, Value, Note string }

// ClockTime is one row of the table of times: counts, median and quartiles by
// Kaplan-Meier with open cases counted, and the share done by a day.
type ClockTime struct {
	Name             string // "Birth to first test"
	Cases, Done      int
	Waiting, Left    int
	Median, MedianCI string // "23 days", "21 to 26 days"
	Quartiles        string // "18 to 34 days"
	By28, By28CI     string
}

// CurveFigure is a curve with its heading and its numbers as a table.
type CurveFigure struct {
	Curve Curve
	Lead  string
	Rows  []CurveRow
}

// CurveRow is one line of the numbers under a curve.
type CurveRow struct {
	Day                 int
	Share, Limits       string
	Waiting, Done, Left int
}

// OpenBand counts open cases of one age band.
type OpenBand struct {
	Band     string // "14 to 27 days"
	Open     int
	Untested int // without a first test
	NotReady int // of these, could not be ready by day 28
}

// File names the template.
func (*ClosureTimesPage) File() string { return "closure-times" }
