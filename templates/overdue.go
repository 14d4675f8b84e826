package templates

import (
	"html/template"
	"strconv"
	"strings"
)

// OverduePage is the ranked list of infants whose next step is late or due today.
type OverduePage struct {
	Base
	On      Date
	Total   int    // infants on the whole list, before a reason is chosen
	Made    string // how the list came about: "Made at 06:00 by the daily job, last updated 08:40."
	Chips   []Chip
	Why     string // key of the chosen reason; "" all
	Rows    []*OverdueRow
	Order   string // the rule of the order in words
	Showing string // "Showing all 23." or "Showing 1 to 200 of 412."
	Pager   Pager
	Scale   Scale
	Done    []DoneRow
	Log     LogForm // fields of the contact panel, once for all rows
	CanLog  bool    // the user may record contacts
	Next    string  // what is due next, when nothing is overdue
	NoCases bool    // the store holds no infant yet
	Earlier Link    // yesterday's kept list
	Mail    Note    // only while mail may be waiting unread; its Head is empty otherwise
}

// File names the template.
func (*OverduePage) File() string { return "overdue" }

// Axis is the head of the strip column.
func (p *OverduePage) Axis() template.HTML { return StripAxis(p.Scale) }

// Chip is one reason with its number of infants, as a link that filters the list.
type Chip struct {
	Key, Text, Href string
	N               int
	Current         bool
}

// OverdueRow is one infant on the list.
type OverdueRow struct {
	Who
	Anchor string // id of the row: row-AB-2026-0042
	Rev    uint64
	Once   string
	Late   int    // days; 0 is due today
	Class  string // why it stands before others, in words; empty for the ordinary class
	Tag    Tag
	Fact   string // "14 Feb 2026: QNS"
	Due    string // "First test was due 18 Feb 2026"
	Strip  Strip
	Do     string // verb first: "Book a repeat test"
	By     string // who and by when
	Book   bool   // a place can be found for this infant
	Last   string // "27 Feb 2026, phone, family"; "None yet"
	LastOf string // "Left message, no health detail. Try 3"
	Flags  string // contact flags in words: "No voicemail. Custody: ask first"
	CanLog bool   // the user may record contacts
	Short  bool   // one line
}

// Attrs are the attributes by which the script opens the contact panel of the
// row and sends its form. They are written at once: a list has 200 rows.
func (r *OverdueRow) Attrs() template.HTMLAttr {
	ref := template.HTMLEscapeString(r.Reference)
	var b strings.Builder
	for _, a := range [...][2]string{{"id", r.Anchor}, {"data-drawer", "log-" + ref}, {"data-ref", ref}, {"data-post", "/infants/" + ref + "/contacts"},
		{"data-rev", strconv.FormatUint(r.Rev, 10)}, {"data-once", r.Once}, {"data-who", template.HTMLEscapeString(r.Name) + ", " + ref}} {
		b.WriteString(" " + a[0] + `="` + a[1] + `"`)
	}
	return template.HTMLAttr(b.String()[1:])
}

// DoneRow is an infant who left the list today.
type DoneRow struct {
	Who
	What string // "Repeat booked for Tue 10 Mar 2026."
	When string // "08:12, you."
}

// Pager leads through a long list.
type Pager struct {
	Page, Pages int
	Prev, Next  string // addresses; empty at the ends
}

// LogForm holds the fields that log a contact.
type LogForm struct {
	With, By, Outcome    Choice
	On, At, Person, Used Field
	Note, NextTry        Field
	Caution              string
}

// LogPage logs a contact without the panel: for a browser without script, and
// after a problem.
type LogPage struct {
	Base
	Reference string
	Log       LogForm
	Flags     string // contact flags in words
	Phones    []Fact
	Back      string // address of the page it was opened from
	Go        bool   // offer "Save and go to next infant"
}

// File names the template.
func (*LogPage) File() string { return "contact" }

// DayListPage is the kept list of one day, and the list as it is printed.
type DayListPage struct {
	Base
	On      Date
	Head    string // "Overdue list of Wednesday 4 March 2026"
	Lead    string // when it was made and from what
	Rows    []DayRow
	Order   string
	Printed string // "Printed 5 Mar 2026, 08:41, by Wren Castellano"
	Earlier Link
	Later   Link
	NoList  bool // no list was made on that day
}

// File names the template.
func (*DayListPage) File() string { return "overdue-day" }

// DayRow is one infant on a kept or printed list.
type DayRow struct {
	Who
	Late          int
	Why, Due, Do  string
	Phone         string
	State         string // what became of it since: "Closed", "Not on the list now"
	LastContacted string
}
