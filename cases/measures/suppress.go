package measures

import (
	"encoding/json"
	"fmt"
)

// SmallNumbers is a program's rule for counts so small that they could point at a
// family: counts from 1 to Below-1 are hidden (a US federal rule hides 1 to 10,
// Below 11; several states use 5 or 6). HideZero hides zeros as well.
type SmallNumbers struct {
	Below    int  `json:"below"` // 0 and 1 hide nothing
	HideZero bool `json:"hide_zero,omitempty"`
}

// Small tells a count that the rule hides.
func (s SmallNumbers) Small(n int) bool {
	return n > 0 && n < s.Below || n == 0 && s.HideZero && s.Below > 1
}

// width is how many further values each hidden small count must be able to have
// for a reader who knows everything else that is shown: as many as the rule
// hides, so that nothing is learned beyond "small, or hidden for its neighbors".
func (s SmallNumbers) width() int { return s.Below - 1 }

// Cell is one count of a published table.
type Cell struct {
	N      int
	Hidden bool
}

// MarshalJSON gives the count, or null where it is hidden.
func (c Cell) MarshalJSON() ([]byte, error) {
	if c.Hidden {
		return []byte("null"), nil
	}
	return json.Marshal(c.N)
}

// String gives the count, or "hidden".
func (c Cell) String() string {
	if c.Hidden {
		return "hidden"
	}
	return fmt.Sprint(c.N)
}

// Masked is a table with its totals: the last row holds the totals of the columns,
// the last column those of the rows. A hidden cell keeps no count, so that it
// cannot be printed by mistake, and small counts look the same as the others that
// are hidden for them.
type Masked struct {
	Cells [][]Cell `json:"cells"`
	Few   int      `json:"hidden_small"` // cells hidden for their own count
	More  int      `json:"hidden_more"`  // cells hidden so that those cannot be worked out
}

// Hide suppresses the small counts of a table (rows of equal length, counts not
// negative) and as many further cells and totals as are needed that no small
// count can be worked out from rows, columns and totals, knowing that no count is
// negative. The further cells are chosen by least count along the cheapest way
// round; totals only where nothing else helps.
func Hide(counts [][]int, rule SmallNumbers) Masked {
	g := newGrid(counts)
	small := g.hideSmall(rule)
	for _, e := range small {
		g.protect(e, rule.width())
	}
	g.show(small, rule.width())
	return g.masked(len(small))
}

// HideRates suppresses counts that are parts of totals, such as tests with too
// little sweat of all tests by site: count and remainder of each total are two
// columns of one table with its totals. It gives the same proportions with shown
// false where the count cannot be published, and whether the total can.
func HideRates(props []Proportion, rule SmallNumbers) []HiddenRate {
	shown, _ := hideWithTotal(props, rule)
	return shown
}

// hideWithTotal gives the published total as well, without its rate.
func hideWithTotal(props []Proportion, rule SmallNumbers) (shown []HiddenRate, total HiddenRate) {
	counts := make([][]int, len(props))
	for i, p := range props {
		counts[i] = []int{p.Count, p.Of - p.Count}
	}
	m := Hide(counts, rule)
	shown = make([]HiddenRate, len(props))
	for i, p := range props {
		row := m.Cells[i]
		shown[i] = HiddenRate{Count: row[0], Of: row[2]}
		if !row[0].Hidden && !row[2].Hidden {
			shown[i].Rate, shown[i].Limits = p.Rate, p.Limits
		}
	}
	if len(props) > 0 {
		row := m.Cells[len(props)]
		total = HiddenRate{Count: row[0], Of: row[2]}
	}
	return shown, total
}

// HiddenRate is a proportion as it may be published; rate and limits are nil when
// the count or the total is hidden, since either follows from them.
type HiddenRate struct {
	Count  Cell      `json:"count"`
	Of     Cell      `json:"of"`
	Rate   *float64  `json:"rate"`
	Limits *Interval `json:"limits"`
}

// HideTotal suppresses a plain list of counts with its total, such as closures by
// reason.
func HideTotal(counts []int, rule SmallNumbers) (shown []Cell, total Cell) {
	rows := make([][]int, len(counts))
	for i, n := range counts {
		rows[i] = []int{n}
	}
	m := Hide(rows, rule)
	for i := range counts {
		shown = append(shown, m.Cells[i][0])
	}
	return shown, m.Cells[len(counts)][0]
}
