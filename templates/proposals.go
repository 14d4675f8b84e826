package templates

// ProposalsPage proposes a place for everyone who waits, to be booked line by line or
// all at once.
type ProposalsPage struct {
	Base
	Lead   string
	Action string
	Answer *ProposalsAnswer // what the last booking did; nil before one

	Groups []ProposalGroup
	Cut    string // how many proposals are not shown, "" when all are
	None   string // why there is no proposal
	Ready  int    // proposals of the group that can be booked as they stand

	TalkWhy    *Field // why infants whose family was not talked to are booked; nil when there are none
	By, Reason *Field // of the override; nil when nothing rests on an estimate

	Unplaced []UnplacedRow
	Left     int    // unplaced infants, also those that are not shown
	All      string // address of the page with all of them, "" when all are shown

	How      []string // how the plan is made
	Cautions []string
}

// File names the template.
func (*ProposalsPage) File() string { return "proposals" }

// ProposalGroup is the proposals that need the same before they are booked.
type ProposalGroup struct {
	ID, Head, Kind string
	Note           string
	Rows           []Proposal
}

// Proposal is one line: a place for one infant, or the places of twins.
type Proposal struct {
	N       int    // number of the line on the page
	Value   string // what is sent back for it
	Label   string // of its tick box
	Ticked  bool
	Infants []ProposedInfant
	On      Date
	Site    string
	Far     string // about 12 km away in a straight line, or way not known
}

// ProposedInfant is one infant of a proposal.
type ProposedInfant struct {
	Who
	At      string
	For     string // first test, one variant
	Waiting string // 3 days waiting
	Late    Tag    // past its due day
	Needs   string // what speaks against the day and a person must answer for
	Why     []string
}

// UnplacedRow is an infant without a proposal.
type UnplacedRow struct {
	Who
	For, Due string
	State    Tag
	Why      string
}

// ProposalsAnswer lists what was booked, and what was not and why.
type ProposalsAnswer struct {
	Head   string
	Booked []AnswerLine
	Not    []AnswerLine
}

// AnswerLine is one infant of the answer.
type AnswerLine struct {
	Name, Reference string
	Place           string // Mon 16 Mar 2026, 09:00, Alder Bay
	Note            string // who answered for it, or why it was not booked
	Text, Href      string // what to do about it
}
