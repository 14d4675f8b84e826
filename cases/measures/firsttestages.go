package measures

import (
	"slices"
	"strconv"
	"time"

	"dunlin/cases"
)

// AgesTally collects the ages at the first test by quarter of birth from one case
// after the other. A first test is any chloride collection, QNS included.
type AgesTally struct {
	w  Window
	of map[cases.Day]*waitTally // by first day of the quarter
}

// NewAgesTally starts an empty collection of the cases referred in a window.
func NewAgesTally(w Window) *AgesTally { return &AgesTally{w: w, of: map[cases.Day]*waitTally{}} }

// Add counts a case, unless it lies outside of the window or came from a test message.
func (t *AgesTally) Add(m *cases.Milestones) {
	r := RecordOf(m)
	if m.Marks&cases.MarkTestMessage != 0 || !t.w.holds(r) {
		return
	}
	quarter := QuarterOf(m.Born)
	q := t.of[quarter]
	if q == nil {
		q = &waitTally{}
		t.of[quarter] = q
	}
	q.add(r.toTest(m.Born, t.w.AsOf), !r.open(t.w.AsOf) || r.Died != 0 && r.Died <= t.w.AsOf)
}

// QuarterOf is the first day of the quarter of the year that a day lies in.
func QuarterOf(d cases.Day) cases.Day {
	year, month, _ := d.Date()
	return cases.MakeDay(year, time.Month((month-1)/3*3+1), 1)
}

// QuarterWords names a quarter by its first day: "Jan to Mar 2026".
func QuarterWords(from cases.Day) string {
	year, month, _ := from.Date()
	return time.Month(month).String()[:3] + " to " + time.Month(month + 2).String()[:3] + " " + strconv.Itoa(year)
}

// QuarterAges are the ages at the first test of the infants born in one quarter. The
// quantiles are those of Kaplan-Meier, so that infants not yet tested count.
type QuarterAges struct {
	From     cases.Day  // first day of the quarter
	Tested   Cell       // infants with a first test
	Untested Cell       // without one, still waiting or left
	Ages     []AgeCount // of each infant tested, in order; nil when small numbers are hidden
	Quarter, Median,
	ThreeQuarters Quantile // empty when the number tested is hidden
}

// AgeCount is how many infants had their first test at an age in days.
type AgeCount struct{ Age, N int }

// Report lists the quarters in order. With a rule that hides small numbers no single
// age is given, and a quarter of too few infants, or one from which theirs could be
// worked out, keeps its name alone.
func (t *AgesTally) Report(rule SmallNumbers) []QuarterAges {
	var quarters []cases.Day
	for d := range t.of {
		quarters = append(quarters, d)
	}
	slices.Sort(quarters)
	if len(quarters) == 0 {
		return nil
	}
	counts := make([][]int, len(quarters))
	for i, d := range quarters {
		q := t.of[d]
		counts[i] = []int{q.done, q.waiting + q.left}
	}
	shown := Hide(counts, rule)
	out := make([]QuarterAges, len(quarters))
	for i, d := range quarters {
		q, o := t.of[d], &out[i]
		o.From, o.Tested, o.Untested = d, shown.Cells[i][0], shown.Cells[i][1]
		if o.Tested.Hidden {
			continue
		}
		m := q.measure()
		o.Quarter, o.Median, o.ThreeQuarters = m.Quarter, m.Median, m.ThreeQuarters
		if rule.Below > 1 {
			continue
		}
		q.each(func(age int, n *dayCount) {
			if n.events > 0 {
				o.Ages = append(o.Ages, AgeCount{age, int(n.events)})
			}
		})
	}
	return out
}
