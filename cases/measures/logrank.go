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

// logRank tests observations in order of time, with the hypergeometric variance of
// Mantel and Haenszel. It is nil when the groups cannot be told apart.
func logRank(sorted []Observation, groups int) *LogRank {
	if groups < 2 {
		return nil
	}
	atRisk := make([]float64, groups)
	for _, o := range sorted {
		atRisk[o.Group]++
	}
	r := LogRank{Observed: make([]float64, groups), Expected: make([]float64, groups)}
	variance := square(groups)
	n := float64(len(sorted))
	for i := 0; i < len(sorted); {
		j, d := i, 0.0
		for ; j < len(sorted) && sorted[j].Time == sorted[i].Time; j++ {
			if sorted[j].Reason != 0 {
				d++
				r.Observed[sorted[j].Group]++
			}
		}
		if d > 0 {
			addRisk(variance, r.Expected, atRisk, n, d)
		}
		for ; i < j; i++ {
			atRisk[sorted[i].Group]--
			n--
		}
	}
	return r.test(variance)
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// addRisk adds what one time with d closures among n at risk contributes. Only the
// lower triangle of the variance is kept.
func addRisk(variance [][]float64, expected, atRisk []float64, n, d float64) {
	c := 0.0
	if n > 1 {
		c = d * (n - d) / (n - 1) / (n * n)
	}
	for j, nj := range atRisk {
		if nj == 0 {
			continue
		}
		expected[j] += d * nj / n
		if c == 0 {
			continue
		}
		row := variance[j]
		row[j] += c * nj * n
		for l := range j + 1 {
			row[l] -= c * nj * atRisk[l]
		}
	}
}

// test works out the chi-square from the groups that could have had a closure.
func (r *LogRank) test(variance [][]float64) *LogRank {
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
			v[a][b] = variance[j][l]
		}
	}
	chi, ok := quadratic(v, x)
	if !ok {
		return nil
	}
	r.ChiSquare, r.DF = chi, len(kept)
	r.P = chiSquareTail(chi, r.DF)
	return r
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
