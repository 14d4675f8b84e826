package templates

// IntakePage shows what came in and what became of it, and what waits for a
// person.
type IntakePage struct {
	Base
	Lead      string
	Counts    []IntakeCount // items in, then the six outcomes; they add up
	Period    string        // "since 1 Jan 2026"
	Waiting   []IntakeItem
	Documents []IntakeDocument
	MayDecide bool
	Sum       string // "41 items in = 30 opened + ...", in words
}

// IntakeCount is one figure of the counts.
type IntakeCount struct {
	Name, Note string
	N          int
}

// IntakeItem is one item that waits for a person.
type IntakeItem struct {
	ID      string
	Title   string // name read from the message, or "No infant found in the message"
	From    string // sender
	Came    string // "5 Mar, 06:14"
	State   Tag
	Reason  string
	Where   string // "PID-7, line 3"
	Due     Date
	Late    string // "2 days late"; empty when on time
	Current bool
}

// IntakeDocument is one file or message taken in.
type IntakeDocument struct {
	Came, Name, Source, Outcome string
	Items                       int
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
