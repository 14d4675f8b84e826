package templates

// ClinicSessionPage is one session of a test site: who comes when, and what became of
// each.
type ClinicSessionPage struct {
	Base
	Head     string // "Alder Bay CF Clinic, Monday 9 March 2026"
	Lead     string // times, places, note
	Where    string // address
	Phone    string
	State    Tag // cancelled, closed that day
	Stranded string
	From     string // added to addresses, so that forms lead back here
	Sheet    string // address of the day sheet
	PDF      string
	Calendar string // address of the calendar file; empty without one
	Sessions string // address of the site's sessions
	Rows     []ClinicPlace
	None     string
	MayBook  bool
	MayTest  bool
	Cautions []string
}

// File names the template.
func (*ClinicSessionPage) File() string { return "clinic-session" }

// ClinicPlace is one place of a session: free, or with who has it.
type ClinicPlace struct {
	At   string
	Free string // "Free", "Free, kept for repeats"; empty when somebody has the place
	Appointment
	Interpreter string
	Stop        []string // what speaks against the day, as far as is known
	Override    string   // who decided all the same, and why
	Calendar    string   // address of the family's calendar file
	Missed      bool     // marked as missed: may be put right
	Ahead       bool     // its time has not come
}
