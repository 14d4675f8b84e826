package measures

import "math"

// A table with its totals is a network in which flow goes round: from each row to
// each column by the counts, from a column to the totals row, on to the totals
// column by the grand total, and back to each row by the row totals. What flows
// into a point flows out of it: those are the sums. Cells that are shown are fixed;
// what a hidden cell can be is then as much as the network can carry more, or less,
// round through it. The ranges are exact whole numbers.
type grid struct {
	rows, cols int // without totals
	edges      []cellEdge
	out        [][]half // by point: rows, totals row, columns, totals column
}

type cellEdge struct {
	row, col int // in the table with totals
	from, to int
	n        int
	hidden   bool
	small    bool
	cost     int // of hiding it
}

// half is one direction of an edge.
type half struct {
	edge    int
	forward bool
}

// costs of hiding: a count costs itself and one; a total far more than any count.
const (
	totalCost = 1 << 20
	grandCost = 1 << 40
)

const boundless = math.MaxInt / 4

func newGrid(counts [][]int) *grid {
	g := &grid{rows: len(counts)}
	if g.rows > 0 {
		g.cols = len(counts[0])
	}
	g.out = make([][]half, g.rows+g.cols+2)
	rowSum, colSum, all := make([]int, g.rows), make([]int, g.cols), 0
	for i, row := range counts {
		for j, n := range row {
			rowSum[i] += n
			colSum[j] += n
			all += n
			g.add(i, j, g.row(i), g.col(j), n, n+1)
		}
	}
	for i, n := range rowSum {
		g.add(i, g.cols, g.col(g.cols), g.row(i), n, totalCost+n)
	}
	for j, n := range colSum {
		g.add(g.rows, j, g.col(j), g.row(g.rows), n, totalCost+n)
	}
	g.add(g.rows, g.cols, g.row(g.rows), g.col(g.cols), all, grandCost)
	if g.cols == 1 { // a list: its row totals say the same again
		for i := range g.rows {
			g.at(i, 1).hidden = true
		}
		g.at(g.rows, 1).hidden = true
	}
	return g
}

func (g *grid) row(i int) int { return i }
func (g *grid) col(j int) int { return g.rows + 1 + j }

func (g *grid) add(row, col, from, to, n, cost int) {
	e := len(g.edges)
	g.edges = append(g.edges, cellEdge{row: row, col: col, from: from, to: to, n: n, cost: cost})
	g.out[from] = append(g.out[from], half{e, true})
	g.out[to] = append(g.out[to], half{e, false})
}

func (g *grid) at(row, col int) *cellEdge {
	for e := range g.edges {
		if g.edges[e].row == row && g.edges[e].col == col {
			return &g.edges[e]
		}
	}
	return nil
}

// hideSmall hides what the rule hides, and gives the places of those cells.
func (g *grid) hideSmall(rule SmallNumbers) []int {
	var small []int
	for e := range g.edges {
		x := &g.edges[e]
		again := g.cols == 1 && x.col == 1
		if rule.Small(x.n) && !again {
			x.hidden, x.small = true, true
			small = append(small, e)
		}
	}
	return small
}

// spread is how much less and how much more a hidden cell can be, each up to
// enough.
func (g *grid) spread(e, enough int) (less, more int) {
	x := &g.edges[e]
	f := g.flow(e)
	more = f.push(x.to, x.from, enough, false)
	f = g.flow(e)
	less = f.push(x.from, x.to, min(x.n, enough), false)
	return less, more
}

// Ranges gives the least and the most that each hidden cell of a table can be for
// a reader who knows the cells that are shown; most is -1 without a bound. hidden
// has the shape of the table with its totals.
func Ranges(counts [][]int, hidden [][]bool) (least, most [][]int) {
	g := newGrid(counts)
	for e := range g.edges {
		x := &g.edges[e]
		x.hidden = x.hidden || hidden[x.row][x.col]
	}
	for range g.rows + 1 {
		least, most = append(least, make([]int, g.cols+1)), append(most, make([]int, g.cols+1))
	}
	for e := range g.edges {
		x := &g.edges[e]
		lo, hi := x.n, x.n
		if x.hidden {
			less, more := g.spread(e, boundless)
			if lo, hi = x.n-less, x.n+more; more >= boundless {
				hi = -1
			}
		}
		least[x.row][x.col], most[x.row][x.col] = lo, hi
	}
	return least, most
}

// protect hides further cells until a hidden small cell can have enough values.
func (g *grid) protect(e, width int) {
	x := &g.edges[e]
	less, _ := g.spread(e, width)
	f := g.flow(e)
	f.push(x.to, x.from, width-less, true)
	for _, h := range f.used {
		g.edges[h].hidden = true
	}
}

// safe tells whether every small cell can have enough values.
func (g *grid) safe(small []int, width int) bool {
	for _, e := range small {
		if less, more := g.spread(e, width); less+more < width {
			return false
		}
	}
	return true
}

// mostShown bounds the work of looking whether each further cell is needed.
const mostShown = 400

// show takes back, from the largest on, the further cells that are not needed
// after all, because a later choice made an earlier one idle.
func (g *grid) show(small []int, width int) {
	if len(g.edges) > mostShown {
		return
	}
	tried := make([]bool, len(g.edges))
	for {
		best := -1
		for e := range g.edges {
			x := &g.edges[e]
			again := g.cols == 1 && x.col == 1
			if x.hidden && !x.small && !again && !tried[e] && (best < 0 || x.cost > g.edges[best].cost) {
				best = e
			}
		}
		if best < 0 {
			return
		}
		tried[best] = true
		g.edges[best].hidden = false
		if !g.safe(small, width) {
			g.edges[best].hidden = true
		}
	}
}

func (g *grid) masked(few int) Masked {
	m := Masked{Few: few}
	for range g.rows + 1 {
		m.Cells = append(m.Cells, make([]Cell, g.cols+1))
	}
	for e := range g.edges {
		x := &g.edges[e]
		c := Cell{N: x.n, Hidden: x.hidden}
		if x.hidden {
			c.N = 0
			if again := g.cols == 1 && x.col == 1; !x.small && !again {
				m.More++
			}
		}
		m.Cells[x.row][x.col] = c
	}
	return m
}
