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

// IntakeItemPage shows one item: what was done with it, what was read beside the
// message as it came, the infants on file that it may be about, and what can be
// decided.
type IntakeItemPage struct {
	Base
	Item     IntakeItem
	Waiting  []IntakeItem // others that wait
	More     string       // that not all of them are listed
	Why      []string     // one sentence each, with segment and field
	Waits    bool
	About    Link   // the item that this entry is a word about; empty for an item of its own
	Top      bool   // presumptive wording
	Done     string // what was done with it
	Decided  string // what a person decided, who and when
	Faults   []IntakeProblem
	Read     []Fact
	Raw      string
	RawNote  string // "Message 2 of 5 in batch.hl7."
	RawLinks []Link
	Mail     []Fact // the headings of the mail that it is or came in
	MailText string // its text
	Compare  *Compare

	Action   string
	Decision Choice
	Case     *Field // number of another case; nil when none may be named
	Reason   Field
	Opens    bool    // a case can be opened
	Open     []Field // fields of a case to open
	Sex      Choice
	Route    Choice
	Sweat    *SweatEntry // the sweat result as read, to be corrected; nil for other items
	MayAct   bool
	Return   *SendBack
	Undo     *UndoForm
	Cautions []string
}

// IntakeProblem is one fault found in a message.
type IntakeProblem struct{ Where, Field, Text string }

// SweatEntry is a sweat result as read, to be corrected before it is added.
type SweatEntry struct {
	Day   Field
	Sites []SweatSite
}

// SweatSite is one side of a collection.
type SweatSite struct {
	Head, As                  string // "Site 1", and as it was sent
	Side, Place, Unit         Choice
	Minutes, Amount, Chloride Field
}

// SendBack is the list of faults for the sender.
type SendBack struct {
	To   string // who gets it, and how
	Text string
	Mail string // address that opens a mail to the sender; empty when none is known
}

// UndoForm takes an attachment back.
type UndoForm struct {
	Action, Reference string
	Reason            Field
}

// File names the template.
func (*IntakeItemPage) File() string { return "intake-item" }

// SameInfantPage stops before a message is put on a case from which it differs in
// what tells twins apart.
type SameInfantPage struct {
	Base
	Head, Lead string
	Rows       []CompareRow
	Reference  string
	Who        Field
	Action     string
	Back       string
	Kept       []Hidden
}

// File names the template.
func (*SameInfantPage) File() string { return "same-infant" }

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
