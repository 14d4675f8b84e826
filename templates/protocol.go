package templates

// ProtocolPage shows every value of the program's protocol with its source.
type ProtocolPage struct {
	Base
	Lead      string
	Groups    []ProtocolGroup
	Unchecked int // values whose source nobody has checked
	Cautions  []string
	Choices   []string // clinical choices that the program's clinicians must sign
	Sites     []Fact
	Links     []Tab
}

// ProtocolGroup is one table of values.
type ProtocolGroup struct {
	ID, Head string
	Rows     []ProtocolValue
}

// ProtocolValue is one value of the protocol.
type ProtocolValue struct {
	Label, Name string // words, and the name used in files
	Value       string // with its unit
	Differs     string // the default, when the program changed it
	Source      string
	Checked     string // who checked it and when; empty = nobody yet
}

// File names the template.
func (*ProtocolPage) File() string { return "protocol" }
