package templates

// LettersPage lists letters by state, with the chosen one set beside them.
type LettersPage struct {
	Base
	Lead    string
	Parts   []Tab // letters, messages, returned mail
	Tabs    []Tab
	Head    string // name of the open tab
	State   string // key of the open tab
	Kind    Choice // filter by kind
	To      Choice // filter by who gets it
	Narrow  bool   // a filter is on
	Rows    []ListedLetter
	Cut     string // that more letters than these stand in the state
	None    string // what an empty tab says
	Actions []LetterAction
	Day     *Field // day of mailing
	Why     *Field // reason of a hold, or of printing a held letter
	Tip     string // what the actions do
	Chosen  *LetterPreview
	MayAct  bool
	Printed *PrintRun // a run that was just made and waits for "did they all print?"
	Runs    []PrintRun
	Make    bool            // offer to make the letters that are due now
	Skipped []SkippedLetter // the first of those that are due and not made
	// SkippedAll is the link to all of them: "All 23".
	SkippedAll string
}

// LetterAction is one thing to do with the chosen letters.
type LetterAction struct{ Value, Text string }

// Tab is one of the pages of a list.
type Tab struct {
	Href, Text string
	Count      int
	Counted    bool
	Current    bool
}

// ListedLetter is one letter in the list.
type ListedLetter struct {
	ID        string
	Name      string // infant; or the test site and day of a list
	Reference string
	Kind      string // "First notice"
	To        string // "Family"
	Language  string
	Lang      string // language tag of the word in Language; empty for English
	Due       string // "made 5 Mar 2026"
	State     Tag
	Edited    string // who changed the words; empty when nobody did
	Note      string // why it cannot be made, or what to do beside it
	Next      Link   // the one next step
	Href      string
	Current   bool
	Pick      bool // can be chosen for the tab's action
	Picked    bool
}

// LetterPreview is a letter as it will read.
type LetterPreview struct {
	ID, Title string
	Name      string
	Reference string // empty for a list of the day
	Kind, Due string // kind and occasion in words
	Number    string // empty while it is not made
	Lang      string
	From      []string // letterhead
	To        []string // lines of the envelope window
	Date      string
	Blocks    []LetterBlock
	Grade     string // "Reading grade 4.2"; empty where none is counted
	State     Tag
	PDF       string // address of this letter as PDF; empty when there is none
	Page      string // address of the letter as a page to print from the browser
	Edit      string // address of the page that changes its words
	Edited    string // who changed the words, when and why
	MadeAs    string // address of the PDF as it was made, when its words were changed
	Note      string
	Held      string // why it is held
	Stopped   string // why it cannot be made
	Next      Link   // the one next step then
	Steps     []LetterStepRow
	Acts      []LetterForm // what may be recorded of it now
}

// LetterForm is a small form about one letter.
type LetterForm struct {
	Head   string
	Action string
	Hidden []Hidden
	Choice *Choice
	Fields []Field
	Button string
}

// LetterStepRow is one step of a letter or message: what, when, and by whom.
type LetterStepRow struct{ What, At, By, Note string }

// PrintRun is letters printed together, with their count sheet.
type PrintRun struct {
	ID   string
	Made string // "5 Mar 2026, 08:47"
	N    int
	PDF  string
	Page string // address of the page that asks whether all were printed
	Open bool   // printed and not yet mailed
}

// SkippedLetter is a letter that was due and could not be made.
type SkippedLetter struct {
	Name, Reference, Kind, Reason string
	Next                          Link
}

// File names the template.
func (*LettersPage) File() string { return "letters" }

// LetterGroup is one block of a letter, or several list items that stand together.
type LetterGroup struct {
	Mark  LetterMark
	Lines []string
}

// Groups are the blocks of the letter with neighboring items and neighboring
// lines put together.
func (p LetterPreview) Groups() []LetterGroup {
	var out []LetterGroup
	for _, b := range p.Blocks {
		joins := b.Mark == LetterItem || b.Mark == LetterLine
		if n := len(out); joins && n > 0 && out[n-1].Mark == b.Mark {
			out[n-1].Lines = append(out[n-1].Lines, b.Text)
			continue
		}
		out = append(out, LetterGroup{b.Mark, []string{b.Text}})
	}
	return out
}
