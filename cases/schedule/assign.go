package schedule

import "math"

// forbidden marks a pair that may never be put together. It is never added up.
const forbidden = math.MaxInt64

// matcher finds the cheapest assignment of rows to columns. A row may also stay alone
// at its own price, so that there always is an answer and nothing is forced. Method:
// shortest augmenting paths with prices (Kuhn 1955, Munkres 1957; the form with
// potentials is common practice), O(rows² columns).
//
// Kept true: u[r] + v[c] <= cost for every pair, = for pairs put together; v[c] <= 0,
// and = 0 for columns that nobody has; u[r] <= alone[r], and = for rows alone. So the
// cheapest assignments are exactly those that use pairs without slack and give away
// every column whose price is below 0.
type matcher struct {
	rows, cols int
	cost       []int64 // rows × cols
	alone      []int64
	u, v       []int64
	colOf      []int // column of a row, -1 while alone
	rowOf      []int // row of a column, -1 while free
	gone       []bool

	pairs   [][]pair // what each row may have
	dist    []int64
	from    []int // the column before, on the path
	done    []bool
	touched []int // columns with a distance that are not done
}

// pair is a column that a row may have, at a cost.
type pair struct {
	col  int
	cost int64
}

func newMatcher(cost []int64, alone []int64, cols int) *matcher {
	m := &matcher{rows: len(alone), cols: cols, cost: cost, alone: alone,
		u: make([]int64, len(alone)), v: make([]int64, cols), colOf: make([]int, len(alone)), rowOf: make([]int, cols),
		gone: make([]bool, cols), pairs: make([][]pair, len(alone)), dist: make([]int64, cols), from: make([]int, cols), done: make([]bool, cols)}
	for r := range m.colOf {
		m.colOf[r] = -1
		for c, k := range cost[r*cols : (r+1)*cols] {
			if k != forbidden {
				m.pairs[r] = append(m.pairs[r], pair{c, k})
			}
		}
	}
	for c := range m.rowOf {
		m.rowOf[c] = -1
	}
	return m
}

// solve places every row.
func (m *matcher) solve() {
	for r := range m.rows {
		m.place(r, forbidden)
	}
}

// place finds the cheapest way to bring one more row in: along a path of rows that
// each move on to the next column, to a free column or to a row that then stays alone.
// It gives what that adds to the total over u of the row; beyond a limit it gives up
// and leaves the row as it is.
func (m *matcher) place(row int, limit int64) (int64, bool) {
	m.touched = m.touched[:0]
	for c := range m.cols {
		m.dist[c], m.done[c], m.from[c] = forbidden, false, -1
		if m.gone[c] {
			m.dist[c] = never
		}
	}
	out, outVia := int64(forbidden), -1 // cheapest row to leave alone, and its column
	r, at, via := row, int64(0), -1
	end := int64(0)
	last := -1
	for {
		if d := at + m.alone[r] - m.u[r]; d < out {
			out, outVia = d, via
		}
		next := m.reach(r, at, via, min(out-1, limit))
		if min(out, m.distance(next)) > limit {
			return 0, false
		}
		if next < 0 || m.dist[next] >= out {
			end, last = out, -1
			break
		}
		if m.rowOf[next] < 0 {
			end, last = m.dist[next], next
			break
		}
		m.done[next] = true
		r, at, via = m.rowOf[next], m.dist[next], next
	}
	m.reprice(row, end)
	if last < 0 {
		if outVia < 0 {
			m.colOf[row] = -1
			return end, true
		}
		m.colOf[m.rowOf[outVia]] = -1
		last = outVia
	}
	for last >= 0 {
		before, holder := m.from[last], row
		if before >= 0 {
			holder = m.rowOf[before]
		}
		m.rowOf[last], m.colOf[holder] = holder, last
		last = before
	}
	return end, true
}

func (m *matcher) distance(c int) int64 {
	if c < 0 {
		return forbidden
	}
	return m.dist[c]
}

// never is the distance of a column that is gone: no path is shorter.
const never = math.MinInt64

// reach updates the distances from a row at a distance and takes the nearest column
// out of those touched, a free one first; -1 when there is none. Distances above most
// cannot be of use any more: leaving a row alone is as cheap, or the limit is passed.
func (m *matcher) reach(r int, at int64, via int, most int64) int {
	base := at - m.u[r] // no column that is done gets nearer: no pair costs less than its prices
	for _, p := range m.pairs[r] {
		if x := base + p.cost - m.v[p.col]; x <= most && x < m.dist[p.col] {
			if m.dist[p.col] == forbidden {
				m.touched = append(m.touched, p.col)
			}
			m.dist[p.col], m.from[p.col] = x, via
		}
	}
	next, best := -1, int64(forbidden)
	for i, c := range m.touched {
		if d := m.dist[c]; d < best || d == best && m.rowOf[c] < 0 {
			next, best = i, d
		}
	}
	if next < 0 {
		return -1
	}
	c, end := m.touched[next], len(m.touched)-1
	m.touched[next] = m.touched[end]
	m.touched = m.touched[:end]
	return c
}

// reprice keeps the prices true after a shortest path of a length.
func (m *matcher) reprice(row int, length int64) {
	m.u[row] += length
	for c, r := range m.rowOf {
		if m.done[c] && !m.gone[c] {
			m.v[c] += m.dist[c] - length
			m.u[r] += length - m.dist[c]
		}
	}
}

// remove takes a column out for good; a row that had it looks for another. It gives
// what that adds to the total; beyond a limit it gives up half-way, to be restored.
func (m *matcher) remove(c int, limit int64) (int64, bool) {
	m.gone[c] = true
	r := m.rowOf[c]
	if r < 0 {
		return 0, true
	}
	m.rowOf[c], m.colOf[r] = -1, -1
	more, ok := m.place(r, limit+m.v[c]) // without the column its price is lost
	return more - m.v[c], ok
}

// total is the cost of the assignment, with the rows alone.
func (m *matcher) total() int64 {
	var sum int64
	for r, c := range m.colOf {
		if c < 0 {
			sum += m.alone[r]
		} else {
			sum += m.cost[r*m.cols+c]
		}
	}
	return sum
}

// saved is what removing columns changes.
type saved struct {
	u, v         []int64
	colOf, rowOf []int
	gone         []bool
}

func (m *matcher) save(s *saved) {
	s.u, s.v = append(s.u[:0], m.u...), append(s.v[:0], m.v...)
	s.colOf, s.rowOf = append(s.colOf[:0], m.colOf...), append(s.rowOf[:0], m.rowOf...)
	s.gone = append(s.gone[:0], m.gone...)
}

func (m *matcher) restore(s *saved) {
	copy(m.u, s.u)
	copy(m.v, s.v)
	copy(m.colOf, s.colOf)
	copy(m.rowOf, s.rowOf)
	copy(m.gone, s.gone)
}
