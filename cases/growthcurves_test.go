package cases_test

import (
	"math"
	"testing"

	"dunlin/cases"
)

// The speeds near 2,000 g of the curves of Villar et al. (Lancet Glob Health
// 2015;3:e681-691), both sexes, z -2 to 1, lie between the population's slow and fast
// speed of the projection, 10 and 20 g/kg/day.
func TestPopulationSpeedsSpanTheCurves(t *testing.T) {
	rows := sharedTable(t, "intergrowth_cross_2000g.csv")
	if len(rows) != 14 {
		t.Fatalf("%d lines", len(rows))
	}
	born := cases.MakeDay(2026, 1, 1)
	for _, row := range rows {
		// Two weeks before 2,000 g on the curve: the window of one weight holds the day.
		v := number(t, row["gkgd_prev_14d_exp"])
		if v <= 10 || v >= 20 {
			t.Errorf("%s z %s: %g g/kg/day lies outside of 10 to 20", row["sex"], row["z"], v)
		}
		for _, speed := range []string{"gkgd_at_2000", "gkgd_prev_14d_exp", "gkgd_next_14d_exp"} {
			g := 2000 * math.Exp(-14*number(t, row[speed])/1000)
			e := cases.ProjectWeight(born, 0, []cases.Weight{{On: born + 20, G: g}}, 2000)
			if d := e.Early - born - 20; d > 14 || e.Late-born-20 < 14 {
				t.Errorf("%s z %s, %s: window of day %d to %d misses day 14", row["sex"], row["z"], speed, d, e.Late-born-20)
			}
		}
	}
}

// The dates of projection_vs_intergrowth, 84 projections of 14 lines. The file rounds
// weights to whole grams and speeds to a hundredth, so that a date is met when some
// weight and speed within that rounding give it.
func TestProjectionAgainstCurves(t *testing.T) {
	rows := sharedTable(t, "projection_vs_intergrowth.csv")
	if len(rows) != 84 {
		t.Fatalf("%d projections", len(rows))
	}
	for _, row := range rows {
		if !curveRow(t, row) {
			t.Errorf("no weight within the rounding gives %v", row)
		}
		// The window holds the day on which the curve reaches 2,000 g, where the file says so.
		holds := day(t, row["early_d"]) <= day(t, row["true_days"]) && day(t, row["true_days"]) <= day(t, row["late_d"])
		if holds != (row["inside"] == "1") {
			t.Errorf("inside the window: %v, but the file has %v", holds, row)
		}
	}
}

func curveRow(t *testing.T, row map[string]string) bool {
	t.Helper()
	born := cases.MakeDay(2026, 1, 1)
	last := born + 30
	for _, dw := range []float64{0, -0.49, 0.49} {
		for _, dv := range []float64{0, -0.005, 0.005} {
			g := number(t, row["last_w_g"]) + dw
			ws := []cases.Weight{{On: last, G: g}}
			if row["input"] == "two_weights_14d" {
				half := 7 * (number(t, row["gkgd"]) + dv) / 1000 // of the mean weight, to each side
				ws = []cases.Weight{{On: last - 14, G: g * (1 - half) / (1 + half)}, ws[0]}
			}
			e := cases.ProjectWeight(born, 0, ws, 2000)
			if e.Early-last == day(t, row["early_d"]) && e.Central-last == day(t, row["central_d"]) && e.Late-last == day(t, row["late_d"]) {
				return true
			}
		}
	}
	return false
}

func day(t *testing.T, s string) cases.Day {
	t.Helper()
	return cases.Day(number(t, s))
}
