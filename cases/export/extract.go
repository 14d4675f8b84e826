package export

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// Extract gathers lines of cases without what identifies anybody, by the list of
// 45 CFR 164.514(b)(2): see safeHarbor for each of its 18 classes.
//
// The only date in a line is the year of birth. Everything else is an age in days,
// and no age depends on the day of the extract or on any other day that a reader may
// know: an open case is followed to the last thing recorded of it. A line is
// therefore the same for every day of birth of the year on which the same things
// happened at the same ages, which a test holds the package to. Years that are not
// over yet are left out, since a birth in one would lie between new year and today.
type Extract struct {
	from, to int // years of birth
	areas    map[string]bool
	lines    []line
}

// NewExtract begins an extract of the infants born in the years from to to, as of a
// day. areas are the first three digits of postal codes of areas with more than
// 20,000 people; the others are written as 000.
func NewExtract(from, to int, asOf cases.Day, areas []string) (*Extract, error) {
	this, _, _ := asOf.Date()
	switch {
	case from < 1900 || to < 1900:
		return nil, cases.FieldError("from_year", "must be a year, like %d", this-1)
	case to < from:
		return nil, cases.FieldError("to_year", "must be the first year or a later one")
	case to >= this:
		return nil, cases.FieldError("to_year", "must be %d or earlier: %d is not over, and a birth in it would lie in less than a year", this-1, to)
	}
	e := &Extract{from: from, to: to, areas: map[string]bool{}}
	for _, a := range areas {
		e.areas[a] = true
	}
	return e, nil
}

// ExtractHides says in the audit trail what an extract leaves out.
const ExtractHides = "Without what identifies anybody, by 45 CFR 164.514(b)(2)"

// Words says which cases are in it.
func (e *Extract) Words() string {
	if e.from == e.to {
		return fmt.Sprintf("Infants born in %d", e.from)
	}
	return fmt.Sprintf("Infants born from %d to %d", e.from, e.to)
}

// Len is the number of lines.
func (e *Extract) Len() int { return len(e.lines) }

// Add takes a case in, unless it was born in another year or came from a test
// message.
func (e *Extract) Add(m *cases.Milestones) {
	year, _, _ := m.Born.Date()
	if m.Marks&cases.MarkTestMessage != 0 || year < e.from || year > e.to {
		return
	}
	var l line
	for i := range extractColumns {
		l[i] = absent
	}
	for i, c := range extractColumns {
		if v, ok := c.of(e, m); ok {
			l[i] = int16(min(max(v, -absentBound), absentBound))
		}
	}
	e.lines = append(e.lines, l)
}

// Few tells that there are so few lines that each is somebody: from 1 to below - 1.
func (e *Extract) Few(below int) bool { return len(e.lines) > 0 && len(e.lines) < below }

// line is one case: a number for each column, packed so that 100,000 take 8 MB.
type line [extractWidth]int16

const (
	extractWidth = 40
	absent       = -1 << 15
	absentBound  = 1<<15 - 1
)

// Book is the extract as a file. Lines stand in the order of their values, so that
// their order tells nothing that they do not.
func (e *Extract) Book(program string) Book {
	slices.SortFunc(e.lines, func(a, b line) int { return slices.Compare(a[:], b[:]) })
	t := Table{Name: "extract"}
	for _, c := range extractColumns {
		t.Columns = append(t.Columns, c.Column)
	}
	t.Rows = func(add func([]Value) error) error {
		row := make([]Value, len(extractColumns))
		for i := range e.lines {
			for j, c := range extractColumns {
				row[j] = Value{}
				if v := e.lines[i][j]; v != absent {
					row[j] = c.say(int(v))
				}
			}
			if err := add(row); err != nil {
				return err
			}
		}
		return nil
	}
	return Book{Title: "De-identified extract", Tables: []Table{t, safeHarborTable()}, About: []Pair{
		{"Program", program}, {"Cases", e.Words()},
		{"De-identified", "By the list of 45 CFR 164.514(b)(2); the sheet safe_harbor says how each of its 18 classes is met. Whoever passes it on must not know that what is left could identify somebody; few lines, a rare disease and what a reader knows otherwise can still point at a child."},
		{"Ages", "Days since birth. The year of birth is the only date. Neither the day of the extract nor that of a referral is given, since an age with its day gives the birth date."},
		{"Open cases", "Followed to the last thing recorded (followed_to_age), not to the day of the extract. For times with open cases counted, censor there; that counts somewhat less waiting than the program's own reports."},
		{"Small numbers", "Lines are single cases: tables made from them need the program's rule for small counts."},
		{"Empty cells", "Not recorded, or it has not happened."},
	}}
}

// extractColumn is a column with what it takes from a case and how it is written.
type extractColumn struct {
	Column
	of  func(*Extract, *cases.Milestones) (int, bool)
	say func(int) Value
}

// word gives the place of a word in a list; ok is false when it is not in it, so
// that no other text can get into a line.
func word(list []string, s string) (int, bool) {
	i := slices.Index(list, s)
	return i, i >= 0
}

func sayWord(list []string) func(int) Value { return func(i int) Value { return Text(list[i]) } }

func sayYes(i int) Value { return Yes(i == 1) }

func yesNo(b bool) (int, bool) {
	if b {
		return 1, true
	}
	return 0, true
}

// state is a code of the address's state or territory, which the list allows.
func state(_ *Extract, m *cases.Milestones) (int, bool) {
	return word(states, strings.ToUpper(strings.TrimSpace(m.Region)))
}

// area is the first three digits of the postal code where the area is large enough.
func area(e *Extract, m *cases.Milestones) (int, bool) {
	p := m.Postal
	if p == "" {
		return 0, false
	}
	if len(p) != 3 || !e.areas[p] {
		return 0, true
	}
	n := 0
	for _, r := range p {
		if r < '0' || r > '9' {
			return 0, true
		}
		n = n*10 + int(r-'0')
	}
	return n, true
}

// language keeps the two that letters are written in; the rarer a language, the
// more it points at a family.
func language(_ *Extract, m *cases.Milestones) (int, bool) {
	base, _, _ := strings.Cut(strings.ToLower(m.Language), "-")
	if base == "" {
		return 0, false
	}
	if i, ok := word(languages[:2], base); ok {
		return i, true
	}
	return 2, true
}

// hundreds rounds grams to 100 g, so that no line has a weight of its own.
func hundreds(g int) (int, bool) { return (g + 50) / 100 * 100, g > 0 }

// age is the age in days on a day; nothing without one.
func age(day func(*cases.Milestones) cases.Day) func(*Extract, *cases.Milestones) (int, bool) {
	return func(_ *Extract, m *cases.Milestones) (int, bool) {
		d := day(m)
		return int(d - m.Born), d != 0
	}
}

// lastRecorded is the latest day on which anything of the case happened.
func lastRecorded(m *cases.Milestones) cases.Day {
	last := max(m.Referred, m.Collected, m.Reported, m.DoctorTold, m.FamilyReached, m.FirstTest, m.LastResult, m.Closed, m.Died)
	for _, t := range m.Tests {
		last = max(last, t.On)
	}
	for _, v := range m.Visits {
		if v.State == "kept" || v.State == "missed" {
			last = max(last, v.On)
		}
	}
	return last
}

var (
	languages = []string{"en", "es", "other"}
	routes    = []string{"screen", "clinical", "sibling", "prenatal", "meconium-ileus"}
	closures  = []string{"open", "cf", "crms-cfspid", "carrier", "not-affected", "other-diagnosis", "lost", "refused", "died", "moved", "duplicate"}
	outcomes  = []string{string(cases.Unlikely), string(cases.Intermediate), string(cases.ConsistentCF), string(cases.QNS), string(cases.ArmsDisagree), string(cases.Unverified), string(cases.NotResulted)}
	// states are the codes of the United States Postal Service for states, the
	// district and territories (from memory).
	states = strings.Fields("AK AL AR AS AZ CA CO CT DC DE FL GA GU HI IA ID IL IN KS KY LA MA MD ME MI MN MO MP MS MT NC ND NE NH NJ NM NV NY OH OK OR PA PR RI SC SD TN TX UT VA VI VT WA WI WV WY")
)
