package templates

// YearReport is the figures of one birth year in words: page and paper are set from
// it, so that both say the same, and it is kept as it is when a year's figures are
// kept. Kept reports are read by later versions: fields may be added, none renamed. It
// holds no case, no name and no date of a person.
type YearReport struct {
	Year    int    `json:"year"`
	Title   string `json:"title"`
	Program string `json:"program"`
	Lead    string `json:"lead"`  // the cohort in words
	AsOf    string `json:"as_of"` // the day of the records: "25 Nov 2026"
	Full    bool   `json:"full,omitempty"`
	Below   int    `json:"below,omitempty"` // else the least count that is shown
	// Facts are the few figures that stand first.
	Facts    []BigFact     `json:"facts"`
	Says     []string      `json:"says"`     // what the figures say, a sentence each
	Cautions []string      `json:"cautions"` // what they do not say
	Sections []YearSection `json:"sections"`
	Terms    []YearTerm    `json:"terms"` // definitions of all that is counted
	How      []string      `json:"how"`   // how the figures are made
}

// Mark is what stands on the page and on every sheet of full figures, or "".
func (r *YearReport) Mark() string {
	if r.Full {
		return "Full figures, for the program only. Not for release."
	}
	return ""
}

// YearSection is one part of the report: what it is about, tables, drawings, notes.
type YearSection struct {
	ID     string      `json:"id"`
	Name   string      `json:"name"`
	Lead   string      `json:"lead,omitempty"`
	Tables []YearTable `json:"tables,omitempty"`
	Curves []YearCurve `json:"curves,omitempty"`
	Funnel *YearFunnel `json:"funnel,omitempty"`
	Notes  []string    `json:"notes,omitempty"`
}

// YearTable is a table with its name; the first cell of each row is its head.
type YearTable struct {
	Name    string       `json:"name"`
	Columns []YearColumn `json:"columns"`
	Rows    [][]string   `json:"rows"`
}

// YearColumn is a column: its head, whether it holds figures, and counts of infants or
// tests among them, and how wide it is on paper beside the others (0: as wide as one).
type YearColumn struct {
	Head   string  `json:"head"`
	Figure bool    `json:"figure,omitempty"`
	Count  bool    `json:"count,omitempty"`
	Share  float64 `json:"share,omitempty"`
}

// YearTerm is a word and what it means here.
type YearTerm struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// YearCurve is a rising curve with its limits, in days and shares from 0 to 1. Where
// small numbers are hidden it is known at its points only (Joined): they are joined,
// not stepped, since what lies between them is not shown.
type YearCurve struct {
	ID          string         `json:"id"`
	Title       string         `json:"title"`
	Description string         `json:"description"`
	Joined      bool           `json:"joined,omitempty"`
	Done        string         `json:"done"` // past participle of the event, like "tested"
	Axis        string         `json:"axis"`
	Points      []YearPoint    `json:"points"`
	Counts      []YearCurveRow `json:"counts"`
	Until       float64        `json:"until"`
	AxisEnd     float64        `json:"axis_end"`
	Mark        float64        `json:"mark,omitempty"`       // a day drawn as a line
	MarkShare   bool           `json:"mark_share,omitempty"` // the share on that day is known
}

// YearPoint is one step of a curve; the limits hold where Limits is set.
type YearPoint struct {
	Day    float64 `json:"day"`
	Share  float64 `json:"share"`
	Low    float64 `json:"low,omitempty"`
	High   float64 `json:"high,omitempty"`
	Limits bool    `json:"limits,omitempty"`
}

// YearCurveRow is a line of the numbers under a curve, in words.
type YearCurveRow struct {
	Day     int    `json:"day"`
	Share   string `json:"share"`
	Limits  string `json:"limits"`
	Waiting string `json:"waiting"`
	Done    string `json:"done"`
	Left    string `json:"left"`
}

// YearFunnel is rates of sites about a benchmark. Sites whose counts are hidden are
// not in it.
type YearFunnel struct {
	ID          string          `json:"id"`
	Title       string          `json:"title"`
	Description string          `json:"description"`
	Benchmark   float64         `json:"benchmark"` // share
	Limits      []YearLimits    `json:"limits"`    // in order of Of
	Sites       []YearFunnelDot `json:"sites"`
}

// YearLimits are the limits of a rate for a total, 95 and 99.8 %, as shares.
type YearLimits struct {
	Of      int     `json:"of"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	Lowest  float64 `json:"lowest"`
	Highest float64 `json:"highest"`
}

// YearFunnelDot is a site: its total and rate; Out is "" within the 95 % limits, else
// "alert" or "alarm" above them, "below" under them.
type YearFunnelDot struct {
	Name string  `json:"name"`
	Of   int     `json:"of"`
	Rate float64 `json:"rate"`
	Out  string  `json:"out,omitempty"`
}
