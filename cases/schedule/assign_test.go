package schedule

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// dear is a price of staying alone above any sum of the matrices.
const dear = int64(1e12)

// matched solves a matrix in which every row should get a column if it can.
func matched(cost [][]int64) *matcher {
	var flat, alone []int64
	for _, row := range cost {
		flat = append(flat, row...)
		alone = append(alone, dear)
	}
	m := newMatcher(flat, alone, len(cost[0]))
	m.solve()
	return m
}

// sums gives the cost of the pairs and the number of rows alone.
func sums(m *matcher) (pairs int64, alone int) {
	for r, c := range m.colOf {
		if c < 0 {
			alone++
		} else {
			pairs += m.cost[r*m.cols+c]
		}
	}
	return pairs, alone
}

// The matrices of matrices.json; optima by scipy, R clue, R lpSolve and by trying all.
func TestReferenceMatrices(t *testing.T) {
	var f struct {
		Problems []struct {
			Name    string
			Sense   string
			Cost    [][]int64
			Optimum int64
			One     [][2]int `json:"one_optimal_assignment"`
			Optima  int      `json:"number_of_optima"`
		}
	}
	readJSON(t, "matrices.json", &f)
	if len(f.Problems) != 13 {
		t.Fatalf("%d matrices", len(f.Problems))
	}
	const big = 1_000_000 // marks a forbidden pair in the file
	for _, p := range f.Problems {
		cost := make([][]int64, len(p.Cost))
		barred := 0
		for r, row := range p.Cost {
			cost[r] = slices.Clone(row)
			for c := range row {
				switch {
				case row[c] == big:
					cost[r][c] = forbidden
					barred++
				case p.Sense == "max":
					cost[r][c] = -row[c]
				}
			}
		}
		m := matched(cost)
		got, alone := sums(m)
		if p.Sense == "max" {
			got = -got
		}
		want, wantAlone := p.Optimum, max(0, len(cost)-len(cost[0]))
		if want >= big { // infeasible as a whole: the row with the mark stays alone
			want, wantAlone = want-big, wantAlone+1
		}
		if got != want || alone != wantAlone {
			t.Errorf("%s: %d with %d alone, want %d with %d", p.Name, got, alone, want, wantAlone)
		}
		best, n := tryAll(m)
		if total := m.total(); total != best {
			t.Errorf("%s: total %d, trying all gives %d", p.Name, total, best)
		}
		if barred == 0 && n != p.Optima {
			t.Errorf("%s: %d optima, want %d", p.Name, n, p.Optima)
		}
		if p.Optima == 1 && wantAlone == 0 {
			for _, pair := range p.One {
				if m.colOf[pair[0]] != pair[1] {
					t.Errorf("%s: row %d has column %d, want %d", p.Name, pair[0], m.colOf[pair[0]], pair[1])
				}
			}
		}
	}
}

func readJSON(t testing.TB, name string, v any) {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, v); err != nil {
		t.Fatal(err)
	}
}

// lcg builds an instance of lcg_instances.csv by the rule in its first line.
func lcg(n int, seed int64) [][]int64 {
	cost := make([][]int64, n)
	x := seed
	for r := range cost {
		cost[r] = make([]int64, n)
		for c := range cost[r] {
			x = (x*1103515245 + 12345) % (1 << 31)
			cost[r][c] = (x>>16)%100 + 1
		}
	}
	return cost
}

// The generated instances of lcg_instances.csv; optima by scipy, up to 100 rows also R clue.
func TestReferenceInstances(t *testing.T) {
	for _, row := range table(t, "lcg_instances.csv") {
		num := func(i int) int64 {
			n, err := strconv.ParseInt(row[i], 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		n := int(num(0))
		cost := lcg(n, num(1))
		if cost[0][0] != num(3) || cost[0][1] != num(4) || cost[n-1][n-1] != num(5) {
			t.Fatalf("%v: the generator differs", row)
		}
		m := matched(cost)
		if got, alone := sums(m); got != num(2) || alone != 0 {
			t.Errorf("n %d, seed %s: %d, %d alone, want %s", n, row[1], got, alone, row[2])
		}
		m.settleTies(rising(n))
		if got, alone := sums(m); got != num(2) || alone != 0 {
			t.Errorf("n %d, seed %s after ties: %d, %d alone, want %s", n, row[1], got, alone, row[2])
		}
	}
}

func rising(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// tryAll gives the least total of a small problem by trying every assignment, and
// how many pairings reach it.
func tryAll(m *matcher) (least int64, n int) {
	least = forbidden
	each(m, func(total int64, _ []int) {
		if total < least {
			least, n = total, 0
		}
		if total == least {
			n++
		}
	})
	return least, n
}

func each(m *matcher, f func(total int64, colOf []int)) {
	used, colOf := slices.Clone(m.gone), make([]int, m.rows)
	var go_ func(r int, sum int64)
	go_ = func(r int, sum int64) {
		if r == m.rows {
			f(sum, colOf)
			return
		}
		for c := range m.cols {
			if k := m.cost[r*m.cols+c]; !used[c] && k != forbidden {
				used[c], colOf[r] = true, c
				go_(r+1, sum+k)
				used[c] = false
			}
		}
		colOf[r] = -1
		go_(r+1, sum+m.alone[r])
	}
	go_(0, 0)
}

func drawMatcher(t *rapid.T) *matcher {
	rows, cols := rapid.IntRange(1, 7).Draw(t, "rows"), rapid.IntRange(1, 7).Draw(t, "cols")
	wide := rapid.SampledFrom([]int64{2, 9, 1000}).Draw(t, "wide")
	cell := rapid.Custom(func(t *rapid.T) int64 {
		if rapid.IntRange(0, 4).Draw(t, "bar") == 0 {
			return forbidden
		}
		return rapid.Int64Range(-wide/2, wide).Draw(t, "cost")
	})
	cost := rapid.SliceOfN(cell, rows*cols, rows*cols).Draw(t, "cells")
	alone := rapid.SliceOfN(rapid.Int64Range(0, 2*wide), rows, rows).Draw(t, "alone")
	return newMatcher(cost, alone, cols)
}

// TestAgainstTryingAll compares with every assignment, before and after columns are
// taken away, and the ties with the documented rule.
func TestAgainstTryingAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMatcher(t)
		m.solve()
		checkTrue(t, m)
		for range rapid.IntRange(0, 2).Draw(t, "taken") {
			before := m.total()
			more, ok := m.remove(rapid.IntRange(0, m.cols-1).Draw(t, "column"), dear)
			checkTrue(t, m)
			if !ok || before+more != m.total() {
				t.Fatalf("removing adds %d, the total went from %d to %d", more, before, m.total())
			}
		}
		order := rapid.Permutation(rising(m.rows)).Draw(t, "order")
		least, _ := tryAll(m)
		var want []int
		each(m, func(total int64, colOf []int) {
			if total == least && (want == nil || firstBy(order, colOf, want)) {
				want = slices.Clone(colOf)
			}
		})
		m.settleTies(order)
		checkTrue(t, m)
		if !slices.Equal(m.colOf, want) {
			t.Fatalf("columns %v, want %v in the order %v", m.colOf, want, order)
		}
	})
}

// firstBy tells whether x comes before y: the rows in order, lower columns first,
// staying alone last.
func firstBy(order, x, y []int) bool {
	for _, r := range order {
		if x[r] != y[r] {
			return y[r] < 0 || x[r] >= 0 && x[r] < y[r]
		}
	}
	return false
}

// checkTrue checks the optimum, the prices and that both sides tell the same.
func checkTrue(t *rapid.T, m *matcher) {
	t.Helper()
	if least, _ := tryAll(m); m.total() != least {
		t.Fatalf("total %d, trying all gives %d", m.total(), least)
	}
	for r := range m.rows {
		c := m.colOf[r]
		if c >= 0 && (m.rowOf[c] != r || m.gone[c]) || c < 0 && m.u[r] != m.alone[r] || m.u[r] > m.alone[r] {
			t.Fatalf("row %d: column %d, price %d, alone %d", r, c, m.u[r], m.alone[r])
		}
		for c := range m.cols {
			k := m.cost[r*m.cols+c]
			if m.gone[c] {
				continue
			}
			if k != forbidden && m.u[r]+m.v[c] > k || m.colOf[r] == c && m.u[r]+m.v[c] != k {
				t.Fatalf("pair %d %d: prices %d and %d, cost %d", r, c, m.u[r], m.v[c], k)
			}
		}
	}
	for c, r := range m.rowOf {
		if m.v[c] > 0 || r < 0 && !m.gone[c] && m.v[c] != 0 || r >= 0 && m.colOf[r] != c {
			t.Fatalf("column %d: price %d, row %d", c, m.v[c], r)
		}
	}
}

func BenchmarkAssign(b *testing.B) {
	for _, n := range []int{100, 400} {
		cost := lcg(n, 1)
		b.Run(fmt.Sprintf("%dx%d", n, n), func(b *testing.B) {
			for b.Loop() {
				m := matched(cost)
				m.settleTies(rising(n))
			}
		})
	}
}
