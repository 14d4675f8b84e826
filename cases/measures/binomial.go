package measures

import "math"

// lnChoose is the logarithm of the number of ways to choose k of n.
func lnChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n) + 1)
	b, _ := math.Lgamma(float64(k) + 1)
	c, _ := math.Lgamma(float64(n-k) + 1)
	return a - b - c
}

// binomialAt is P(X = x) for X binomial with n trials of probability p.
func binomialAt(x, n int, p float64) float64 {
	switch {
	case x < 0 || x > n:
		return 0
	case p <= 0:
		return oneIf(x == 0)
	case p >= 1:
		return oneIf(x == n)
	}
	return math.Exp(lnChoose(n, x) + float64(x)*math.Log(p) + float64(n-x)*math.Log1p(-p))
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// binomialAtLeast is P(X >= x); binomialAtMost is P(X <= x). Each sums the shorter
// tail from its largest term outwards, so that a small probability keeps its digits
// and a large total costs no more than a small one.
func binomialAtLeast(x, n int, p float64) float64 {
	switch {
	case x <= 0:
		return 1
	case x > n:
		return 0
	case float64(x) <= float64(n)*p:
		return 1 - lowerTail(x-1, n, p)
	}
	return upperTail(x, n, p)
}

func binomialAtMost(x, n int, p float64) float64 {
	switch {
	case x < 0:
		return 0
	case x >= n:
		return 1
	case float64(x) >= float64(n)*p:
		return 1 - upperTail(x+1, n, p)
	}
	return lowerTail(x, n, p)
}

// negligible is the part of a sum below which further terms do not change it.
const negligible = 1e-18

// upperTail sums upwards from x, which lies at or above the mean.
func upperTail(x, n int, p float64) float64 {
	term, odds := binomialAt(x, n, p), p/(1-p)
	sum := term
	for k := x; k < n && term > sum*negligible; k++ {
		term *= float64(n-k) / float64(k+1) * odds
		sum += term
	}
	return min(sum, 1)
}

// lowerTail sums downwards from x, which lies at or below the mean.
func lowerTail(x, n int, p float64) float64 {
	term, odds := binomialAt(x, n, p), (1-p)/p
	sum := term
	for k := x; k > 0 && term > sum*negligible; k-- {
		term *= float64(k) / float64(n-k+1) * odds
		sum += term
	}
	return min(sum, 1)
}

// betaRegularized is the regularized incomplete beta function I_x(a, b), by its
// continued fraction (NIST Digital Library of Mathematical Functions, 8.17.22),
// evaluated by Lentz's method.
func betaRegularized(x, a, b float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (a+1)/(a+b+2): // the fraction converges quickly on the other side
		return 1 - betaRegularized(1-x, b, a)
	}
	ga, _ := math.Lgamma(a)
	gb, _ := math.Lgamma(b)
	gab, _ := math.Lgamma(a + b)
	front := math.Exp(gab-ga-gb+a*math.Log(x)+b*math.Log1p(-x)) / a
	const tiny = 1e-300
	c, d, f := 1.0, 0.0, 1.0
	for i := range 10_000 {
		m := float64(i / 2)
		term := 1.0
		switch {
		case i == 0:
		case i%2 == 0:
			term = m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		default:
			term = -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		}
		d = 1 / away(1+term*d, tiny)
		c = away(1+term/c, tiny)
		f *= c * d
		if math.Abs(c*d-1) < 1e-15 {
			break
		}
	}
	return front * (f - 1)
}

func away(v, tiny float64) float64 {
	if math.Abs(v) < tiny {
		return tiny
	}
	return v
}

// betaQuantile is the q-quantile of the beta distribution.
func betaQuantile(q, a, b float64) float64 {
	return rising(q, func(x float64) float64 { return betaRegularized(x, a, b) })
}

// rising finds where a function that rises from 0 to 1 on [0, 1] reaches a level.
// Halving stops when no number lies between the two ends.
func rising(level float64, f func(float64) float64) float64 {
	lo, hi := 0.0, 1.0
	for {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			return mid
		}
		if f(mid) < level {
			lo = mid
		} else {
			hi = mid
		}
	}
}
