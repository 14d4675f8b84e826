package measures

import (
	"math"
	"sort"
)

// Incidence is the cumulative incidence of closure for one reason, the other
// reasons competing (Aalen-Johansen). Unlike 1 minus a Kaplan-Meier curve that
// counts the others as open, it never exceeds the share that can have closed so:
// the incidences of all reasons and the share still waiting add up to 1.
type Incidence struct {
	Reason int             `json:"reason"`
	Steps  []IncidenceStep `json:"steps"`
}

// IncidenceStep is the share closed for the reason by a time on which a case closed
// for any reason, with its standard error.
type IncidenceStep struct {
	Time  Number `json:"time"`
	Value Number `json:"value"`
	SE    Number `json:"se"`
}

// incidence computes the incidence of each reason: F_k grows by S(t-) d_k/n.
//
// The variance is that of the delta method (Gaynor et al., J Am Stat Assoc
// 1993;88:400-409; Choudhury, Stat Med 2002;21:1129-1144), carried from step to
// step: at each time the closures of reason k, of other reasons, and the rest are
// multinomial. Because F_k + F_other + S = 1, covariances are differences of the
// three variances, so that no large terms cancel where a curve ends at 1.
func incidence(t *tallies, reasons []uint8) []Incidence {
	out := make([]Incidence, len(reasons))
	for k, r := range reasons {
		out[k] = Incidence{Reason: int(r), Steps: incidenceOf(t, t.by[k])}
	}
	return out
}

func incidenceOf(t *tallies, mine []int) []IncidenceStep {
	steps := make([]IncidenceStep, 0, len(t.times))
	left, waiting, value := t.n, 1.0, 0.0
	var own, other, still float64 // the variances of F_k, of the other reasons, of S
	for i, time := range t.times {
		n, d, k := float64(left), float64(t.events[i]), float64(mine[i])
		left -= t.events[i] + t.censored[i]
		if d == 0 {
			continue
		}
		h, hk, ho := d/n, k/n, (d-k)/n
		s2 := waiting * waiting / n
		own, other = own*(n-k)/n+hk*other-hk*(n-k)/n*still+s2*hk*(n-k)/n,
			other*(n-d+k)/n+ho*own-ho*(n-d+k)/n*still+s2*ho*(n-d+k)/n
		still = still*(n-d)/n*(n-d)/n + s2*h*(n-d)/n
		value += waiting * hk
		waiting *= (n - d) / n
		steps = append(steps, IncidenceStep{Time: Number(time), Value: Number(value), SE: Number(math.Sqrt(max(0, own)))})
	}
	return steps
}

// By returns the share closed for the reason by a time, with its standard error and
// log-log limits; the limits are nil where the share is 0 or 1 (for 0, three over
// the number of cases bounds it). It says nothing of times after the last case left
// observation: see Share.Known of the curve.
func (f Incidence) By(time float64) (IncidenceStep, *Interval) {
	i := sort.Search(len(f.Steps), func(i int) bool { return float64(f.Steps[i].Time) > time })
	if i == 0 {
		return IncidenceStep{Time: Number(time)}, nil
	}
	s := f.Steps[i-1]
	s.Time = Number(time)
	rest := 1 - float64(s.Value)
	if s.Value <= 0 || rest < 1e-12 { // all but rounding closed so
		return s, nil
	}
	w := z975 * float64(s.SE) / (rest * math.Abs(math.Log(rest)))
	return s, &Interval{Lower: 1 - math.Pow(rest, math.Exp(-w)), Upper: 1 - math.Pow(rest, math.Exp(w))}
}
