package templates

// KeepingPage says how long records are kept, what may be erased, and what waits for a
// second person.
type KeepingPage struct {
	Base
	Lead     string
	Links    []Tab
	Notes    []Note
	Times    []Field // of the form of retention times
	Listed   string  // how the list was made
	Rows     []ErasableRow
	More     int   // records that are not listed
	Order    Field // reference on an order
	Reason   Field // of a proposal
	Waiting  *Erasing
	BackUps  string // until when back-ups hold what is erased
	Erasures []ErasureRow
}

// ErasableRow is one record that may be erased.
type ErasableRow struct {
	Reference    string
	Href         string // empty for who may not see cases
	Closed, From Date
	Rule         string
	Held         string // the legal hold that stops it; may be empty
	Picked       bool
}

// Erasing is a proposal that waits for another person.
type Erasing struct {
	By         string
	On         Date
	Reason     string
	References []string
	MayConfirm bool
	Decision   Choice
	Own        Field
}

// ErasureRow is one thing that was erased.
type ErasureRow struct {
	On                   Date
	At                   string
	Rule, By, What, Says string
}

// File names the template.
func (*KeepingPage) File() string { return "keeping" }
