package measures

import "math"

// RestrictedMean is the mean time to closure within a horizon Tau: the area under
// the Kaplan-Meier curve up to there. All are undefined when there is no case.
type RestrictedMean struct {
	Tau   Number `json:"tau"`
	Value Number `json:"value"`
	SE    Number `json:"se"`
}

// restrictedMean computes the area under the curve up to tau; tau 0 takes the last
// time. Beyond its last step the curve is carried on level, as R does. The variance
// sums, over the closures up to tau, (area from there to tau)^2 d/(n(n-d)), without
// the factor n/(n-1).
func restrictedMean(curve []Step, tau float64) RestrictedMean {
	if len(curve) == 0 {
		return RestrictedMean{undefined, undefined, undefined}
	}
	if tau == 0 {
		tau = float64(curve[len(curve)-1].Time)
	}
	area, variance, until := 0.0, 0.0, tau
	for i := len(curve) - 1; i >= 0; i-- {
		s := &curve[i]
		if float64(s.Time) > tau {
			continue
		}
		area += float64(s.Surv) * (until - float64(s.Time))
		until = float64(s.Time)
		if n, d := float64(s.NRisk), float64(s.NEvent); s.NEvent < s.NRisk {
			variance += area * area * d / (n * (n - d))
		}
	}
	return RestrictedMean{Tau: Number(tau), Value: Number(area + until), SE: Number(math.Sqrt(variance))}
}
