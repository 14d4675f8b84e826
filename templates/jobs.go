package templates

// JobsPage shows how the program's own work and the mailbox stand.
type JobsPage struct {
	Base
	Lead  string
	Links []Tab
	Mail  Note
	Box   []Fact // about the mailbox; empty when none is set up
	Out   Note   // about messages by e-mail and text
	// OutFacts are empty where nothing is set up to send by.
	OutFacts []Fact
	Rows     []JobRow
	MayRun   bool
}

// JobRow is one job.
type JobRow struct {
	Name, Title string // key of the ledger, and words
	State       Tag
	Warning     string
	When        string // how often it runs
	Last        string // "5 Mar 2026, 06:00"
	Outcome     string // of the last run, in words
	Good        string // age of the last good run: "2 hours ago"
	Next        string
}

// File names the template.
func (*JobsPage) File() string { return "jobs" }
