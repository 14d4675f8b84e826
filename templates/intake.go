package templates

// IntakePage shows what waits for a person, and what came in on one day with
// what was done with it.
type IntakePage struct {
	Base
	Lead      string
	Mail      Note // how the mailbox is
	Waits     int  // items that wait
	Waiting   []IntakeItem
	More      string // that not all that wait are shown
	MayDecide bool

	On             Date
	Today          bool
	Earlier, Later Link
	Day            Field
	Counts         []IntakeCount // items in, then the six outcomes; they add up
	Sum            string        // "41 items in = 30 opened + ...", in words
	Chips          []Chip
	Came           []IntakeItem
	Pager          Pager
}

// IntakeCount is one figure of the counts.
type IntakeCount struct {
	Name, Note string
	N          int
}

// IntakeItem is one item that came in.
type IntakeItem struct {
	ID        string
	Title     string // name read from the message, or "No infant found in the message"
	From      string // way and sender: "Mailbox, Newborn screening laboratory"
	Name      string // of the document
	Came      string // "5 Mar 2026, 06:14"
	At        string // "06:14"
	State     Tag
	Reference string // case that it belongs to; may be empty
	Reason    string
	Where     string // place in the document: "message 2"
	Due       Date
	Late      string // "2 days late"; empty when on time
	Current   bool
}

// File names the template.
func (*IntakePage) File() string { return "intake" }

// IntakeItemPage shows one item: what was read beside the message as it came,
// and what can be decided.
type IntakeItemPage struct {
	Base
	Item     IntakeItem
	Waiting  []IntakeItem
	Faults   []IntakeProblem // found in the message
	Read     []Fact
	Raw      string
	RawNote  string // "Shown as UTF-8; the message declared ISO 8859-1"
	Compare  *Compare
	Decided  string // what was decided already, by whom and when
	Action   string
	Decision Choice
	Reason   Field
	Open     []Field // fields of a case to open by hand
	Sex      Choice
	Route    Choice
	MayAct   bool
}

// IntakeProblem is one fault found in a message.
type IntakeProblem struct{ Where, Field, Text string }

// Compare sets a message beside the closest infant on file.
type Compare struct {
	Reference, Name string
	Agree, Of       int
	Rows            []CompareRow
	Warning         string // "Same mother and same birth date: this looks like a twin."
}

// CompareRow is one field of the comparison.
type CompareRow struct {
	Name, New, Old string
	Same           bool
}

// File names the template.
func (*IntakeItemPage) File() string { return "intake-item" }

// UploadPage takes a file of referrals.
type UploadPage struct {
	Base
	Upload Field
	Result *UploadResult
}

// UploadResult says what became of an uploaded file.
type UploadResult struct {
	Name   string
	Counts []IntakeCount
	Sum    string
	Faults []IntakeProblem
	Opened []Sibling // cases opened
}

// File names the template.
func (*UploadPage) File() string { return "upload" }
