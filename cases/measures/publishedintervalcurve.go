package measures

import (
	"math"
	"slices"
)

// cutSet says after which points of a curve a published curve has its own, so that
// no small count follows from two neighboring points, nor from the last one and the
// totals. Cuts count points: 0 is the start.
type cutSet struct {
	curve Curve
	sums  [][2]int // done, and gone otherwise, among the first points
	cuts  []int    // in order, without 0
	below int
	may   func(int) bool // allowed at all
	// mayEnd tells that the curve can end there.
	mayEnd func(int) bool
	// keep is a day that is to be shown beside the curve, nil for none: between it and
	// the cuts around it, none or enough are done.
	keep *float64
}

// newCutSet finds the cuts. May, where given, says which are allowed. Known tells
// that a reader knows the totals, so that what follows the last point is known as
// well; otherwise the curve may end early, with enough cases beyond it, and knowing
// the number done (doneKnown) must not help. The days of ShareDays come first.
func newCutSet(c Curve, rule SmallNumbers, may func(int) bool, known, doneKnown bool, keep *float64) cutSet {
	s := cutSet{curve: c, below: rule.below(), sums: make([][2]int, len(c)+1), keep: keep}
	for i, p := range c {
		was := s.sums[i]
		s.sums[i+1] = [2]int{was[0] + p.Events, was[1] + p.Ended + p.Censored}
	}
	if may == nil {
		may = func(int) bool { return true }
	}
	n := len(c)
	if s.below == 0 {
		for i := range c {
			if may(i + 1) {
				s.cuts = append(s.cuts, i+1)
			}
		}
		return s
	}
	s.mayEnd = func(b int) bool {
		if known && !s.enough(b, n) || doneKnown && !s.shown(s.sums[n][0]-s.sums[b][0]) {
			return false
		}
		return known || s.left(b) >= s.below
	}
	s.may = may
	s.extend(0)
	return s
}

// extend adds the cuts after a: one of the preferred days where the curve could end
// there, and what can follow; else the last day at which it can end.
func (s *cutSet) extend(a int) {
	for _, day := range preferred {
		if i := s.upTo(day); i > a && s.may(i) && s.enough(a, i) && s.mayEnd(i) {
			s.split(a, i)
			s.cuts = append(s.cuts, i)
			s.extend(i)
			return
		}
	}
	for b := len(s.curve); b > a; b-- {
		if s.may(b) && s.enough(a, b) && s.mayEnd(b) {
			s.split(a, b)
			s.cuts = append(s.cuts, b)
			return
		}
	}
}

func (s *cutSet) shown(n int) bool { return n == 0 || n >= s.below }

// enough tells that none of the counts from point a to point b is small.
func (s *cutSet) enough(a, b int) bool {
	for k := range s.sums[a] {
		if !s.shown(s.sums[b][k] - s.sums[a][k]) {
			return false
		}
	}
	return s.keep == nil || s.keeps(a, b)
}

// left is how many cases are observed beyond the first i points.
func (s *cutSet) left(i int) int {
	all, by := s.sums[len(s.curve)], s.sums[i]
	return all[0] + all[1] - by[0] - by[1]
}

// preferred are the days at which a published curve has a point where it can.
var preferred = []int{28, 56, 42, 35, 60, 58}

// split adds the cuts between a and b.
func (s *cutSet) split(a, b int) {
	for _, day := range preferred {
		if i := s.upTo(day); i > a && i < b && s.may(i) && s.enough(a, i) && s.enough(i, b) {
			s.split(a, i)
			s.cuts = append(s.cuts, i)
			s.split(i, b)
			return
		}
	}
	for i := a + 1; i < b; i++ {
		if s.may(i) && s.enough(a, i) && s.enough(i, b) {
			s.cuts = append(s.cuts, i)
			a = i
		}
	}
}

// upTo counts the points on or before a day.
func (s *cutSet) upTo(day int) int {
	i, found := slices.BinarySearchFunc(s.curve, day, func(p Point, d int) int { return p.Day - d })
	if found {
		i++
	}
	return i
}

// tells whether the counts up to a day are published, or none.
func (s *cutSet) tells(day int) bool {
	i := s.upTo(day)
	_, found := slices.BinarySearch(s.cuts, i)
	return i == 0 || found
}

// points is the published curve: the counts between cuts, and the shares on their
// days, rounded so that they do not tell the order of single cases.
func (s *cutSet) points() Curve {
	if s.below == 0 {
		return slices.Clone(s.curve)
	}
	out := make(Curve, 0, len(s.cuts))
	a := 0
	for _, b := range s.cuts {
		p := s.curve[b-1]
		p.AtRisk = s.left(a)
		p.Events, p.Ended, p.Censored = s.sums[b][0]-s.sums[a][0], 0, s.sums[b][1]-s.sums[a][1]
		p.Waiting = rounded(p.Waiting, 1000)
		if p.SE != nil {
			se := rounded(*p.SE, 1000)
			p.SE = &se
		}
		p.Limits = roundLimits(p.Limits)
		out = append(out, p)
		a = b
	}
	return out
}

func rounded(x, parts float64) float64 { return math.Round(x*parts) / parts }

func roundLimits(l *Interval) *Interval {
	if l == nil {
		return nil
	}
	return &Interval{Lower: rounded(l.Lower, 1000), Upper: rounded(l.Upper, 1000)}
}

// round leaves of the test what can be printed.
func (l *LogRank) round(rule SmallNumbers) *LogRank {
	if l == nil || rule.below() == 0 {
		return l
	}
	return &LogRank{ChiSquare: rounded(l.ChiSquare, 100), DF: l.DF, P: rounded(l.P, 10_000)}
}

func (m RestrictedMean) round(rule SmallNumbers) RestrictedMean {
	if rule.below() > 0 {
		m.Value, m.SE = Number(rounded(float64(m.Value), 10)), Number(rounded(float64(m.SE), 10))
	}
	return m
}

// draw fills in curve, shares, quantiles and mean of a group whose number of cases is
// shown. Units, where given, are the parts whose sum the group is: its
// curve has points only where each of them has.
func (g *PublishedGroup) draw(full *GroupReport, rule SmallNumbers, units []cutSet) cutSet {
	var may func(int) bool
	if len(units) > 0 && rule.below() > 0 {
		may = func(i int) bool {
			day := full.Curve[i-1].Day
			for u := range units {
				if !units[u].tells(day) {
					return false
				}
			}
			return true
		}
	}
	s := newCutSet(full.Curve, rule, may, g.totalsKnown(), !g.Done.Hidden, nil)
	if may == nil && rule.clears(full.Curve, full.Median.Day) {
		// The median is worth a point of the curve, but not day 28 nor all of it.
		k := newCutSet(full.Curve, rule, may, g.totalsKnown(), !g.Done.Hidden, full.Median.Day)
		if len(k.cuts) > 0 && (k.tells(preferred[0]) || !s.tells(preferred[0])) {
			s = k
		}
	}
	g.Curve = s.points()
	if len(units) == 0 {
		units = []cutSet{s}
	}
	g.quantiles(full, rule, units, nil)
	for _, x := range full.Shares {
		p := PublishedShare{Share: x, Hidden: !s.tells(x.Day) && s.below > 0}
		if p.Hidden {
			p.Share = Share{Day: x.Day}
		} else if s.below > 0 {
			p.Share.Share, p.Limits = rounded(x.Share, 1000), roundLimits(x.Limits)
		}
		g.Shares = append(g.Shares, p)
	}
	g.RMean = full.RMean
	if s.below > 0 {
		g.RMean = RestrictedMean{undefined, undefined, undefined}
		if n := len(g.Curve); n > 0 && g.Curve[n-1].Day > 0 {
			g.RMean = full.Curve.RestrictedMean(float64(g.Curve[n-1].Day)).round(rule)
		}
	}
	return s
}

// incidences shows the share closed by each class whose number is shown, at those
// points of the curve where the numbers of each class since the point before, and of
// all hidden classes together, are 0 or not small.
func (g *PublishedGroup) incidences(full *GroupReport, s *cutSet) {
	if len(full.Incidence) == 0 {
		return
	}
	cuts := s.classCuts(full, g.Reasons)
	for k, f := range full.Incidence {
		p := PublishedReason{As: ClosureReasons[k], Incidence: Incidence{Reason: f.Reason}}
		switch {
		case s.below == 0:
			p.Incidence = f
		case g.Reasons[k].N.Hidden, len(cuts) == 0:
			p.Hidden = true
		default:
			for _, i := range cuts {
				x, _ := f.By(float64(s.curve[i-1].Day))
				p.Steps = append(p.Steps, IncidenceStep{Time: x.Time, Value: Number(rounded(float64(x.Value), 1000)), SE: Number(rounded(float64(x.SE), 1000))})
			}
		}
		g.Incidence = append(g.Incidence, p)
	}
}

// classCuts chooses among the cuts those at which no class is small.
func (s *cutSet) classCuts(full *GroupReport, reasons []PublishedCount) (out []int) {
	if s.below == 0 {
		return nil
	}
	counts, _ := full.counts.byReason()
	enough := func(a, b int) bool {
		rest := 0
		for k := range reasons {
			n := 0
			for i := a; i < b; i++ {
				n += counts.by[k][i]
			}
			if reasons[k].N.Hidden {
				rest += n
			} else if !s.shown(n) {
				return false
			}
		}
		return s.shown(rest)
	}
	a := 0
	for _, b := range s.cuts {
		if enough(a, b) {
			out = append(out, b)
			a = b
		}
	}
	// What follows the last of them up to the end of the curve is known too.
	if n := len(s.cuts); n > 0 {
		end := s.cuts[n-1]
		for len(out) > 0 && !enough(out[len(out)-1], end) {
			out = out[:len(out)-1]
			if len(out) > 0 && enough(out[len(out)-1], end) {
				out = append(out, end)
				break
			}
		}
		if len(out) == 0 && enough(0, end) {
			out = append(out, end)
		}
	}
	return out
}

// merged adds tallies up.
func merged(parts []*waitTally) *waitTally {
	sum := &waitTally{}
	for _, t := range parts {
		sum.done, sum.waiting, sum.left = sum.done+t.done, sum.waiting+t.waiting, sum.left+t.left
		t.each(func(day int, c *dayCount) {
			d := sum.on(day)
			d.events, d.ended, d.censored = d.events+c.events, d.ended+c.ended, d.censored+c.censored
			for k, n := range c.by {
				d.by[k] += n
			}
		})
	}
	return sum
}
