package templates

// MergePage sets two cases side by side and asks whether they are about one infant.
type MergePage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Warn       string // why twins are possible; may be empty
	Sides      *Sides // nil: the other one is not chosen yet
	Other      Field  // reference of the other case, when it is to be entered
	OtherRev   uint64
	Answer     Choice
	Reason     Field
	Twins      Field
}

// Sides is two cases, line by line.
type Sides struct {
	A, B  Side
	Lines []SideLine
}

// Side is one of the two.
type Side struct{ Reference, Name, Href string }

// SideLine is one field as each of the two has it.
type SideLine struct {
	Name    string
	A, B    []Part
	Differs bool
}

// File names the template.
func (*MergePage) File() string { return "merge" }
