package schedule

// settleTies picks one of the cheapest assignments by a rule: the rows, in a given
// order, each take the first column that some cheapest assignment leaves to them, and
// stay alone only when none does. The answer then depends on the costs and the orders
// alone, not on the way it was found.
func (m *matcher) settleTies(order []int) {
	t := &ties{m: m, tight: make([][]int, m.rows), fixed: make([]bool, m.rows), fixedCol: make([]bool, m.cols)}
	for r := range m.rows {
		for c := range m.cols {
			if k := m.cost[r*m.cols+c]; !m.gone[c] && k != forbidden && k == m.u[r]+m.v[c] {
				t.tight[r] = append(t.tight[r], c)
			}
		}
	}
	t.seen = make([]int, m.rows+1)
	t.via = make([]step, m.rows+1)
	for _, r := range order {
		for _, c := range t.tight[r] {
			if c == m.colOf[r] || !t.fixedCol[c] && t.move(r, c) {
				break
			}
		}
		t.fixed[r] = true
		if c := m.colOf[r]; c >= 0 {
			t.fixedCol[c] = true
		}
	}
}

// ties looks for ways to exchange columns without a cost. Its nodes are the rows, and
// one more, nobody, who has every free column; nobody may have any column whose price
// is 0, and any row's staying alone.
type ties struct {
	m        *matcher
	tight    [][]int // columns without slack, in order
	fixed    []bool
	fixedCol []bool
	seen     []int // number of the search that saw a node
	search   int
	via      []step
	queue    []int
}

// step is how a node came to lose its column: to whom, and which; -1 is its staying
// alone, or alone of the row in alone.
type step struct{ by, col int }

func (t *ties) holder(c int) int {
	if r := t.m.rowOf[c]; r >= 0 {
		return r
	}
	return t.m.rows
}

// move gives a row a column that another cheapest assignment gives it, if there is
// one that keeps what is fixed.
func (t *ties) move(row, col int) bool {
	m, nobody := t.m, t.m.rows
	left := m.colOf[row] // what the row leaves, -1 when it was alone
	t.search++
	t.queue = t.queue[:0]
	visit := func(node, by, c int) {
		if node != row && t.seen[node] != t.search && (node == nobody || !t.fixed[node]) {
			t.seen[node], t.via[node] = t.search, step{by, c}
			t.queue = append(t.queue, node)
		}
	}
	visit(t.holder(col), row, col)
	for i := 0; i < len(t.queue); i++ {
		x := t.queue[i]
		if x == nobody {
			if left < 0 || m.v[left] == 0 {
				t.exchange(row, x, left)
				return true
			}
			for c, v := range m.v {
				if v == 0 && !m.gone[c] && !t.fixedCol[c] {
					visit(t.holder(c), nobody, c)
				}
			}
			for r, c := range m.colOf {
				if c < 0 {
					visit(r, nobody, -1)
				}
			}
			continue
		}
		for _, c := range t.tight[x] {
			if c == left {
				t.exchange(row, x, left)
				return true
			}
			if !t.fixedCol[c] {
				visit(t.holder(c), x, c)
			}
		}
		if m.u[x] == m.alone[x] {
			visit(nobody, x, -1)
		}
	}
	return false
}

// exchange goes back along the search: the last node takes what the row left, each
// other what the node after it had.
func (t *ties) exchange(row, last, left int) {
	m, nobody := t.m, t.m.rows
	give := func(node, col int) {
		if node != nobody {
			m.colOf[node] = col
		}
		if col >= 0 {
			m.rowOf[col] = node
			if node == nobody {
				m.rowOf[col] = -1
			}
		}
	}
	give(last, left)
	for node := last; node != row; {
		s := t.via[node]
		give(s.by, s.col)
		node = s.by
	}
}
