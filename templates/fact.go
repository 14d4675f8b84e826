package templates

// FactPage records one kind of fact about an infant: a hold, a report of
// variants, a refusal, a hand-over, a contact flag, an order, a note.
type FactPage struct {
	Base
	Head, Lead string
	Warn       string // caution of this fact; may be empty
	Known      []Fact // what is on file already
	Action     string
	Back       string
	Parts      []FactPart
	Button     string
}

// FactPart is one field or choice of a form; exactly one is set.
type FactPart struct {
	Field  *Field
	Radios *Choice
	Select *Choice
	Ticks  *Choice
}

// File names the template.
func (*FactPage) File() string { return "fact" }
