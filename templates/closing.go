package templates

// ClosePage closes a case or proposes to: what the evidence supports, what is
// missing, and who decided.
type ClosePage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Supports   []string // determinations the evidence supports, in words
	Because    string   // one sentence: why, or why none
	Evidence   []Met    // what is on file for a closing, met or missing
	As         Choice   // determination; a line says what each needs
	On         Field
	Decided    Field  // the deciding clinician
	Code       Choice // diagnosis code, where the person who closes codes one
	Reason     Field
	LookAgain  Field
	Effects    []string // what closing does
	Button     string
	Rights     string // what this role may do, in one sentence
}

// File names the template.
func (*ClosePage) File() string { return "close" }

// DiedPage is the stop page before a case closes because the infant died.
type DiedPage struct {
	Base
	Head     string
	Action   string
	Facts    []Fact
	Letters  string // letters that are stopped, in words
	Siblings string // a sibling's case stays open, in words; may be empty
	On       Field  // day of death
	Source   Field  // who told the program
	Kept     []Hidden
	Button   string
}

// File names the template.
func (*DiedPage) File() string { return "died" }

// AgreePage asks a second person to agree to a proposed closing or send it back.
type AgreePage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Proposal   []Fact
	Sides      *Sides // both cases, when one is to be merged into another
	Supports   []string
	Because    string
	Evidence   []Met
	MayAgree   bool
	WhyNot     string // why this person may not agree
	Decision   Choice // agree or send back
	Reason     Field
}

// File names the template.
func (*AgreePage) File() string { return "agree" }

// ReopenPage opens a closed case again.
type ReopenPage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Closing    []Fact
	Reason     Field
}

// File names the template.
func (*ReopenPage) File() string { return "reopen" }
