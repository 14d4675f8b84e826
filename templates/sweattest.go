package templates

import "encoding/json"

// RecordTestPage takes in one sweat test in three parts, or corrects one. It
// saves nothing: the next page shows what the test says.
type RecordTestPage struct {
	Base
	Head, Lead string
	Action     string
	Back       string

	Identity  Field // a tick: Value "yes" when ticked
	On, At    Field
	Site      Choice
	Weight    Field
	By        Field
	Collector Choice
	Analyte   Choice
	Arms      []ArmForm
	Told      Field // who was told of a blister or burn
	Reported  Field // the day
	ToldAt    Field // and the time
	Stopped   Choice
	StopWhy   Field
	Why       *Field // why a recorded test is changed; nil for a new test
	NotDone   string // address of the form for an infant who came and was not tested

	Protocol Limits // read by the script, for the reading while typing
	Live     LiveFacts
	Earlier  []EarlierTest
	Cautions []string
}

// ArmForm is the entries of one arm, in the order of the work.
type ArmForm struct {
	Side   string // left, right
	Head   string // "Left arm"
	Before Choice // skin before
	Fields []ArmField
	After  Choice // skin after
}

// ArmField is one entry of an arm. Its unit may follow from the collector.
type ArmField struct {
	Field
	ByCollector bool // the unit is the collector's, and changes with it
	Screening   bool // only for a test of conductivity
}

// Limits are the protocol's values that the live reading uses. Amounts are in
// µL or mg, times in minutes, chloride in mmol/L, ages in days.
type Limits struct {
	MinUL            float64 `json:"minUl"`
	MinMg            float64 `json:"minMg"`
	BaseMin          float64 `json:"baseMin"`
	ScalesDown       bool    `json:"scalesDown"`
	MaxMin           float64 `json:"maxMin"`
	BothArms         bool    `json:"bothArms"`
	IntermediateFrom float64 `json:"intermediateFrom"`
	OlderFromDays    int     `json:"olderFromDays"` // -1: no age split
	OlderFrom        float64 `json:"olderIntermediateFrom"`
	CFFrom           float64 `json:"cfFrom"`
	CFStrictlyAbove  bool    `json:"cfStrictlyAbove"`
	Implausible      float64 `json:"implausibleAbove"`
	AgreeLow         float64 `json:"agreeLow"`
	AgreeHigh        float64 `json:"agreeHigh"`
	AgreeSplit       float64 `json:"agreeSplit"`
	MostMin          float64 `json:"mostMinutes"`  // what a case can hold
	MostChloride     float64 `json:"mostChloride"` // mmol/L
	MostAmount       float64 `json:"mostAmount"`   // µL or mg
}

// LiveFacts are what the live reading needs beside the limits.
type LiveFacts struct {
	Born     string            `json:"born"`  // 2026-03-01
	Today    string            `json:"today"` // 2026-03-18
	Verified string            `json:"verified,omitempty"`
	Shifts   []string          `json:"shifts"` // days of the year past on which the clocks were changed
	Kinds    map[string]string `json:"kinds"`  // the one collector of a site, by site
}

// JSON is the facts as the page carries them for the script.
func (l LiveFacts) JSON() (string, error) {
	b, err := json.Marshal(l)
	return string(b), err
}

// EarlierTest is a test already on file, in one panel.
type EarlierTest struct {
	Title string // "Test 1"
	On    Date
	Facts []Fact
	Drop  Drop
	Word  string
}

// File names the template.
func (*RecordTestPage) File() string { return "record-test" }

// ArmLine is one arm of a test in words.
type ArmLine struct {
	Side, Minutes, Amount, Chloride, Reading, Skin string
}

// ArmTable is both arms of a test; render it with the part "arms".
type ArmTable struct {
	Caption string
	Rows    []ArmLine
}

// CheckTestPage shows what a test says before it is saved. Everything typed
// travels in hidden fields, and is saved or taken back to the form.
type CheckTestPage struct {
	Base
	Head, Lead string
	Action     string
	Button     string // "Save test" or "Save the change"
	Stop       bool   // the arms disagree or a value is not plausible
	StopText   string
	Drop       Drop
	Word       string // outcome
	Deciding   string // "Chloride 46 mmol/L, the higher arm"; may be empty
	Arms       ArmTable
	Lines      []string // each arm in one sentence
	Next       string   // next step with its due day
	Because    string
	Cautions   []Notice
	Limits     string // the limits in use
	Entered    []Fact // day, site, weight, collector, who
	GoOn       GoOn
	Evidence   *Field // asked on a stop page
	Kept       []Hidden
}

// File names the template.
func (*CheckTestPage) File() string { return "check-test" }

// VerifyTestPage lets a named person say that a test stands or is void.
type VerifyTestPage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Arms       ArmTable
	Word       string
	Drop       Drop
	Why        string // why it is to be verified
	As         Choice
	By         Field
	Reason     Field
	Lab        *LabWord // what the laboratory itself said; nil when the result came by hand
}

// File names the template.
func (*VerifyTestPage) File() string { return "verify-test" }

// ReportReactionPage records the day on which a blister or burn was reported.
type ReportReactionPage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Arms       ArmTable
	To, On, At Field
}

// File names the template.
func (*ReportReactionPage) File() string { return "report-reaction" }

// JSON is the limits as the page carries them for the script.
func (l Limits) JSON() (string, error) {
	b, err := json.Marshal(l)
	return string(b), err
}
