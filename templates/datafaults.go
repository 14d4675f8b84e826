package templates

// DataFaultsPage lists what is missing or cannot be so in what is recorded: the kinds
// with their counts, and the cases of one kind.
type DataFaultsPage struct {
	Base
	Reports  []Tab
	Lead     string // "12 of 84 cases have something to look at."
	Kind     Choice
	From, To Field // referred from and to
	State    Choice
	Kinds    []FaultKind
	List     *FaultList // of the chosen kind; nil for none
	Looked   string     // how duplicates were looked for
	AsOf     Date
}

// File names the template.
func (*DataFaultsPage) File() string { return "data-faults" }

// FaultKind is one kind with how many cases have it.
type FaultKind struct {
	Name, Means string
	Cases       int
	Href        string // of its list
	Current     bool
}

// FaultList is the cases of one kind.
type FaultList struct {
	Name, Means, Do string
	Cases           int
	Rows            []FaultRow
	Pager           Pager
}

// Counted says how many cases there are; empty for none.
func (l *FaultList) Counted() string {
	if l.Cases == 0 {
		return ""
	}
	return Count(l.Cases, "case", "cases")
}

// FaultRow is one case with what is wrong.
type FaultRow struct {
	Reference string
	Href      string // of the part of the case page; empty for who may not see cases
	Referred  Date
	State     string // Open, or Closed with the day
	Words     []string
	Others    []FaultOther // other cases that it is about
}

// FaultOther is another case.
type FaultOther struct {
	Reference, Href string
	Compare         string // the page that sets both side by side and asks; may be empty
}
