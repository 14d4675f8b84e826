package templates

// ExportsPage is where data about cases leave the program as files, with who took
// which lately.
type ExportsPage struct {
	Base
	Reports []Tab
	Lead    string
	Forms   []ExportForm
	Recent  []ExportRow
	Days    int    // how far back Recent goes
	Total   string // "3 files"
}

// ExportForm is one kind of file with its form.
type ExportForm struct {
	ID, Head, Lead string
	Notes          []string // what to know before
	Action, Button string
	Fields         []Field
	Format         Choice
	Which          Choice // may have no options
	Last           []Field
}

// ExportRow is one file that left.
type ExportRow struct {
	On        Date
	At        string
	Who       string
	What, Why string
}

// File names the template.
func (*ExportsPage) File() string { return "exports" }
