package intake

import "time"

// Outcome is what became of one item.
type Outcome string

// The outcomes. Every item has exactly one.
const (
	Opened    Outcome = "opened"    // a new case
	Attached  Outcome = "attached"  // added to a case that was there
	NoCase    Outcome = "no-case"   // in range: counted and set aside
	Duplicate Outcome = "duplicate" // already here
	Review    Outcome = "review"    // waits for a person
	Refused   Outcome = "refused"   // not of a kind that is taken in
)

// Outcomes lists the outcomes in the order in which counters are shown.
var Outcomes = []Outcome{Opened, Attached, NoCase, Duplicate, Review, Refused}

// Document is what was received: its bytes, where it came from (a file, the upload
// page, a mailbox), its name there, and when. Sent is the day of the mail that
// brought it, zero when there was none.
type Document struct {
	Source, Name string
	Sender       string // mail address, or the name of the interface or key it came by
	Charset      string // that what brought it declared, "" when it did not
	At           time.Time
	Sent         time.Time
	Part         bool // an interface broke off before the end
	Raw          []byte
}

// Format recognizes and reads one kind of document. Read never panics, whatever
// the bytes, and always gives at least one item.
type Format interface {
	Name() string
	Sniff(raw []byte) bool
	Read(raw []byte, s Settings) Reading
}

// Reading is what a format found in a document.
type Reading struct {
	Items    []Item
	Warnings []Problem // about the file as a whole
	Blank    int       // blank rows left out
}

// Item is one referral in a document: one patient of one message, or one row.
type Item struct {
	Label    string // "message 2, infant 1", "row 14"
	Text     string // the item as text, for showing
	Kind     Kind
	Referral Referral
	Problems []Problem
}

// Kind says what sort of item was found.
type Kind uint8

// The kinds of item.
const (
	Readable   Kind = iota // a result that the decision rule reads
	Unreadable             // cannot be read; its problems say why
	Unwanted               // another type of message: refused with an answer
)

// DateOrder says how a sender writes a date in numbers.
type DateOrder string

// The date orders; the zero value is "not known".
const (
	DayMonth DateOrder = "day-month-year"
	MonthDay DateOrder = "month-day-year"
)

// Settings are the choices of the program, and of a sender, that intake needs.
type Settings struct {
	OpenOnRepeatCard bool      // open a case for "further dried blood spot testing" (LA12430-7)
	DateOrder        DateOrder // order of dates in numbers in a line list
	CommaDecimals    bool      // a comma in a number of a line list is a decimal comma
	ReviewDays       int       // days until a review item is due; 0 means 7
	Charset          string    // of what declares none; "" means UTF-8, else Windows-1252
	Live             bool      // test messages that come by mail or interface are set aside

	Senders []Sender          // who sends, with the choices of each; see For
	Codes   map[string]string // the sender's own result codes, each with the LOINC code it means
}

func (s Settings) reviewDays() int {
	if s.ReviewDays > 0 {
		return s.ReviewDays
	}
	return 7
}
