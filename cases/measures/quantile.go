package measures

import (
	"math"
	"slices"
)

// halfTolerance is the tolerance within which a curve counts as exactly at the
// sought share. R's quantile for survival curves uses the same: products such
// as 0.7 x 5/7 miss 0.5 by one unit in the last place.
const halfTolerance = 1.5e-8

// Quantile is the day by which a share P of the cases is done. A nil day means
// that the curve, or its limit, has not come that far: not reached.
type Quantile struct {
	P     float64  `json:"p"`
	Day   *float64 `json:"day"`
	Lower *float64 `json:"lower"`
	Upper *float64 `json:"upper"`
}

// Quantile returns the first day on which the waiting share is at most 1 - p;
// where it equals 1 - p over a flat stretch, the middle of that stretch. The
// limits apply the same rule to the lower and the upper log-log band
// (Brookmeyer and Crowley, Biometrics 1982;38:29-41).
func (c Curve) Quantile(p float64) Quantile {
	at := func(i int) float64 { return float64(c[i].Day) }
	day := crossing(len(c), 1-p, at, func(i int) float64 { return c[i].Waiting })
	lower := crossing(len(c), 1-p, at, func(i int) float64 {
		if c[i].Limits == nil {
			return math.NaN()
		}
		return c[i].Limits.Lower
	})
	upper := crossing(len(c), 1-p, at, func(i int) float64 {
		if c[i].Limits == nil {
			return math.NaN()
		}
		return c[i].Limits.Upper
	})
	return Quantile{P: p, Day: day, Lower: lower, Upper: upper}
}

// crossing finds where a step function of n steps falls to level, with the midpoint
// rule. Steps whose value is NaN are passed over, and end a stretch.
func crossing(n int, level float64, time, value func(int) float64) *float64 {
	for i := range n {
		v := value(i)
		if math.IsNaN(v) || v > level+halfTolerance {
			continue
		}
		at := time(i)
		if math.Abs(v-level) <= halfTolerance {
			end := at
			for j := i + 1; j < n; j++ {
				w := value(j)
				if math.IsNaN(w) {
					break
				}
				end = time(j)
				if math.Abs(w-level) > halfTolerance {
					break
				}
			}
			at = (at + end) / 2
		}
		return &at
	}
	return nil
}

// Percentile returns the p-quantile (0 to 1) of fully observed values by
// linear interpolation of order statistics: type 7 of Hyndman and Fan, Am Stat
// 1996;50:361-365. It is only for quantities without open cases; ok is false
// when there are no values.
func Percentile(values []float64, p float64) (q float64, ok bool) {
	if len(values) == 0 {
		return 0, false
	}
	x := slices.Clone(values)
	slices.Sort(x)
	h := float64(len(x)-1) * p
	i := int(math.Floor(h))
	if i >= len(x)-1 {
		return x[len(x)-1], true
	}
	return x[i] + (h-float64(i))*(x[i+1]-x[i]), true
}
