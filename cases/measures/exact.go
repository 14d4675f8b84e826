package measures

import (
	"math"
	"sort"
)

// ExactTest is the exact binomial test of x of n against a benchmark rate.
type ExactTest struct {
	Greater     float64 `json:"greater"`   // P(X >= x): is the rate above the benchmark?
	Less        float64 `json:"less"`      // P(X <= x): is it below?
	TwoSided    float64 `json:"two_sided"` // all counts no more likely than x
	MidPGreater float64 `json:"mid_p_greater"`
}

// sameLikely is the relative tolerance with which two counts are equally likely,
// as in R's binom.test and fisher.test.
const sameLikely = 1 + 1e-7

// TestAgainst tests x of n against a benchmark rate. With n 0 every probability
// is 1: nothing was seen that speaks against it.
func TestAgainst(benchmark float64, x, n int) ExactTest {
	t := ExactTest{Greater: binomialAtLeast(x, n, benchmark), Less: binomialAtMost(x, n, benchmark)}
	seen := binomialAt(x, n, benchmark)
	t.MidPGreater = binomialAtLeast(x+1, n, benchmark) + seen/2
	t.TwoSided = noMoreLikely(benchmark, x, n, seen*sameLikely)
	return t
}

// noMoreLikely sums the probabilities of the counts that are no more likely than a
// level, which that of x does not exceed. Counts grow likelier up to the mode and
// less likely after it, so they are the tail that begins with x and the far one.
func noMoreLikely(benchmark float64, x, n int, level float64) float64 {
	mode := min(n, int(float64(n+1)*benchmark))
	if binomialAt(mode, n, benchmark) <= level {
		return 1
	}
	if x < mode {
		beyond := mode + 1 + sort.Search(n-mode, func(i int) bool { return binomialAt(mode+1+i, n, benchmark) <= level })
		return min(1, binomialAtMost(x, n, benchmark)+binomialAtLeast(beyond, n, benchmark))
	}
	last := mode - 1 - sort.Search(mode, func(i int) bool { return binomialAt(mode-1-i, n, benchmark) <= level })
	return min(1, binomialAtLeast(x, n, benchmark)+binomialAtMost(last, n, benchmark))
}

// FewestAbove is the smallest count of n that speaks for a rate above the
// benchmark at a one-sided level: P(X >= x) < level; ok is false when even n of n
// does not.
func FewestAbove(benchmark, level float64, n int) (x int, ok bool) {
	sum := 0.0
	for x = n + 1; x > 0; x-- {
		if sum += binomialAt(x-1, n, benchmark); sum >= level {
			break
		}
	}
	return x, x <= n
}

// MostBelow is the largest count of n that speaks for a rate below the benchmark
// at a one-sided level: P(X <= x) < level; ok is false when even 0 does not.
func MostBelow(benchmark, level float64, n int) (x int, ok bool) {
	sum := 0.0
	for x = -1; x < n; x++ {
		if sum += binomialAt(x+1, n, benchmark); sum >= level {
			break
		}
	}
	return x, x >= 0
}

// FisherExact is the two-sided probability of Fisher's exact test that x1 of n1
// and x2 of n2 have the same rate: all tables with these totals that are no more
// likely than the one seen.
func FisherExact(x1, n1, x2, n2 int) float64 {
	k := x1 + x2
	at := func(x int) float64 {
		return math.Exp(lnChoose(n1, x) + lnChoose(n2, k-x) - lnChoose(n1+n2, k))
	}
	seen, sum := at(x1), 0.0
	for x := max(0, k-n2); x <= min(k, n1); x++ {
		if p := at(x); p <= seen*sameLikely {
			sum += p
		}
	}
	return min(sum, 1)
}
