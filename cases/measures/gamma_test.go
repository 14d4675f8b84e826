package measures

import (
	"math"
	"testing"
)

// With two degrees of freedom the tail is exp(-x/2), with one erfc(sqrt(x/2)), and
// with four exp(-x/2)(1+x/2): closed forms of the chi-square distribution.
func TestChiSquareTail(t *testing.T) {
	for _, x := range []float64{1e-9, 0.01, 0.5, 1, 1.9, 3, 5, 16.8, 40, 300, 1200} {
		for df, want := range map[int]float64{
			1: math.Erfc(math.Sqrt(x / 2)), 2: math.Exp(-x / 2), 4: math.Exp(-x/2) * (1 + x/2),
			6: math.Exp(-x/2) * (1 + x/2 + x*x/8),
		} {
			if got := chiSquareTail(x, df); math.Abs(got-want) > 1e-12*want {
				t.Errorf("x %v, df %d: %v, want %v", x, df, got, want)
			}
		}
	}
	if got := chiSquareTail(0, 3); got != 1 {
		t.Errorf("at 0 the tail is %v", got)
	}
}

// Q(a+1, x) = Q(a, x) + x^a exp(-x) / Gamma(a+1), Abramowitz and Stegun 6.5.21.
func TestUpperGammaRecurrence(t *testing.T) {
	for _, a := range []float64{0.5, 1, 1.5, 2.5, 7, 24.5, 149.5} {
		for _, x := range []float64{0.01, 0.4, 1, a, a + 0.9, a + 1.1, 2 * a, 60, 400} {
			g, _ := math.Lgamma(a + 1)
			want := upperGamma(a, x) + math.Exp(a*math.Log(x)-x-g)
			if got := upperGamma(a+1, x); math.Abs(got-want) > 1e-11*want {
				t.Errorf("Q(%v, %v): %v, want %v", a+1, x, got, want)
			}
		}
	}
}
