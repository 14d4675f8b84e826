package measures

import (
	"cmp"
	"math"
	"slices"
)

// z975 is the 0.975 quantile of the standard normal distribution, which makes
// two-sided 95 % limits (R: qnorm(0.975)).
const z975 = 1.959963984540054

// Span is one case's time on a clock: Days from the start to the event, or,
// when Event is false, to the last day the case was known to wait (censored).
type Span struct {
	Days  int
	Event bool
}

// Interval holds the two limits of a 95 % confidence interval.
type Interval struct {
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// Point is one step of a Kaplan-Meier curve, at a day on which at least one
// case had its event or was censored.
type Point struct {
	Day      int `json:"day"`
	AtRisk   int `json:"at_risk"` // waiting just before this day
	Events   int `json:"events"`
	Censored int `json:"censored"`
	// Ended counts the cases that ended by something that competes with the event,
	// such as another kind of closing.
	Ended   int     `json:"ended,omitempty"`
	Waiting float64 `json:"waiting"` // S(t): the share still waiting after this day
	// SE is Greenwood's standard error of Waiting; nil once nobody waits,
	// where it is undefined.
	SE *float64 `json:"se"`
	// Limits are the log-log limits of Waiting; nil where the transform is
	// undefined (nobody or everybody waits).
	Limits *Interval `json:"limits"`
}

// Curve is a Kaplan-Meier curve in order of day.
type Curve []Point

// KaplanMeier computes the curve of spans. Of an event and a censoring on the
// same day the event comes first: the censored case was still at risk. The
// standard error is Greenwood's; the limits use the log-log transform, which
// keeps them inside 0 and 1.
func KaplanMeier(spans []Span) Curve { return curveOf(countDays(spans)) }

// countDays gives a point, with its counts only, for each day that occurs, in order.
// A cohort of a million cases has few different days, so they are counted in place
// rather than sorted, unless the days are far apart.
func countDays(spans []Span) []Point {
	last := 0
	for _, s := range spans {
		if s.Days < 0 || s.Days > 4*len(spans)+10_000 {
			return sortDays(spans)
		}
		last = max(last, s.Days)
	}
	counts := make([][2]int, last+1)
	for _, s := range spans {
		if s.Event {
			counts[s.Days][0]++
		} else {
			counts[s.Days][1]++
		}
	}
	var points []Point
	for day, c := range counts {
		if c != [2]int{} {
			points = append(points, Point{Day: day, Events: c[0], Censored: c[1]})
		}
	}
	return points
}

// sortDays is countDays for days that are far apart.
func sortDays(spans []Span) []Point {
	sorted := slices.Clone(spans)
	slices.SortFunc(sorted, func(a, b Span) int { return cmp.Compare(a.Days, b.Days) })
	var points []Point
	for _, s := range sorted {
		if len(points) == 0 || points[len(points)-1].Day != s.Days {
			points = append(points, Point{Day: s.Days})
		}
		p := &points[len(points)-1]
		if s.Event {
			p.Events++
		} else {
			p.Censored++
		}
	}
	return points
}

// productLimit is the state of a Kaplan-Meier curve: the share still waiting and
// Greenwood's sum of d/(n(n-d)).
type productLimit struct{ waiting, sum float64 }

// start is the state before the first event.
var start = productLimit{waiting: 1}

// next takes the d events among the n at risk at one time.
func (p *productLimit) next(n, d int) {
	if d == n {
		p.waiting = 0
		return
	}
	p.waiting *= 1 - float64(d)/float64(n)
	p.sum += float64(d) / (float64(n) * float64(n-d))
}

// spread returns Greenwood's standard error and the log-log limits of the waiting
// share; what is not defined is nil.
func (p productLimit) spread() (*float64, *Interval) {
	se, low, high := p.figures()
	if math.IsNaN(se) {
		return nil, nil
	}
	if math.IsNaN(low) {
		return &se, nil
	}
	return &se, &Interval{Lower: low, Upper: high}
}

// figures is spread with NaN for what is not defined, and costs no memory.
func (p productLimit) figures() (se, low, high float64) {
	if p.waiting <= 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	if p.sum == 0 {
		return 0, math.NaN(), math.NaN()
	}
	se = p.waiting * math.Sqrt(p.sum)
	l := LogLog.limits(p.waiting, se)
	return se, l.Lower, l.Upper
}

// at returns the last point on or before day; ok is false before the first.
func (c Curve) at(day int) (Point, bool) {
	i, found := slices.BinarySearchFunc(c, day, func(p Point, d int) int { return p.Day - d })
	if found {
		i++
	}
	if i == 0 {
		return Point{}, false
	}
	return c[i-1], true
}

// Share is the share of cases whose event has come by a day, 1 minus the
// Kaplan-Meier curve, with its log-log limits.
type Share struct {
	Day   int     `json:"day"`
	Share float64 `json:"share"`
	// Limits is nil where they are undefined: nobody or everybody is done.
	Limits *Interval `json:"limits"`
	// AtRisk counts the cases observed beyond this day without the event: the
	// fewer, the less the figure says.
	AtRisk int `json:"at_risk"`
	// Known is false when every case left observation before this day, so that
	// the curve says nothing about it; Share then holds its last value.
	Known bool `json:"known"`
}

// DoneBy returns the share done by the end of the given day.
func (c Curve) DoneBy(day int) Share {
	s := Share{Day: day}
	p, ok := c.at(day)
	if !ok {
		if len(c) > 0 {
			s.AtRisk, s.Known = c[0].AtRisk, true
		}
		return s
	}
	s.Share = 1 - p.Waiting
	if p.Limits != nil {
		s.Limits = &Interval{Lower: 1 - p.Limits.Upper, Upper: 1 - p.Limits.Lower}
	}
	s.AtRisk = p.AtRisk - p.Events - p.Censored - p.Ended
	s.Known = s.AtRisk > 0 || p.Censored == 0 || p.Day == day
	return s
}

// CountsAt says how many cases were still observed and waiting after a day, how
// many were done by then, and how many had left observation undone.
func (c Curve) CountsAt(day int) (waiting, done, left int) {
	if len(c) == 0 {
		return 0, 0, 0
	}
	for _, p := range c {
		if p.Day > day {
			break
		}
		done += p.Events
		left += p.Censored + p.Ended
	}
	return c[0].AtRisk - done - left, done, left
}
