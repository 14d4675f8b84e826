package templates

// InfantPage is everything about one infant's follow-up on one page.
type InfantPage struct {
	Base
	Reference string
	Short     string // given name, or "this infant"
	Tag       Tag
	Lead      string // "15 days past day 28. Case open since 30 Jan 2026."
	Main      Link   // the one next action; empty when there is none to click
	Acts      []Link // further actions, quiet
	Stop      []Note // what must not be overlooked: presumptive CF, a flag, salt loss

	Next      NextStep
	Ready     Tag
	Checks    []Met
	ReadyNote string // under the checks: "Weigh on the day."
	Repeat    *RepeatPart
	Retests   *RetestPart
	Clocks    []Clock
	Plan      *ContactPart // nil while the family need not be reached
	Evidence  []string     // what the recorded facts support, in words
	ToDo      []string     // actions of the assessment, in words

	Line    Timeline
	Strip   Strip
	Events  []EventLine
	Tests   []TestRow
	Contact []ContactRow
	Letters []InfantLetter
	Books   []BookingRow
	Came    []IntakeItem // messages that belong to the case, for those who take referrals in
	Screen  []Fact
	Family  []Fact
	ToCheck []Fact // values that intake could not use
	History []HistoryRow
	More    string // "12 older entries are not shown" with the address to show them
	MoreAt  string

	CanLog   bool // the user may log contacts
	CanTest  bool // the user may record tests
	CanName  bool // the user may change the name
	Close    Link
	Record   []Link // further facts that may be recorded
	Export   Link   // takes the case out of the program; empty for who may not
	Notes    []Fact
	Cautions []string
}

// File names the template.
func (*InfantPage) File() string { return "infant" }

// Note is a message of the page itself.
type Note struct {
	Kind, Head, Text string
}

// NextStep is the step owed next.
type NextStep struct {
	Do      string // "Book a repeat test"
	Because string // one plain sentence
	By      string // "Nurse, by Fri 6 Mar 2026"
	State   Tag    // "15 days late", "due today", "on time"
	Go      Link
}

// Clock is one of the running or met time limits.
type Clock struct {
	Name  string
	Due   Date
	State Tag // "met on 9 Mar 2026", "3 days late"
	Note  string
}

// EventLine is an event of the time line as a list item.
type EventLine struct {
	Day  int
	On   Date
	Text string
}

// TestRow is one arm of a sweat test; the first arm's row carries the test.
type TestRow struct {
	N       int // number of the test; 0 on its further rows
	On      Date
	Day     int
	Site    string
	Arm     string
	Minutes string
	Amount  string // with unit
	Value   string // chloride or conductivity with unit, or "Not analyzed"
	Drop    Drop
	Outcome string // of the arm
	Overall string // of the test, on the first row
	Flags   string // in words
	Skin    string
	Acts    []Link   // verify, report a reaction
	Lab     *LabWord // on the last arm's row
}

// LabWord is what the laboratory itself said of a test, beside the program's own
// reading. It is shown and never decides.
type LabWord struct {
	Says    string // its interpretation as sent; empty when it sent none
	Details string // who, when, range and flag
	Comment string
	Differs string // where the two readings differ, in words; empty when they agree
}

// ContactRow is one contact.
type ContactRow struct {
	On                Date
	At                string
	How, Who, What    string
	Note, By, NextTry string
	Reached           bool
}

// InfantLetter is one letter or message, made or due, with each of its steps.
type InfantLetter struct {
	Name, To, Language string
	State              Tag
	On                 Date
	Href               string
	PDF                string
	Release            string // address at which a named person lets it go; empty otherwise
	Number             string
	Edited             string // who changed the words, when and why
	Note               string
	Steps              []LetterStepRow
}

// BookingRow is one booking.
type BookingRow struct {
	On       Date
	At, Site string
	State    Tag
	Note     string
	Acts     []Link
	Kept     string // address for recording that the family came; empty when that is not asked
	Came     string // words of its button: "Kept", or "Came after all"
}

// HistoryRow is one entry of the audit trail.
type HistoryRow struct {
	On          Date
	At          string
	Who         string
	What        string
	Before, Now string
	Reason      string
}
