package templates

// InfantsPage finds infants by name, birth date, case, record or specimen
// number, and lists the open cases when nothing was typed.
type InfantsPage struct {
	Base
	Query    Field
	Closed   bool // closed cases are included
	Asked    bool // something was typed
	Lead     string
	Rows     []FoundRow
	More     string // "The first 200 of 412. Type more of the name."
	Pager    Pager
	Searched string // what was searched in which fields, when nothing was found
}

// File names the template.
func (*InfantsPage) File() string { return "infants" }

// FoundRow is one infant that was found.
type FoundRow struct {
	Who
	State  Tag
	Strip  Strip
	Next   string
	Former string // former names, when one of them was found
}

// WeightPage adds a weighing.
type WeightPage struct {
	Base
	Reference  string
	Action     string
	Back       string // address of Cancel
	On, Weight Field
	By         Field
	Earlier    []Fact
	Doubt      string // a weight that is unusual; asks for a tick
	DoubtError string
	Ticked     bool
}

// File names the template.
func (*WeightPage) File() string { return "weight" }

// NamePage changes the infant's name.
type NamePage struct {
	Base
	Reference          string
	Given, Family, Why Field
	Former             []string
}

// File names the template.
func (*NamePage) File() string { return "name" }

// ConflictPage says that somebody else changed the case first. It shows what
// was typed, what the record says now, who changed it, and two ways on.
type ConflictPage struct {
	Base
	Reference string
	What      string // "the contact"
	By        string // "Dagny Achterberg, nurse, 5 Mar 2026, 08:39"
	Changes   []HistoryRow
	Typed     []Fact   // what was typed, with its labels
	Fields    []Hidden // the same, to send again
	Action    string   // where "Apply mine to the new version" goes
	Use       string   // where "Use the new values" goes
}

// File names the template.
func (*ConflictPage) File() string { return "conflict" }

// MePage explains the keys and keeps a person's settings.
type MePage struct {
	Base
	Keys, Rows, Color Choice

	Account  []Fact // role, test sites, sign-in
	Factor   string // state of the second factor, in words
	HasCodes bool   // there is a second factor
	MayDrop  bool   // and it may be taken away
	Sessions []SignedInRow
}

// File names the template.
func (*MePage) File() string { return "me" }
