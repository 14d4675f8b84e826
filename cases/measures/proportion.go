package measures

import "math"

// Proportion is a count out of a total with its Wilson score limits.
type Proportion struct {
	Count int `json:"count"`
	Of    int `json:"of"`
	// Rate and Limits are nil when the total is 0.
	Rate   *float64  `json:"rate"`
	Limits *Interval `json:"limits"`
}

// NewProportion returns x of n with the Wilson score interval (Wilson, J Am
// Stat Assoc 1927;22:209-212; compared in Newcombe, Stat Med 1998;17:857-872),
// without continuity correction. At 0 and at n the limit is exactly 0 or 1.
func NewProportion(x, n int) Proportion {
	out := Proportion{Count: x, Of: n}
	if n <= 0 {
		return out
	}
	total, zz := float64(n), z975*z975
	p := float64(x) / total
	root := z975 * math.Sqrt(zz+4*total*p*(1-p))
	limits := Interval{
		Lower: (2*total*p + zz - root) / (2 * (total + zz)),
		Upper: (2*total*p + zz + root) / (2 * (total + zz)),
	}
	if x == 0 {
		limits.Lower = 0
	}
	if x == n {
		limits.Upper = 1
	}
	out.Rate, out.Limits = &p, &limits
	return out
}
