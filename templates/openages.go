package templates

// OpenAgesPage counts open cases by age, lateness, person in charge, site and step.
type OpenAgesPage struct {
	Base
	Reports       []Tab
	Figures       Figures
	Files         []Tab // the figures as files
	Lead          string
	Rows, Columns Choice
	Says          []string
	Head          string   // of the rows: "Days late in the current step"
	Heads         []string // of the columns
	Table         []OpenAgesRow
	Terms         []string
}

// File names the template.
func (*OpenAgesPage) File() string { return "open-ages" }

// OpenAgesRow is one group of open cases; the last row holds the totals.
type OpenAgesRow struct {
	Name  string
	Total bool
	Cells []OpenAgesCell
}

// OpenAgesCell is one count, a link to its cases for who may see them.
type OpenAgesCell struct {
	Head  string // of its column
	Text  string // the count, or "hidden"
	Link  string
	Label string // of the link, in words
	Total bool
}

// OpenCasesPage lists the open cases behind one count.
type OpenCasesPage struct {
	Base
	Reports []Tab
	Head    string
	Lead    string
	Back    string
	Rows    []OpenCaseRow
	Pager   Pager
}

// File names the template.
func (*OpenCasesPage) File() string { return "open-cases" }

// OpenCaseRow is one open case.
type OpenCaseRow struct {
	Who
	Reason      Tag
	Next        string
	Late        Tag
	Owner, Site string
}
