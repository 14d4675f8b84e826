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

// binomialAtLeast is P(X >= x); binomialAtMost is P(X <= x). Each sums its own
// tail, so that a small probability keeps its digits.
func binomialAtLeast(x, n int, p float64) float64 {
	if x <= 0 {
		return 1
	}
	sum := 0.0
	for k := n; k >= x; k-- {
		sum += binomialAt(k, n, p)
	}
	return min(sum, 1)
}

func binomialAtMost(x, n int, p float64) float64 {
	if x >= n {
		return 1
	}
	sum := 0.0
	for k := 0; k <= x; k++ {
		sum += binomialAt(k, n, p)
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
