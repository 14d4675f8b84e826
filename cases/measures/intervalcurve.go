package measures

import (
	"math"
	"slices"
)

// without makes the curve the share that is not done by one of several competing
// reasons, from the incidence of that reason. Its log-log limits are those of the
// incidence, turned over.
func (c Curve) without(f Incidence) {
	k := 0
	now := IncidenceStep{}
	for i := range c {
		p := &c[i]
		for k < len(f.Steps) && float64(f.Steps[k].Time) <= float64(p.Day) {
			now = f.Steps[k]
			k++
		}
		se := float64(now.SE)
		p.Waiting, p.SE, p.Limits = 1-float64(now.Value), &se, nil
		switch {
		case p.Waiting < 1e-12: // all but rounding are done
			p.Waiting, p.SE = 0, nil
		case now.Value > 0:
			l := LogLog.limits(p.Waiting, se)
			p.Limits = &l
		}
	}
}

// RestrictedMean is the area under the curve up to tau: the mean number of days not
// done, of the first tau. Tau 0 takes the last day observed; beyond that the curve is
// carried on level. The variance is that of the delta method: at each day, those done,
// those ended otherwise and the rest are multinomial. Without competing ends it is
// the sum of (area from there to tau)^2 d/(n(n-d)), as of a Kaplan-Meier curve.
func (c Curve) RestrictedMean(tau float64) RestrictedMean {
	if len(c) == 0 {
		return RestrictedMean{undefined, undefined, undefined}
	}
	if tau == 0 {
		tau = float64(c[len(c)-1].Day)
	}
	// observed is the share that neither was done nor ended before each day.
	observed, s := make([]float64, len(c)), 1.0
	for i, p := range c {
		observed[i] = s
		s *= float64(p.AtRisk-p.Events-p.Ended) / float64(p.AtRisk)
	}
	area, variance, until := 0.0, 0.0, tau
	for i := len(c) - 1; i >= 0; i-- {
		p := &c[i]
		day := float64(p.Day)
		if day > tau {
			continue
		}
		area += p.Waiting * (until - day)
		until = day
		n := float64(p.AtRisk)
		done, ended := float64(p.Events)/n, float64(p.Ended)/n
		rest := float64(p.AtRisk-p.Events-p.Ended) / n
		now, later := observed[i]*(tau-day), 0.0
		if rest > 0 {
			later = (p.Waiting*(tau-day) - area) / rest
		}
		x, y := now-later, -later
		mean := x*done + y*ended
		variance += max(0, x*x*done+y*y*ended-mean*mean) / n
	}
	return RestrictedMean{Tau: Number(tau), Value: Number(area + until), SE: Number(math.Sqrt(variance))}
}

// CompareCurves is the log-rank test between groups, from their curves; nil when
// they cannot be told apart. Cases that ended otherwise count as observed until then.
func CompareCurves(curves ...Curve) *LogRank {
	sum := newRankSum(len(curves))
	if len(curves) < 2 {
		return nil
	}
	atRisk, events, at := make([]float64, len(curves)), make([]float64, len(curves)), make([]int, len(curves))
	n := 0
	var days []int
	for g, c := range curves {
		for _, p := range c {
			days = append(days, p.Day)
		}
		if len(c) > 0 {
			atRisk[g] = float64(c[0].AtRisk)
			n += c[0].AtRisk
		}
	}
	slices.Sort(days)
	for _, day := range slices.Compact(days) {
		d, gone := 0, 0
		for g, c := range curves {
			events[g] = 0
			if at[g] < len(c) && c[at[g]].Day == day {
				events[g] = float64(c[at[g]].Events)
				d += c[at[g]].Events
			}
		}
		if d > 0 {
			sum.addTime(1, events, atRisk, float64(n), float64(d))
		}
		for g, c := range curves {
			if at[g] < len(c) && c[at[g]].Day == day {
				p := &c[at[g]]
				atRisk[g] -= float64(p.Events + p.Censored + p.Ended)
				gone += p.Events + p.Censored + p.Ended
				at[g]++
			}
		}
		n -= gone
	}
	return sum.test()
}
