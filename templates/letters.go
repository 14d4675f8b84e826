package templates

// LettersPage lists letters by state, with the chosen one set beside them.
type LettersPage struct {
	Base
	Lead    string
	Tabs    []Tab
	Head    string // name of the open tab
	State   string // key of the open tab
	Rows    []ListedLetter
	None    string // what an empty tab says
	Actions []LetterAction
	Tip     string // what the actions do
	Chosen  *LetterPreview
	MayAct  bool
	Printed *PrintRun // a run that was just made and waits for "did they all print?"
	Runs    []PrintRun
	Make    bool // offer to make the letters that are due now
	Skipped []SkippedLetter
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
	Name      string // infant
	Reference string
	Kind      string // "First notice"
	Language  string
	Lang      string // language tag of the word in Language; empty for English
	Due       string // "made 5 Mar 2026"
	State     Tag
	Href      string
	Current   bool
	Pick      bool // can be chosen for the tab's action
	Picked    bool
}

// LetterPreview is a letter as it will read.
type LetterPreview struct {
	ID, Title  string
	Name       string
	Reference  string
	Number     string
	Lang       string
	From       []string // letterhead
	To         []string // lines of the envelope window
	Date       string
	Blocks     []LetterBlock
	Grade      string // "Reading grade 4.2"; empty where none is counted
	State      Tag
	PDF        string // address of this letter as PDF
	Note       string
	CameBack   bool   // may be marked as come back
	Held       string // why it is held
	ReasonBack Field
}

// PrintRun is letters printed together, with their count sheet.
type PrintRun struct {
	ID   string
	Made string // "5 Mar 2026, 08:47"
	N    int
	PDF  string
	Open bool // printed and not yet mailed
}

// SkippedLetter is a letter that was due and could not be made.
type SkippedLetter struct{ Name, Reference, Kind, Reason string }

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
