package measures

import "math"

// Method names a way to set two-sided 95 % limits about a proportion. Reports
// show Wilson limits and decide by the exact ones; the others are here so that a
// figure of another report can be compared with ours.
type Method string

// The methods, compared in Newcombe, Stat Med 1998;17:857-872.
const (
	Wald            Method = "wald"             // p +- z sqrt(p(1-p)/n); may leave 0 to 1
	Wilson          Method = "wilson"           // score interval: what reports show
	WilsonCorrected Method = "wilson-corrected" // with continuity correction
	ClopperPearson  Method = "clopper-pearson"  // exact: what a decision rests on
	MidP            Method = "mid-p"            // exact, half the probability of the count itself
	Jeffreys        Method = "jeffreys"         // beta quantiles, 0 and 1 at the ends
	AgrestiCoull    Method = "agresti-coull"    // adjusted Wald; may leave 0 to 1
)

// tail is the probability left out on each side of 95 % limits.
const tail = 0.025

// Limits returns the 95 % limits of x of n by a method; nil when n is 0, when x
// is not between 0 and n, or when the method is not known.
func Limits(m Method, x, n int) *Interval {
	if n <= 0 || x < 0 || x > n {
		return nil
	}
	var out Interval
	switch p, total := float64(x)/float64(n), float64(n); m {
	case Wald:
		d := z975 * math.Sqrt(p*(1-p)/total)
		return &Interval{p - d, p + d}
	case AgrestiCoull:
		zz := z975 * z975
		mid := (float64(x) + zz/2) / (total + zz)
		d := z975 * math.Sqrt(mid*(1-mid)/(total+zz))
		return &Interval{mid - d, mid + d}
	case Wilson:
		return NewProportion(x, n).Limits
	case WilsonCorrected:
		out = wilsonCorrected(p, total)
	case ClopperPearson:
		out = Interval{betaQuantile(tail, float64(x), float64(n-x+1)), betaQuantile(1-tail, float64(x+1), float64(n-x))}
	case MidP:
		out = midP(x, n)
	case Jeffreys:
		a, b := float64(x)+0.5, float64(n-x)+0.5
		out = Interval{betaQuantile(tail, a, b), betaQuantile(1-tail, a, b)}
	default:
		return nil
	}
	if x == 0 {
		out.Lower = 0
	}
	if x == n {
		out.Upper = 1
	}
	return &out
}

// wilsonCorrected is method 4 of Newcombe 1998.
func wilsonCorrected(p, n float64) Interval {
	zz := z975 * z975
	low := z975 * math.Sqrt(max(0, zz-2-1/n+4*p*(n*(1-p)+1)))
	high := z975 * math.Sqrt(max(0, zz+2-1/n+4*p*(n*(1-p)-1)))
	return Interval{
		Lower: max(0, (2*n*p+zz-1-low)/(2*(n+zz))),
		Upper: min(1, (2*n*p+zz+1+high)/(2*(n+zz))),
	}
}

// midP gives each tail half the probability of the count itself.
func midP(x, n int) Interval {
	above := func(p float64) float64 { return binomialAtLeast(x+1, n, p) + binomialAt(x, n, p)/2 }
	below := func(p float64) float64 { return 1 - binomialAtMost(x-1, n, p) - binomialAt(x, n, p)/2 }
	out := Interval{0, 1}
	if x > 0 {
		out.Lower = rising(tail, above)
	}
	if x < n {
		out.Upper = rising(1-tail, below)
	}
	return out
}

// UpperAtNone is the exact one-sided 95 % upper limit of a rate when none of n
// was seen: 1 - 0.05^(1/n). About 3/n for n above 30 (the rule of three, Hanley
// and Lippman-Hand, JAMA 1983;249:1743-1745); NaN when n is 0.
func UpperAtNone(n int) float64 {
	if n <= 0 {
		return math.NaN()
	}
	return -math.Expm1(math.Log(0.05) / float64(n))
}

// Difference is a difference of two proportions with its 95 % limits.
type Difference struct {
	Difference float64  `json:"difference"` // the first less the second
	Limits     Interval `json:"limits"`
	// P is the two-sided probability of Fisher's exact test that both are the same.
	P float64 `json:"p"`
}

// Compare sets two proportions against each other by the hybrid score method
// (Newcombe, Stat Med 1998;17:873-890, method 10); nil when one has no total.
func Compare(a, b Proportion) *Difference {
	if a.Rate == nil || b.Rate == nil {
		return nil
	}
	p, q := *a.Rate, *b.Rate
	d := Difference{Difference: p - q, P: FisherExact(a.Count, a.Of, b.Count, b.Of)}
	d.Limits.Lower = p - q - math.Hypot(p-a.Limits.Lower, b.Limits.Upper-q)
	d.Limits.Upper = p - q + math.Hypot(a.Limits.Upper-p, q-b.Limits.Lower)
	return &d
}
