package measures

import "math"

// chiSquareTail is the probability that a chi-square variable with df degrees of
// freedom exceeds x: the p-value of a test.
func chiSquareTail(x float64, df int) float64 {
	if x <= 0 {
		return 1
	}
	return upperGamma(float64(df)/2, x/2)
}

// upperGamma is the regularized upper incomplete gamma function Q(a, x) for a > 0
// and x > 0: by its power series below a + 1, by its continued fraction above
// (Abramowitz and Stegun 6.5.29 and 6.5.31; the fraction is evaluated by the
// method of Lentz).
func upperGamma(a, x float64) float64 {
	const (
		enough = 1e-16
		tiny   = 1e-300
		most   = 100_000
	)
	logGamma, _ := math.Lgamma(a)
	front := math.Exp(a*math.Log(x) - x - logGamma)
	if x < a+1 {
		term := 1 / a
		sum := term
		for n := 1; n < most && term > sum*enough; n++ {
			term *= x / (a + float64(n))
			sum += term
		}
		return 1 - front*sum
	}
	b := x + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for n := 1; n < most; n++ {
		an := -float64(n) * (float64(n) - a)
		b += 2
		if d = an*d + b; math.Abs(d) < tiny {
			d = tiny
		}
		if c = b + an/c; math.Abs(c) < tiny {
			c = tiny
		}
		d = 1 / d
		h *= d * c
		if math.Abs(d*c-1) < enough {
			break
		}
	}
	return front * h
}
