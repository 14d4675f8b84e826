package templates

// LetterRunPage asks whether a print run came out whole, and marks it as mailed.
type LetterRunPage struct {
	Base
	Lead, Run string
	Parts     []Tab
	PDF       string
	Action    string
	Day       Field
	Rows      []RunLetter
	Certified []RunLetter
	Out       []RunLetter // held since: to be taken out of the stack
	Open      int         // letters that wait to be mailed
}

// RunLetter is one letter of a print run.
type RunLetter struct {
	ID              string
	N               int // place on the count sheet
	Number          string
	Name, Reference string
	Kind            string
	State           Tag
	Pick, Picked    bool
	Note            string
	Href            string
	Tracking        *Field
}

// File names the template.
func (*LetterRunPage) File() string { return "letter-run" }

// ReturnedPage takes letters in that came back, one after the other, by scanning.
type ReturnedPage struct {
	Base
	Parts  []Tab
	Number Field
	Found  *ReturnedLetter // the letter of the number, once it is known
	Back   []ReturnedRow   // today's, the newest first
}

// ReturnedLetter is a letter that came back, named no more than needed.
type ReturnedLetter struct {
	ID, Number string
	About      string // reference of the case, or the list's site and day
	Href       string
	Kind, To   string
	Mailed     string
	Why        Choice
	Note       Field
}

// ReturnedRow is a letter taken in today.
type ReturnedRow struct{ Number, Reference, What, Next string }

// File names the template.
func (*ReturnedPage) File() string { return "returned-mail" }

// LetterSheetPage is one letter as a page that the browser prints.
type LetterSheetPage struct {
	Base
	Lead   string
	Letter LetterPreview
	Code   string // number with its check sign, for returned mail; empty while it is not made
	Draft  bool   // not to be printed: it is not made, or must not go out
	Back   string
	Mail   string // where it is marked as mailed
	Action string // of the button; empty: none
	Key    string // names a due letter in the form
	Button string
}

// File names the template.
func (*LetterSheetPage) File() string { return "letter-sheet" }

// LetterEditPage changes the words of one letter.
type LetterEditPage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Restore    string // address that puts the words back as they were made; empty when they are
	Seen       string
	Words, Why Field
	Reader     *Field // who read the changed words, of a letter that says a result
	Licence    *Field
	Original   LetterPreview
	Doubts     []string // what should be looked at again
	LeftOut    []string // sentences that are not there any more
	Confirm    *Choice
	Edited     string
	Cautions   []string
}

// File names the template.
func (*LetterEditPage) File() string { return "letter-edit" }
