package templates

// OutlookPage compares who becomes ready in the weeks ahead with the free places.
type OutlookPage struct {
	Base
	Lead    string
	Chart   WeekChart
	All     OutlookTable
	Sites   []OutlookTable
	Nowhere []OutlookInfant
	Undated []OutlookInfant
	Terms   []string
	MayBook bool
}

// File names the template.
func (*OutlookPage) File() string { return "outlook" }

// OutlookTable is the weeks of one site, or of all.
type OutlookTable struct {
	ID, Name string
	State    Tag
	Finding  string
	Sessions Link // where sessions are added; empty for all sites
	Weeks    []OutlookWeek
	Sum      OutlookWeek
}

// OutlookWeek is seven days. The addresses open the infants counted; "" for none.
type OutlookWeek struct {
	From, To                   Date
	Ready, Free, Kept, Waiting int
	ReadyAt, WaitingAt, FreeAt string
}

// OutlookInfantsPage lists the infants behind one number.
type OutlookInfantsPage struct {
	Base
	Head, Lead string
	Back       string
	Rows       []OutlookInfant
	MayBook    bool
}

// File names the template.
func (*OutlookInfantsPage) File() string { return "outlook-infants" }

// OutlookInfant is one infant that waits for a place.
type OutlookInfant struct {
	Who
	For  string // "first test", "repeat", "re-test"
	From string // "Thu 12 Mar 2026" or why no day can be planned
	Why  string
	Due  string
	Late Tag
	Href string // where a place is booked
}
