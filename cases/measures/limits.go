package measures

import "math"

// Transform names the scale on which 95 % limits of a waiting share are symmetric.
type Transform string

// The transforms. Reports use LogLog: its limits stay inside 0 and 1 and cover well
// in small cohorts. The others are for comparing with results published with them:
// programs differ in what they take when not told.
const (
	Plain  Transform = "plain"
	Log    Transform = "log"
	LogLog Transform = ConfType
	Logit  Transform = "logit"
	Arcsin Transform = "arcsin"
)

// WithLimits returns the curve with its limits on another scale, so that quantiles
// read from it have theirs too. Where everybody still waits, the plain and the log
// limits are both 1 and the others undefined.
func (c Curve) WithLimits(t Transform) Curve {
	out := make(Curve, len(c))
	for i, p := range c {
		out[i] = p
		out[i].Limits = nil
		if p.SE == nil || p.Waiting == 1 && t != Plain && t != Log {
			continue
		}
		l := t.limits(p.Waiting, *p.SE)
		out[i].Limits = &l
	}
	return out
}

// limits gives the limits of a share s above 0 with standard error se.
func (t Transform) limits(s, se float64) Interval {
	w := z975 * se / s // half the width on the log scale
	switch t {
	case Plain:
		return Interval{Lower: max(0, s-z975*se), Upper: min(1, s+z975*se)}
	case Log:
		return Interval{Lower: s * math.Exp(-w), Upper: min(1, s*math.Exp(w))}
	case Logit:
		odds, w := s/(1-s), w/(1-s)
		below, above := odds*math.Exp(-w), odds*math.Exp(w)
		return Interval{Lower: below / (1 + below), Upper: above / (1 + above)}
	case Arcsin:
		angle, w := math.Asin(math.Sqrt(s)), 0.5*w*math.Sqrt(s/(1-s))
		below, above := math.Sin(max(0, angle-w)), math.Sin(min(math.Pi/2, angle+w))
		return Interval{Lower: below * below, Upper: above * above}
	}
	w /= math.Abs(math.Log(s))
	return Interval{Lower: math.Pow(s, math.Exp(w)), Upper: math.Pow(s, math.Exp(-w))}
}

// Hazard is the cumulative hazard of the event by a day (Nelson-Aalen), with its
// standard error: the sums of d/n and, for its square, of d/n^2.
type Hazard struct {
	Day       int
	Value, SE float64
}

// Hazards returns the cumulative hazard at each point of the curve.
func (c Curve) Hazards() []Hazard {
	out := make([]Hazard, len(c))
	value, variance := 0.0, 0.0
	for i, p := range c {
		n, d := float64(p.AtRisk), float64(p.Events)
		value += d / n
		variance += d / (n * n)
		out[i] = Hazard{p.Day, value, math.Sqrt(variance)}
	}
	return out
}
