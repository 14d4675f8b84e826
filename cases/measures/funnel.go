package measures

import (
	"cmp"
	"math"
	"slices"
)

// FunnelLimits are the exact binomial limits about a benchmark rate for a total
// of n: a site beyond the 95 % limits is looked at, one beyond the 99.8 % limits
// is unlikely to differ by chance alone.
type FunnelLimits struct {
	Of    int      `json:"of"`
	Alert Interval `json:"limits_95"`
	Alarm Interval `json:"limits_998"`
}

// FunnelAt sets the limits for a total of n, interpolated between counts
// (Spiegelhalter, Stat Med 2005;24:1185-1202, doi 10.1002/sim.1970). A lower
// limit below 0 is cut at 0. n is at least 1, the benchmark between 0 and 1.
func FunnelAt(benchmark float64, n int) FunnelLimits {
	at := func(q float64) float64 { return funnelLimit(benchmark, n, q) }
	return FunnelLimits{
		Of:    n,
		Alert: Interval{max(0, at(tail)), at(1 - tail)},
		Alarm: Interval{max(0, at(0.001)), at(0.999)},
	}
}

// funnelLimit: r is the smallest count with P(R <= r) >= q; the limit lies below
// r by the part of P(R = r) that exceeds q. q is 0.001 or more, so that nothing is
// missed by starting forty standard deviations below the mean.
func funnelLimit(benchmark float64, n int, q float64) float64 {
	mean := float64(n) * benchmark
	sum := 0.0
	for r := max(0, int(mean-40*math.Sqrt(mean*(1-benchmark)))); ; r++ {
		at := binomialAt(r, n, benchmark)
		if sum+at >= q || r >= n {
			return (float64(r) - (sum+at-q)/at) / float64(n)
		}
		sum += at
	}
}

// The places of a site in the funnel.
const (
	FunnelIn    = "in"    // within the 95 % limits
	FunnelAlert = "alert" // above the upper 95 % limit
	FunnelAlarm = "alarm" // above the upper 99.8 % limit
	FunnelBelow = "below" // under the lower 95 % limit
	FunnelFew   = "few"   // too few to place
)

// FunnelLeast is the total below which a site is not placed.
const FunnelLeast = 5

// FunnelPoint is one site in a funnel about a benchmark.
type FunnelPoint struct {
	Name string `json:"name"`
	Proportion
	Funnel *FunnelLimits `json:"funnel"` // nil below FunnelLeast
	Place  string        `json:"place"`
	// Greater is the exact one-sided probability of so many or more at the
	// benchmark; Holm and FDR are the same adjusted for looking at several sites
	// (Holm 1979; Benjamini and Hochberg 1995). Nil without a total.
	Greater *float64 `json:"p"`
	Holm    *float64 `json:"p_holm"`
	FDR     *float64 `json:"p_fdr"`
}

// Funnel places named proportions about a benchmark, in the order given. The
// center is the benchmark, not the pooled rate: a program in which every site is
// above it must see that.
func Funnel(benchmark float64, names []string, props []Proportion) []FunnelPoint {
	out := make([]FunnelPoint, len(props))
	var ps []float64
	var tested []int
	for i, p := range props {
		out[i] = FunnelPoint{Name: names[i], Proportion: p, Place: FunnelFew}
		if p.Rate == nil {
			continue
		}
		tested = append(tested, i)
		ps = append(ps, binomialAtLeast(p.Count, p.Of, benchmark))
		if p.Of >= FunnelLeast {
			f := FunnelAt(benchmark, p.Of)
			out[i].Funnel, out[i].Place = &f, f.place(*p.Rate)
		}
	}
	holm, fdr := Holm(ps), BenjaminiHochberg(ps)
	for k, i := range tested {
		out[i].Greater, out[i].Holm, out[i].FDR = &ps[k], &holm[k], &fdr[k]
	}
	return out
}

func (f FunnelLimits) place(rate float64) string {
	switch {
	case rate > f.Alarm.Upper:
		return FunnelAlarm
	case rate > f.Alert.Upper:
		return FunnelAlert
	case rate < f.Alert.Lower:
		return FunnelBelow
	}
	return FunnelIn
}

// Holm adjusts probabilities for being several: each is multiplied by the number
// of those not smaller, and none is less than one before it.
func Holm(ps []float64) []float64 {
	out, most := make([]float64, len(ps)), 0.0
	for rank, i := range inOrder(ps) {
		most = max(most, min(1, ps[i]*float64(len(ps)-rank)))
		out[i] = most
	}
	return out
}

// BenjaminiHochberg adjusts probabilities so that of the sites called different at
// a level, that share at most is expected to be called so wrongly.
func BenjaminiHochberg(ps []float64) []float64 {
	out, least := make([]float64, len(ps)), 1.0
	order := inOrder(ps)
	for rank := len(order); rank > 0; rank-- {
		i := order[rank-1]
		least = min(least, ps[i]*float64(len(ps))/float64(rank))
		out[i] = least
	}
	return out
}

// inOrder gives the places of values from the smallest to the largest.
func inOrder(ps []float64) []int {
	order := make([]int, len(ps))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ps[a], ps[b]) })
	return order
}

// FalseFlags is the chance that, with every placed site at the benchmark, at least one
// lies above its upper 95 % limit, and at least one above its upper 99.8 % limit. Both
// are exact for independent tests.
func FalseFlags(benchmark float64, points []FunnelPoint) (alert, alarm float64) {
	none95, none998 := 1.0, 1.0
	for _, p := range points {
		if p.Funnel == nil {
			continue
		}
		within := func(limit float64) float64 {
			return binomialAtMost(int(math.Floor(limit*float64(p.Of))), p.Of, benchmark)
		}
		none95 *= within(p.Funnel.Alert.Upper)
		none998 *= within(p.Funnel.Alarm.Upper)
	}
	return 1 - none95, 1 - none998
}
