package templates

// AccessLogPage shows who saw, changed or took what.
type AccessLogPage struct {
	Base
	Lead    string
	Links   []Tab
	Reviews []LookToReview // those that wait for a word
	Asks    bool           // the filter is offered
	All     bool           // the lines of everybody can be asked for, not only one's own
	Infant  Field
	From    Field
	To      Field
	Person  Choice
	Act     Choice
	Listed  bool // lines are shown
	Rows    []AccessRow
	None    string // said in place of rows
	Older   string // address of the next page
	CSV     string // address of the file
	Whole   []Fact // how the log is kept together
}

// AccessRow is one line of the log.
type AccessRow struct {
	When, Who, Role string
	Did             string
	What, Why       string
	Infants         []Link
	More            string // "and 14 more"
	Outcome         Tag
	Where           string // address, session, request
}

// LookToReview is one break-glass that waits for another person's word.
type LookToReview struct {
	Seq       uint64
	When, Who string
	Infant    Link
	Why       string
	Own       bool // one's own, which somebody else reviews
	Word      Field
}

// File names the template.
func (*AccessLogPage) File() string { return "access-log" }
