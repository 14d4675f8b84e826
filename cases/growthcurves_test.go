package cases_test

import (
	"math"
	"math/rand/v2"
	"sort"
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

// curve is one line of intergrowth_png_weight: ln of the weight in kg by postmenstrual
// week, between the weeks of the table by the cubic through the four nearest.
type curve struct{ weeks, mu, sigma []float64 }

func readCurves(t *testing.T) map[string]*curve {
	t.Helper()
	out := map[string]*curve{}
	for _, row := range sharedTable(t, "intergrowth_png_weight.csv") {
		c := out[row["sex"]]
		if c == nil {
			c = &curve{}
			out[row["sex"]] = c
		}
		c.weeks = append(c.weeks, number(t, row["pma_weeks"]))
		c.mu, c.sigma = append(c.mu, number(t, row["mu"])), append(c.sigma, number(t, row["sigma"]))
	}
	return out
}

func (c *curve) grams(z, week float64) float64 {
	i := sort.SearchFloat64s(c.weeks, week)
	i = min(max(i-2, 0), len(c.weeks)-4)
	ln := 0.0
	for j := i; j < i+4; j++ {
		w := 1.0
		for k := i; k < i+4; k++ {
			if k != j {
				w *= (week - c.weeks[k]) / (c.weeks[j] - c.weeks[k])
			}
		}
		ln += w * (c.mu[j] + z*c.sigma[j])
	}
	return 1000 * math.Exp(ln)
}

// The simulation of projection_coverage_sim, repeated: weights on the 14 lines near
// 2,000 g with 20 g of weighing noise, and how often the window holds the true day. The
// draws are this test's own, so shares are compared within one and a half points in a
// hundred and mean errors within a fifth of a day.
func TestCoverageOfTheWindow(t *testing.T) {
	lines, curves := sharedTable(t, "intergrowth_cross_2000g.csv"), readCurves(t)
	for _, line := range lines {
		if g := curves[line["sex"]].grams(number(t, line["z"]), number(t, line["pma_weeks_at_2000g"])); !near(g, 2000, 1) {
			t.Fatalf("%s z %s: the curve between its weeks has %.1f g where it should have 2000", line["sex"], line["z"], g)
		}
	}
	last := cases.MakeDay(2026, 3, 1)
	for _, row := range sharedTable(t, "projection_coverage_sim.csv") {
		gap, ahead, draws := day(t, row["gap_days"]), day(t, row["true_days"]), int(number(t, row["n"]))/len(lines)
		rng := rand.New(rand.NewPCG(7, uint64(gap)<<8|uint64(ahead)))
		none, inside, n := 0, 0, 0
		var sum float64
		for _, line := range lines {
			before := func(d cases.Day) float64 { // weight that many days before 2,000 g
				return curves[line["sex"]].grams(number(t, line["z"]), number(t, line["pma_weeks_at_2000g"])-float64(d)/7)
			}
			for range draws {
				ws := []cases.Weight{{On: last, G: before(ahead) + 20*rng.NormFloat64()}}
				if gap > 0 {
					ws = []cases.Weight{{On: last - gap, G: before(ahead+gap) + 20*rng.NormFloat64()}, ws[0]}
				}
				n++
				e := cases.ProjectWeight(last-60, 0, ws, 2000)
				if e.Central == 0 {
					none++
					continue
				}
				if e.Early <= last+ahead && last+ahead <= e.Late {
					inside++
				}
				sum += float64(e.Central - last - ahead)
			}
		}
		in, no, off := 100*float64(inside)/float64(n-none), 100*float64(none)/float64(n), sum/float64(n-none)
		if !near(in, number(t, row["inside_window_pct"]), 1.5) || !near(no, number(t, row["no_projection_pct"]), 1.5) || !near(off, number(t, row["mean_error_d"]), .2) {
			t.Errorf("%s weights, %d days apart, %d days before: inside %.1f, none %.1f, error %.2f; want %s, %s, %s", row["input"], gap, ahead, in, no, off, row["inside_window_pct"], row["no_projection_pct"], row["mean_error_d"])
		}
	}
}
