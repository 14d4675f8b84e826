package store

import "testing"

func TestSpreadDoesAllAndPassesPanicsOn(t *testing.T) {
	for _, n := range []int{0, 1, 7, 8, 100, 1001} {
		done := make([]int, n)
		spread(n, func(i int) { done[i]++ }, func(int, error) { t.Error("failed") })
		for i, d := range done {
			if d != 1 {
				t.Errorf("%d of %d done %d times", i, n, d)
			}
		}
	}
	defer func() {
		if r := recover(); r != "ours" {
			t.Errorf("recovered %v", r)
		}
	}()
	spread(100, func(i int) {
		if i == 70 {
			panic("ours")
		}
	}, func(int, error) {})
}
