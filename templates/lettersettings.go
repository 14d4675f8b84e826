package templates

// LetterTextsPage lists the letter texts with who has read them and how they read.
type LetterTextsPage struct {
	Base
	Lead, Gate string
	Links      []Tab
	Rows       []LetterTextRow
	Faults     []string
	Envelope   string // name of the geometry
	Sheet      string // address of the sheet to proof envelopes with
}

// LetterTextRow is one text in one language.
type LetterTextRow struct {
	Kind, Variant, To string
	Language, Lang    string
	Title             string
	Version, Status   string
	Reads             string // "Reading grade 4.2"
	State             Tag
	Source, File      string
	Sample            string
}

// File names the template.
func (*LetterTextsPage) File() string { return "letter-texts" }

// ContactPlanPage shows what the program does, in order, to reach a family.
type ContactPlanPage struct {
	Base
	Lead, Source string
	Differs      bool // from what ships
	Links        []Tab
	Rows         []RungRow
	Then         string // what comes after the last rung
}

// RungRow is one rung of the contact plan.
type RungRow struct {
	Name, With, By    string
	Days, Presumptive string
	Who, What         string
	Letters           []string
}

// File names the template.
func (*ContactPlanPage) File() string { return "contact-plan" }

// ContactPart is where a family that is not reached stands in the contact plan.
type ContactPart struct {
	Since Date
	Why   string
	Rung  string
	Owed  []RungAttempt
	Next  *RungAttempt
	Log   Link
}

// RungAttempt is one attempt that is owed or lies ahead.
type RungAttempt struct {
	What string // "Call the family, 2 of 3"
	Who  string
	Due  Date
	Late Tag
}
