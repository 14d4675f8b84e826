package measures

import (
	"fmt"
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestKeysOfOpenCases(t *testing.T) {
	for late, want := range map[int]string{-9: "on-time", -1: "on-time", 0: "today", 1: "1-3", 3: "1-3", 4: "4-7", 14: "8-14", 15: "15-", 900: "15-"} {
		if got := (OpenCase{Late: late}).Key(ByLate); got != want {
			t.Errorf("%d days late: %s, want %s", late, got, want)
		}
	}
	for age, want := range map[int]string{0: "0-13", 13: "0-13", 14: "14-27", 59: "42-59", 60: "60-179", 180: "180-", 4000: "180-"} {
		if got := (OpenCase{Age: age}).Key(ByAge); got != want {
			t.Errorf("age %d: %s, want %s", age, got, want)
		}
	}
	if o := (OpenCase{}); o.Key(ByOwner) != Nobody || o.Key(BySite) != Nobody {
		t.Error("nobody has a name")
	}
}

func TestOpenCaseOfAnAssessment(t *testing.T) {
	p, on := cases.DefaultProtocol(), asOf
	c := cases.Case{Reference: "AB-2026-0001", Owner: "Wren Castellano", Infant: cases.Infant{Born: on - 30}, Referral: cases.Referral{On: on - 24, Route: "screen"}}
	a := p.AssessStep(&c, on)
	o, ok := OpenCaseOf(&c, &a)
	if !ok || o.Age != 30 || o.Late != int(on-a.Next.Due) || o.Late < 15 || o.Step != "tell-primary-care" || o.Owner != "Wren Castellano" {
		t.Errorf("%v, %+v, due %s", ok, o, a.Next.Due)
	}
	c.TestMessage = true
	if _, ok := OpenCaseOf(&c, &a); ok {
		t.Error("a test message is counted")
	}
	a.Closed, c.TestMessage = true, false
	if _, ok := OpenCaseOf(&c, &a); ok {
		t.Error("a closed case is counted")
	}
}

// Full tables hold every case once, and their totals add up; hidden ones show no small
// count.
func TestAgeOpen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		open := make([]OpenCase, rapid.IntRange(0, 60).Draw(t, "cases"))
		for i := range open {
			open[i] = OpenCase{Age: rapid.IntRange(0, 300).Draw(t, "age"), Late: rapid.IntRange(-3, 20).Draw(t, "late"),
				Owner: rapid.SampledFrom([]string{"", "Wren", "Dagny"}).Draw(t, "owner"), Step: string(rapid.SampledFrom(steps).Draw(t, "step"))}
		}
		rows := rapid.SampledFrom([]Dimension{ByLate, ByOwner, BySite, ByStep}).Draw(t, "rows")
		full, some := AgeOpen(open, rows, ByAge, SmallNumbers{}), AgeOpen(open, rows, ByAge, SmallNumbers{Below: 5})
		if len(open) == 0 {
			if full.Cells != nil {
				t.Fatal("cells of nothing")
			}
			return
		}
		all := 0
		for i := range full.RowKeys {
			sum := 0
			for j := range full.ColumnKeys {
				sum += full.Cells[i][j].N
				if h := some.Cells[i][j]; !h.Hidden && (h.N != full.Cells[i][j].N || h.N > 0 && h.N < 5) {
					t.Fatalf("%s, %s: published as %s, is %s", full.RowKeys[i], full.ColumnKeys[j], h, full.Cells[i][j])
				}
			}
			if last := full.Cells[i][len(full.ColumnKeys)]; last.N != sum {
				t.Fatalf("the total of %s is %d, not %d", full.RowKeys[i], last.N, sum)
			}
			all += sum
		}
		if all != len(open) {
			t.Fatalf("%d of %d cases are counted", all, len(open))
		}
	})
}

func TestGroupsComeInOrder(t *testing.T) {
	open := []OpenCase{{Owner: "Wren", Step: "book-test"}, {Step: "refer-at-once"}, {Owner: "Dagny", Step: "verify"}}
	if d := cmp.Diff([]string{"Dagny", "Wren", Nobody}, AgeOpen(open, ByOwner, ByAge, SmallNumbers{}).RowKeys); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"refer-at-once", "verify", "book-test"}, AgeOpen(open, ByStep, ByLate, SmallNumbers{}).RowKeys); d != "" {
		t.Error(d)
	}
}

func TestAgesAtTheFirstTest(t *testing.T) {
	tally := NewAgesTally(Window{AsOf: asOf})
	add := func(n int, born cases.Day, age int) {
		for range n {
			m := cases.Milestones{Born: born, Referred: born + 3}
			if age > 0 {
				m.FirstTest = born + cases.Day(age)
			}
			tally.Add(&m)
		}
	}
	first, second := cases.MakeDay(2025, 2, 10), cases.MakeDay(2025, 5, 10)
	add(12, first, 20)
	add(12, first, 30)
	add(11, first, 0)
	add(30, second, 25)
	add(15, second, 40)
	add(12, second, 0)
	add(2, cases.MakeDay(2025, 7, 1), 33)
	words := func(q QuarterAges) string {
		return fmt.Sprintf("%s: %s, %s, median %s, ages %v", QuarterWords(q.From), q.Tested, q.Untested, Days(q.Median.Day), q.Ages)
	}
	full := tally.Report(SmallNumbers{})
	if got := words(full[0]); got != "Jan to Mar 2025: 24, 11, median 30, ages [{20 12} {30 12}]" {
		t.Error(got)
	}
	if got := words(full[2]); got != "Jul to Sep 2025: 2, 0, median 33, ages [{33 2}]" {
		t.Error(got)
	}
	shown := 0
	for _, q := range tally.Report(SmallNumbers{Below: 11}) {
		if q.Ages != nil {
			t.Errorf("single ages are given: %s", words(q))
		}
		if !q.Tested.Hidden {
			shown++
		} else if q.Median.Day != nil {
			t.Errorf("hidden, yet with its median: %s", words(q))
		}
	}
	if shown != 1 { // the third is small, another one is hidden for it
		t.Errorf("%d quarters are shown", shown)
	}
	if NewAgesTally(Window{AsOf: asOf}).Report(SmallNumbers{}) != nil {
		t.Error("quarters of nobody")
	}
}
