package measures

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// masks gives the cells of a table with totals that are hidden, by name.
func hiddenNames(m Masked, rows, cols []string) []string {
	var out []string
	for i, r := range append(slices.Clone(rows), "all") {
		for j, c := range append(slices.Clone(cols), "all") {
			if m.Cells[i][j].Hidden {
				out = append(out, r+" / "+c)
			}
		}
	}
	return out
}

// Source: a made-up table; ranges by linear programming (scipy 1.10.1).
func TestSuppressionExample(t *testing.T) {
	raw, err := os.ReadFile("testdata/suppression_example.json")
	if err != nil {
		t.Fatal(err)
	}
	var x struct {
		Rows, Cols []string
		Counts     [][]int
		Rules      []struct {
			Rule          string
			Primary       []string
			Complementary []string
			OnlyPrimary   map[string][3]int `json:"ranges_if_only_primary_hidden_lo_hi_true"`
			After         map[string][3]int `json:"ranges_after_complementary_lo_hi_true"`
		}
	}
	if err := json.Unmarshal(raw, &x); err != nil {
		t.Fatal(err)
	}
	ranges := func(hide []string) map[string][3]int {
		hidden := make([][]bool, len(x.Rows)+1)
		for i := range hidden {
			hidden[i] = make([]bool, len(x.Cols)+1)
		}
		out := map[string][3]int{}
		for i, r := range x.Rows {
			for j, c := range x.Cols {
				hidden[i][j] = slices.Contains(hide, r+" / "+c)
			}
		}
		least, most := Ranges(x.Counts, hidden)
		for i, r := range x.Rows {
			for j, c := range x.Cols {
				if hidden[i][j] {
					out[r+" / "+c] = [3]int{least[i][j], most[i][j], x.Counts[i][j]}
				}
			}
		}
		return out
	}
	for i, below := range []int{5, 11} {
		rule := x.Rules[i]
		if d := cmp.Diff(rule.OnlyPrimary, ranges(rule.Primary)); d != "" {
			t.Errorf("%s, only small counts hidden: %s", rule.Rule, d)
		}
		if d := cmp.Diff(rule.After, ranges(append(slices.Clone(rule.Primary), rule.Complementary...))); d != "" {
			t.Errorf("%s: %s", rule.Rule, d)
		}
		m := Hide(x.Counts, SmallNumbers{Below: below})
		got := hiddenNames(m, x.Rows, x.Cols)
		for _, name := range rule.Primary {
			if !slices.Contains(got, name) {
				t.Errorf("%s: %s is shown", rule.Rule, name)
			}
		}
		if m.Few != len(rule.Primary) || m.Few+m.More != len(got) {
			t.Errorf("%s: %d small and %d more, hidden are %v", rule.Rule, m.Few, m.More, got)
		}
		for name, r := range ranges(got) {
			if slices.Contains(rule.Primary, name) && r[1] >= 0 && r[1]-r[0] < below-1 {
				t.Errorf("%s: %s can only be %d to %d", rule.Rule, name, r[0], r[1])
			}
		}
		t.Logf("%s: hidden %v", rule.Rule, got)
		if i == 0 { // the same two further cells as the example
			want := append(slices.Clone(rule.Primary), rule.Complementary...)
			slices.Sort(want)
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("hidden %v, want %v", got, want)
			}
		}
	}
}

// possible enumerates every table of counts up to most that agrees with what is
// shown, and gives the values each cell takes: an attack that shares nothing with
// the code under test.
func possible(m Masked, rows, cols, most int) [][]map[int]bool {
	values := make([][]map[int]bool, rows+1)
	for i := range values {
		values[i] = make([]map[int]bool, cols+1)
		for j := range values[i] {
			values[i][j] = map[int]bool{}
		}
	}
	full := make([][]int, rows+1)
	for i := range full {
		full[i] = make([]int, cols+1)
	}
	agrees := func(i, j int) bool { return m.Cells[i][j].Hidden || m.Cells[i][j].N == full[i][j] }
	var fill func(k int)
	fill = func(k int) {
		if k == rows*cols {
			for i := range full {
				for j := range full[i] {
					if !agrees(i, j) {
						return
					}
				}
			}
			for i := range full {
				for j, n := range full[i] {
					values[i][j][n] = true
				}
			}
			return
		}
		i, j := k/cols, k%cols
		for n := range most + 1 {
			full[i][j] = n
			full[i][cols] += n
			full[rows][j] += n
			full[rows][cols] += n
			if agrees(i, j) && (j < cols-1 || agrees(i, cols)) {
				fill(k + 1)
			}
			full[i][cols] -= n
			full[rows][j] -= n
			full[rows][cols] -= n
		}
		full[i][j] = 0
	}
	fill(0)
	return values
}

// No small count of a table can be worked out, or even narrowed to fewer values
// than the rule hides, by whoever knows everything that is shown.
func TestNothingSmallCanBeWorkedOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rows, cols := rapid.IntRange(1, 2).Draw(rt, "rows"), rapid.IntRange(1, 3).Draw(rt, "cols")
		rule := SmallNumbers{Below: rapid.IntRange(0, 4).Draw(rt, "below"), HideZero: rapid.Bool().Draw(rt, "hide zero")}
		counts := make([][]int, rows)
		for i := range counts {
			for range cols {
				counts[i] = append(counts[i], rapid.IntRange(0, 4).Draw(rt, "n"))
			}
		}
		m := Hide(counts, rule)
		most := 4 + max(0, rule.Below-1)
		values := possible(m, rows, cols, most)
		sums := totals(counts)
		for i := range sums {
			for j, n := range sums[i] {
				cell := m.Cells[i][j]
				again := cols == 1 && j == 1
				switch {
				case !cell.Hidden && cell.N != n:
					rt.Fatalf("%v %+v: cell %d %d shows %d, is %d", counts, rule, i, j, cell.N, n)
				case !cell.Hidden && rule.Small(n):
					rt.Fatalf("%v %+v: %d at %d %d is shown", counts, rule, n, i, j)
				case cell.Hidden && cell.N != 0:
					rt.Fatalf("a hidden cell keeps its count")
				case rule.Small(n) && !again && len(values[i][j]) < rule.Below:
					rt.Fatalf("%v %+v: hidden %s, the %d at %d %d can only be %v", counts, rule, fmt.Sprint(m.Cells), n, i, j, values[i][j])
				case rule.Below < 2 && cell.Hidden && !again:
					rt.Fatalf("%v: cell %d %d is hidden without need", counts, i, j)
				}
			}
		}
	})
}

func totals(counts [][]int) [][]int {
	var out [][]int
	sum := make([]int, len(counts[0])+1)
	for _, row := range counts {
		all := 0
		for j, n := range row {
			all += n
			sum[j] += n
		}
		sum[len(row)] += all
		out = append(out, append(slices.Clone(row), all))
	}
	return append(out, sum)
}

// The exact ranges are those of the enumeration.
func TestRangesAreExact(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rows, cols := rapid.IntRange(1, 2).Draw(rt, "rows"), rapid.IntRange(2, 3).Draw(rt, "cols")
		counts, hidden := make([][]int, rows), make([][]bool, rows+1)
		m := Masked{}
		for i := range counts {
			for range cols {
				counts[i] = append(counts[i], rapid.IntRange(0, 3).Draw(rt, "n"))
			}
		}
		for i, row := range totals(counts) {
			m.Cells = append(m.Cells, nil)
			for j, n := range row {
				// Totals stay, so that no cell can pass the bound of the enumeration.
				hide := i < rows && j < cols && rapid.Bool().Draw(rt, "hidden")
				hidden[i] = append(hidden[i], hide)
				m.Cells[i] = append(m.Cells[i], Cell{N: n, Hidden: hide})
			}
		}
		least, most := Ranges(counts, hidden)
		for i, row := range possible(m, rows, cols, 9) {
			for j, values := range row {
				lo, hi := 99, -1
				for v := range values {
					lo, hi = min(lo, v), max(hi, v)
				}
				if least[i][j] != lo || most[i][j] != hi {
					rt.Fatalf("%v %v: cell %d %d is %d to %d, want %d to %d", counts, hidden, i, j, least[i][j], most[i][j], lo, hi)
				}
			}
		}
	})
}

func TestHiddenRates(t *testing.T) {
	rule := SmallNumbers{Below: 11}
	props := []Proportion{NewProportion(3, 40), NewProportion(20, 90), NewProportion(0, 30), NewProportion(25, 70)}
	got := HideRates(props, rule)
	for i, want := range []string{"hidden of 40", "", "0 of 30", ""} {
		if s := fmt.Sprintf("%s of %s", got[i].Count, got[i].Of); want != "" && s != want {
			t.Errorf("%d of %d is shown as %s, want %s", props[i].Count, props[i].Of, s, want)
		}
		if hidden := got[i].Count.Hidden || got[i].Of.Hidden; hidden != (got[i].Rate == nil) || hidden != (got[i].Limits == nil) {
			t.Errorf("%d of %d: hidden %v, rate %v", props[i].Count, props[i].Of, hidden, got[i].Rate)
		}
	}
	if got[1].Count.Hidden == got[3].Count.Hidden {
		t.Error("with the total of all sites shown, exactly one of the two larger counts has to be hidden for the 3")
	}
	// A total under the least number is hidden, and another one for it.
	few := HideRates(append(props, NewProportion(2, 6)), rule)
	totals := 0
	for _, h := range few {
		if h.Of.Hidden {
			totals++
		}
	}
	if !few[4].Of.Hidden || totals < 2 {
		t.Errorf("a total of 6: %v", few)
	}
	raw, err := json.Marshal(got[0])
	if want := `{"count":null,"of":40,"rate":null,"limits":null}`; err != nil || string(raw) != want {
		t.Errorf("as JSON %s, want %s", raw, want)
	}
	shown, total := HideTotal([]int{30, 4, 25}, SmallNumbers{Below: 5})
	if shown[0].Hidden || !shown[1].Hidden || !shown[2].Hidden || total.Hidden {
		t.Errorf("a list: %v of %v, want the 4 hidden and the 25 for it", shown, total)
	}
	if _, total := HideTotal([]int{1, 0, 2}, SmallNumbers{Below: 5}); !total.Hidden {
		t.Error("a total of 3 is shown")
	}
	if m := Hide(nil, SmallNumbers{Below: 5}); m.Few != 0 {
		t.Errorf("an empty table: %+v", m)
	}
}

func BenchmarkHide(b *testing.B) {
	counts := make([][]int, 60)
	for i := range counts {
		for j := range 8 {
			counts[i] = append(counts[i], (i*31+j*17)%40)
		}
	}
	for b.Loop() {
		Hide(counts, SmallNumbers{Below: 11})
	}
}
