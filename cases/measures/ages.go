package measures

import (
	"cmp"
	"fmt"
	"slices"

	"dunlin/cases"
)

// OpenCase is an open case as the ageing of open cases counts it.
type OpenCase struct {
	Reference string
	Age       int // days
	// Late is how many days the next step is late: 0 when it is due today, below 0
	// when it is not due yet or has no due day.
	Late  int
	Step  string // of cases.Step
	Owner string // the person in charge; "" for nobody
	Site  string // of the first collection, else of the last appointment; "" for none
}

// OpenCaseOf reads a case and its assessment; ok is false when it is closed or came
// from a test message.
func OpenCaseOf(c *cases.Case, a *cases.Assessment) (o OpenCase, ok bool) {
	if a.Closed || c.TestMessage {
		return o, false
	}
	m := cases.MilestonesOf(c, a)
	o = OpenCase{Reference: c.Reference, Age: max(0, int(a.On-c.Infant.Born)), Late: -1, Step: string(a.Next.Step), Owner: c.Owner, Site: m.Site}
	if a.Next.Due != 0 {
		o.Late = int(a.On - a.Next.Due)
	}
	return o, true
}

// Dimension is what open cases are counted by.
type Dimension string

// The dimensions.
const (
	ByAge   Dimension = "age"
	ByLate  Dimension = "late"
	ByOwner Dimension = "owner"
	BySite  Dimension = "site"
	ByStep  Dimension = "step"
)

// lateBands are the groups of days late by their first day.
var lateBands = []struct {
	from int
	key  string
}{{-1 << 31, "on-time"}, {0, "today"}, {1, "1-3"}, {4, "4-7"}, {8, "8-14"}, {15, "15-"}}

// Nobody is the key of the group of cases without an owner, or without a site.
const Nobody = "-"

// Key is the group of a dimension that a case belongs to: "28-41" and "180-" of ages,
// "on-time", "today", "1-3" and "15-" of days late, else the name itself, or Nobody.
func (o OpenCase) Key(d Dimension) string {
	switch d {
	case ByAge:
		i, found := slices.BinarySearch(ageBands, o.Age)
		if !found {
			i--
		}
		return ageKey(i)
	case ByLate:
		key := ""
		for _, b := range lateBands {
			if o.Late >= b.from {
				key = b.key
			}
		}
		return key
	case ByOwner:
		return cmp.Or(o.Owner, Nobody)
	case BySite:
		return cmp.Or(o.Site, Nobody)
	}
	return o.Step
}

func ageKey(i int) string {
	if i == len(ageBands)-1 {
		return fmt.Sprintf("%d-", ageBands[i])
	}
	return fmt.Sprintf("%d-%d", ageBands[i], ageBands[i+1]-1)
}

// steps are in the order in which the day's list shows cases.
var steps = []cases.Step{cases.StepReferAtOnce, cases.StepVerify, cases.StepRecordResult, cases.StepDecide, cases.StepAwaitTest, cases.StepRepeatTest,
	cases.StepTellPrimary, cases.StepReachFamily, cases.StepClearHold, cases.StepReweigh, cases.StepBookTest, cases.StepLookAgain}

// keys are the groups of a dimension in order: all bands, and of the others those
// that occur, Nobody last.
func (d Dimension) keys(open []OpenCase) []string {
	var out []string
	switch d {
	case ByAge:
		for i := range ageBands {
			out = append(out, ageKey(i))
		}
		return out
	case ByLate:
		for _, b := range lateBands {
			out = append(out, b.key)
		}
		return out
	}
	for _, o := range open {
		if k := o.Key(d); !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		return cmp.Or(cmp.Compare(d.place(a), d.place(b)), cmp.Compare(a, b))
	})
	return out
}

// place orders groups that do not go by name alone.
func (d Dimension) place(key string) int {
	switch {
	case d == ByStep:
		return slices.Index(steps, cases.Step(key))
	case key == Nobody:
		return 1
	}
	return 0
}

// Ageing counts open cases by two dimensions, as a table with its totals: the last row
// and the last column of Cells are the totals. Without an open case it has no cells.
type Ageing struct {
	Rows, Columns       Dimension
	RowKeys, ColumnKeys []string
	Cells               [][]Cell
}

// AgeOpen counts open cases by two different dimensions, small counts hidden by a rule
// with what they could be worked out from. Several such tables of the same cases can be
// set against each other, so a page shows one.
func AgeOpen(open []OpenCase, rows, columns Dimension, rule SmallNumbers) Ageing {
	t := Ageing{Rows: rows, Columns: columns}
	if len(open) == 0 {
		return t
	}
	t.RowKeys, t.ColumnKeys = rows.keys(open), columns.keys(open)
	counts := make([][]int, len(t.RowKeys))
	for i := range counts {
		counts[i] = make([]int, len(t.ColumnKeys))
	}
	for _, o := range open {
		counts[slices.Index(t.RowKeys, o.Key(rows))][slices.Index(t.ColumnKeys, o.Key(columns))]++
	}
	t.Cells = Hide(counts, rule).Cells
	return t
}
