package templates

// SitesPage lists the test sites.
type SitesPage struct {
	Base
	Lead    string
	Links   []Tab
	Rows    []SiteRow
	MayEdit bool
}

// SiteRow is one test site.
type SiteRow struct {
	Href, Sessions string // addresses of the site and of its sessions
	Name, Key      string
	Address, Phone string
	Accepts        string // in words
	Opens          string // weekdays and closed days in words
	Languages      string
	Next           string // its next session in words
	State          Tag
}

// File names the template.
func (*SitesPage) File() string { return "sites" }

// SitePage adds or changes one test site; without MayEdit it shows the facts.
type SitePage struct {
	Base
	Head     string
	Links    []Tab
	Action   string
	Was      string // mark of the site as the form was made from it
	MayEdit  bool
	Sessions string // address of its sessions; "" for a new site
	Facts    []Fact

	Who, Where, Takes []Field // who they are; the position; whom they test
	Collectors        Choice
	Weekdays          Choice
	Holidays          Choice
	Closed            Field
	Retired           Choice
}

// File names the template.
func (*SitePage) File() string { return "site" }

// SiteTablePage takes in a table of test sites or of sessions.
type SiteTablePage struct {
	Base
	Links   []Tab
	Kind    Choice // sites or sessions
	Upload  Field
	Columns []Fact // what the columns are
	Faults  []IntakeProblem
}

// File names the template.
func (*SiteTablePage) File() string { return "site-table" }

// SessionsPage lists the sessions of one site in the weeks ahead.
type SessionsPage struct {
	Base
	Head, Lead string
	Site       string // address of the site
	Links      []Tab
	MayEdit    bool
	New, Table string // addresses: add a session; the sessions as a table
	Ahead      string // which sessions are shown: "The next 8 weeks"
	All        string // address of the page with later ones too; empty when it shows them
	Rows       []SessionRow
}

// SessionRow is one session with its places in words.
type SessionRow struct {
	Href     string // "" when it cannot be changed
	On       Date
	Time     string // 09:30 to 12:10
	Places   string // 2 of 4 free, 1 kept for repeats
	Each     string // length of one place
	Note     string
	State    Tag
	Stranded []Sibling // booked here and to be moved by hand
}

// File names the template.
func (*SessionsPage) File() string { return "sessions" }

// SessionPage adds sessions or changes one.
type SessionPage struct {
	Base
	Head, Lead string
	Links      []Tab
	Action     string
	Back       string
	Was        string
	Button     string
	Fields     []Field
	Booked     []SessionSeat
	Cancel     *CancelSession
}

// SessionSeat is who has a place of a session.
type SessionSeat struct{ At, Reference string }

// CancelSession cancels a session, or opens a cancelled one again.
type CancelSession struct {
	Action    string
	Cancelled bool
	Reason    Field
}

// File names the template.
func (*SessionPage) File() string { return "session" }
