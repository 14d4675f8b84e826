package measures

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// Question says which interval is asked about, of which cases, and how they are
// divided. Empty filters take every case.
type Question struct {
	From Milestone `json:"from"`
	To   Milestone `json:"to"`
	// By is the day that Window bounds: ByReferral or ByBirth. A cohort is never
	// chosen by its closings, which would leave the open cases out.
	By       string `json:"cohort_by"`
	Window   `json:"window"`
	Route    string `json:"route,omitempty"`
	Class    string `json:"class,omitempty"` // "", Ready, NotReady
	Site     string `json:"site,omitempty"`
	Language string `json:"language,omitempty"`
	County   string `json:"county,omitempty"`
	Group    string `json:"group,omitempty"` // a key of GroupingList, or ""
}

// The days that can choose a cohort, and the classes of readiness.
const (
	ByReferral = "referral"
	ByBirth    = "birth"
	Ready      = "ready"     // could be ready for a test by day 28
	NotReady   = "not-ready" // could not: the exception of the first-test clock
)

// NotRecorded chooses, as a filter of site, language or county, the cases without one,
// and names their group.
const NotRecorded = notKnown

// Faults says in words what is wrong with the question; nothing when it can be asked.
func (q Question) Faults() []string {
	var out []string
	from, to := q.From.place(), q.To.place()
	switch {
	case from < 0:
		out = append(out, fmt.Sprintf("There is no milestone %q to count from. Choose one of: %s.", q.From, milestoneKeys()))
	case to < 0:
		out = append(out, fmt.Sprintf("There is no milestone %q to count to. Choose one of: %s.", q.To, milestoneKeys()))
	case from >= to:
		out = append(out, fmt.Sprintf("An interval from %s to %s cannot be counted: the second milestone must come after the first in this order: %s.", q.From.Name(), q.To.Name(), milestoneNames()))
	case q.From == Determination:
		out = append(out, "Determination and closure are the same day: choose an earlier milestone to count from.")
	}
	if q.By != ByReferral && q.By != ByBirth {
		out = append(out, fmt.Sprintf("A cohort is chosen by referral or by birth, not by %q.", q.By))
	}
	if q.Window.From != 0 && q.Window.To != 0 && q.Window.To < q.Window.From {
		out = append(out, fmt.Sprintf("The last day of the window, %s, is before its first day, %s. Change one of them.", q.Window.To, q.Window.From))
	}
	if q.Class != "" && q.Class != Ready && q.Class != NotReady {
		out = append(out, fmt.Sprintf("There is no class %q: choose %q, %q, or leave it empty.", q.Class, Ready, NotReady))
	}
	if _, ok := groupingOf(q.Group); !ok {
		out = append(out, fmt.Sprintf("Cases cannot be grouped by %q. Choose one of: %s.", q.Group, groupingKeys()))
	}
	return out
}

func milestoneKeys() string {
	return listOf(func(m *MilestoneInfo) string { return string(m.Key) })
}

func milestoneNames() string {
	return listOf(func(m *MilestoneInfo) string { return m.Name })
}

func listOf(f func(*MilestoneInfo) string) string {
	var out []string
	for i := range milestoneList {
		out = append(out, f(&milestoneList[i]))
	}
	return strings.Join(out, ", ")
}

// Reads gives the days of referral between which the cases of the question lie, for
// reading no others: a cohort by birth was referred on or after its birth.
func (q Question) Reads() (from, to cases.Day) {
	to = q.AsOf
	if q.Window.To != 0 && q.By != ByBirth {
		to = min(to, q.Window.To)
	}
	return q.Window.From, to
}

// Interval names the interval: "referral to closure".
func (q Question) Interval() string { return q.From.Name() + " to " + q.To.Name() }

// Words says in one sentence which cases are counted.
func (q Question) Words() string {
	verb := "referred"
	if q.By == ByBirth {
		verb = "born"
	}
	s := ""
	switch w := q.Window; {
	case w.From != 0 && w.To != 0:
		s = fmt.Sprintf("Infants %s from %s to %s", verb, w.From, w.To)
	case w.From != 0:
		s = fmt.Sprintf("Infants %s on or after %s", verb, w.From)
	case w.To != 0:
		s = fmt.Sprintf("Infants %s on or before %s", verb, w.To)
	default:
		s = "All infants " + verb
	}
	for _, f := range []struct{ name, value string }{{"referred by", q.Route}, {"site", q.Site}, {"language", q.Language}, {"county", q.County}} {
		if f.value != "" {
			s += ", " + f.name + " " + f.value
		}
	}
	switch q.Class {
	case Ready:
		s += ", who could be ready for a test by day 28"
	case NotReady:
		s += ", who could not be ready for a test by day 28"
	}
	return fmt.Sprintf("%s, followed to %s.", s, q.AsOf)
}

// holds tells whether a case is one of the question's.
func (q *Question) holds(m *cases.Milestones) bool {
	if m.Marks&cases.MarkTestMessage != 0 || m.Referred > q.AsOf || m.Born > q.AsOf {
		return false
	}
	day := q.cohortDay(m)
	switch w := &q.Window; {
	case w.From != 0 && day < w.From, w.To != 0 && day > w.To:
		return false
	case q.Route != "" && q.Route != m.Route, !matches(q.Site, m.Site), !matches(q.Language, m.Language), !matches(q.County, countyOf(m)):
		return false
	}
	return q.Class == "" || q.Class == classOf(m)
}

func (q *Question) cohortDay(m *cases.Milestones) cases.Day {
	if q.By == ByBirth {
		return m.Born
	}
	return m.Referred
}

func matches(filter, value string) bool {
	return filter == "" || filter == value || filter == NotRecorded && value == "" || strings.EqualFold(filter, value)
}

func classOf(m *cases.Milestones) string { return [2]string{Ready, NotReady}[classIndex(m)] }

func classIndex(m *cases.Milestones) int {
	if m.Marks&cases.MarkException != 0 {
		return 1
	}
	return 0
}

// GroupingInfo names a way to divide the cases.
type GroupingInfo struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	of   func(*Question, *cases.Milestones) string
	// ranks lists the groups that have an order of their own.
	ranks []string
}

var variantNames = []string{"two CF-causing variants", "one CF-causing and another variant", "one CF-causing variant", "other variants only", "no variant recorded"}

var classNames = []string{"could be ready by day 28", "could not be ready by day 28"}

var groupingList = []GroupingInfo{
	{Key: "", Name: "not grouped"},
	{Key: "site", Name: "test site", of: func(_ *Question, m *cases.Milestones) string { return orNotKnown(m.Site) }},
	{Key: "language", Name: "language", of: func(_ *Question, m *cases.Milestones) string { return orNotKnown(m.Language) }},
	{Key: "county", Name: "county", of: func(_ *Question, m *cases.Milestones) string { return orNotKnown(countyOf(m)) }},
	{Key: "gestation", Name: "gestation", ranks: pretermWeeks.names, of: func(_ *Question, m *cases.Milestones) string { return GestationBand(m.Gestation) }},
	{Key: "variants", Name: "variants", ranks: variantNames, of: func(_ *Question, m *cases.Milestones) string { return VariantGroup(m.Alleles) }},
	{Key: "year", Name: "year of the cohort", of: func(q *Question, m *cases.Milestones) string { return yearName(q.cohortDay(m)) }},
	{Key: "class", Name: "ready by day 28", ranks: classNames, of: func(_ *Question, m *cases.Milestones) string { return classNames[classIndex(m)] }},
}

// GroupingList lists the ways to divide the cases; the first does not.
func GroupingList() []GroupingInfo { return append([]GroupingInfo(nil), groupingList...) }

func groupingOf(key string) (*GroupingInfo, bool) {
	for i := range groupingList {
		if groupingList[i].Key == key {
			return &groupingList[i], true
		}
	}
	return &groupingList[0], false
}

func groupingKeys() string {
	var out []string
	for _, g := range groupingList[1:] {
		out = append(out, g.Key)
	}
	return strings.Join(out, ", ")
}

// rank orders the groups that have an order; what is not recorded comes last.
func (g *GroupingInfo) rank(name string) int {
	if name == notKnown {
		return 1 << 30
	}
	if name == otherGroups {
		return 1 << 29
	}
	return slices.Index(g.ranks, name)
}

// VariantGroup names what is known of the two alleles.
func VariantGroup(a cases.Alleles) string {
	rest := a.Varying + a.Unknown + a.NonCausing
	switch {
	case a.CFCausing >= 2:
		return variantNames[0]
	case a.CFCausing == 1 && rest > 0:
		return variantNames[1]
	case a.CFCausing == 1:
		return variantNames[2]
	case rest > 0:
		return variantNames[3]
	}
	return variantNames[4]
}

// countyOf is the county of the family's address, "" when not recorded.
func countyOf(m *cases.Milestones) string { return m.County }
