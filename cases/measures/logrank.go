package measures

import "math"

// LogRank is the log-rank test of whether the groups close equally fast.
type LogRank struct {
	ChiSquare float64 `json:"chisq"`
	DF        int     `json:"df"` // groups with an expected closure, minus 1
	P         float64 `json:"p"`
	// Observed and Expected are the closures of each group, and those to expect
	// were all groups alike.
	Observed []float64 `json:"-"`
	Expected []float64 `json:"-"`
}

// LogRankTest compares the groups of data, within strata that are each compared by
// themselves and summed up; all strata name the same groups. Rho 0 is the log-rank
// test; rho 1 weighs each time by the share still waiting just before (Peto and
// Peto), and so the early closures more; Observed and Expected are then weighted
// too. It is nil when the groups cannot be told apart.
func LogRankTest(rho float64, strata ...Data) *LogRank {
	if len(strata) == 0 {
		return nil
	}
	sum := newRankSum(len(strata[0].Groups))
	for _, d := range strata {
		sum.add(byTime(d.Observations), rho)
	}
	return sum.test()
}

// rankSum gathers the log-rank test: Observed, Expected and the hypergeometric
// variance of Mantel and Haenszel, whose lower triangle is kept.
type rankSum struct {
	LogRank
	variance [][]float64
}

func newRankSum(groups int) *rankSum {
	return &rankSum{LogRank{Observed: make([]float64, groups), Expected: make([]float64, groups)}, square(groups)}
}

// add takes the observations of one stratum, in order of time.
func (r *rankSum) add(sorted []Observation, rho float64) {
	groups := len(r.Observed)
	if groups < 2 {
		return
	}
	atRisk := make([]float64, groups)
	for _, o := range sorted {
		atRisk[o.Group]++
	}
	events := make([]float64, groups)
	n, pl := len(sorted), start
	for i := 0; i < len(sorted); {
		j, d := i, 0
		for ; j < len(sorted) && sorted[j].Time == sorted[i].Time; j++ {
			if sorted[j].Reason != 0 {
				d++
				events[sorted[j].Group]++
			}
		}
		if d > 0 {
			weight := 1.0
			if rho != 0 {
				weight = math.Pow(pl.waiting, rho)
			}
			r.addTime(weight, events, atRisk, float64(n), float64(d))
			pl.next(n, d)
			clear(events)
		}
		for ; i < j; i++ {
			atRisk[sorted[i].Group]--
			n--
		}
	}
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// addTime adds what one time with d closures among n at risk contributes.
func (r *rankSum) addTime(weight float64, events, atRisk []float64, n, d float64) {
	c := 0.0
	if n > 1 {
		c = weight * weight * d * (n - d) / (n - 1) / (n * n)
	}
	for j, nj := range atRisk {
		if nj == 0 {
			continue
		}
		r.Observed[j] += weight * events[j]
		r.Expected[j] += weight * d * nj / n
		if c == 0 {
			continue
		}
		row := r.variance[j]
		row[j] += c * nj * n
		for l := range j + 1 {
			row[l] -= c * nj * atRisk[l]
		}
	}
}

// test works out the chi-square from the groups that could have had a closure.
func (r *rankSum) test() *LogRank {
	var kept []int
	for j, e := range r.Expected {
		if e > 0 {
			kept = append(kept, j)
		}
	}
	if len(kept) < 2 {
		return nil
	}
	kept = kept[1:]
	v, x := square(len(kept)), make([]float64, len(kept))
	for a, j := range kept {
		x[a] = r.Observed[j] - r.Expected[j]
		for b, l := range kept[:a+1] {
			v[a][b] = r.variance[j][l]
		}
	}
	chi, ok := quadratic(v, x)
	if !ok {
		return nil
	}
	r.ChiSquare, r.DF = chi, len(kept)
	r.P = chiSquareTail(chi, r.DF)
	return &r.LogRank
}

// quadratic is x' V^-1 x by Cholesky's decomposition of the lower triangle V, which
// it overwrites; ok is false when V is not positive definite.
func quadratic(v [][]float64, x []float64) (sum float64, ok bool) {
	y := make([]float64, len(x))
	for i := range v {
		for j := range i + 1 {
			t := v[i][j]
			for k := range j {
				t -= v[i][k] * v[j][k]
			}
			if i > j {
				v[i][j] = t / v[j][j]
				continue
			}
			if t <= 1e-12*v[i][i] || v[i][i] <= 0 {
				return 0, false
			}
			v[i][i] = math.Sqrt(t)
		}
		y[i] = x[i]
		for k := range i {
			y[i] -= v[i][k] * y[k]
		}
		y[i] /= v[i][i]
		sum += y[i] * y[i]
	}
	return sum, true
}
