package templates

// DaySheetPage is the day sheet of a clinic session, to be printed.
type DaySheetPage struct {
	Base
	Back, PDF string // addresses
	Sheet     DaySheet
}

// File names the template.
func (*DaySheetPage) File() string { return "day-sheet" }

// DaySheet is what the page and the PDF of a clinic day hold, in words. It is made for
// paper: one infant a box, ticks and lines to fill in by hand, no color.
type DaySheet struct {
	Title   string // "Day sheet: Monday 9 March 2026, 13:00 to 14:30"
	Where   string // site, address, phone, note of the session
	Count   string // "3 infants"
	Made    string // "Printed 5 Mar 2026, 08:52, by Dagny Achterberg"
	Warning string // the session is cancelled, or the site closed that day
	Care    []string
	Infants []SheetInfant
	None    string // instead of infants
	Enter   string // where to enter what was written
	Keep    string // keep locked, shred
}

// SheetInfant is one infant's box on a day sheet.
type SheetInfant struct {
	Time, Name, Twin string
	Born, Age        string // "21 Jan 2026", "47 days that day"
	Corrected        string // corrected gestational age that day
	Reference        string
	Why              string // "Repeat, attempt 2: QNS on 14 Feb 2026"
	Interpreter      string // "Interpreter needed: Spanish"
	Weight           string // last measured
	Projected        string // "About 3.71 kg that day: estimate, weigh on the day"
	// Stop lists what speaks against the day as far as it is known, Override who decided
	// all the same and why, Holds the open holds.
	Stop     []string
	Override string
	Holds    []string
	Postpone []string // ticks: reasons to postpone or to ask first
	Checks   []string // ticks: the site of the collection
	Unit     string   // of the amount: "µL", "mg" or "µL or mg"
}

// SheetColumns are the heads of the table of arms, without the first; unit is that of
// the amount.
func SheetColumns(unit string) []string {
	return []string{"Induction began", "Induction ended", "Collection began", "Collection ended", "Amount, " + unit, "Skin after"}
}

// Columns are the heads of the infant's table of arms.
func (s *SheetInfant) Columns() []string { return SheetColumns(s.Unit) }

// SheetSkin are the ticks for the skin of an arm after the collection.
var SheetSkin = []string{"clear", "pink", "blister or burn"}

// Skin are the ticks of the last column.
func (*SheetInfant) Skin() []string { return SheetSkin }

// SheetTicks are said once for each infant: who it is.
const SheetTicks = "Name and birth date said by the parent"

// Identity is the tick of who it is.
func (*SheetInfant) Identity() string { return SheetTicks }
