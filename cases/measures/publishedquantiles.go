package measures

import (
	"fmt"
	"math"
)

// PublishedQuantile is a quantile as it may be shown. Hidden: too few cases lie on
// one side of the day, or between it and a neighboring day that is shown. LimitsHidden:
// the same of one of its limits.
type PublishedQuantile struct {
	Quantile
	Hidden       bool `json:"hidden,omitempty"`
	LimitsHidden bool `json:"limits_hidden,omitempty"`
	// Between are the first and the last day on which a hidden quantile can be by the
	// published curve; nil where the curve does not tell.
	Between *[2]int `json:"between,omitempty"`
}

// Words gives the day with its limits, or why there is none.
func (q PublishedQuantile) Words() string {
	switch {
	case q.Hidden && q.Between != nil:
		return q.BetweenWords("")
	case q.Hidden:
		return "not shown (small counts)"
	case q.LimitsHidden:
		return Days(q.Day) + " (limits not shown)"
	}
	return q.Quantile.Words()
}

// BetweenWords are the days between which a hidden quantile lies, with the unit where it
// is one day; empty where the curve does not tell.
func (q PublishedQuantile) BetweenWords(unit string) string {
	switch b := q.Between; {
	case b == nil:
		return ""
	case b[0] == b[1]:
		return fmt.Sprintf("%d%s", b[0], unit)
	default:
		return fmt.Sprintf("day %d to %d", b[0], b[1])
	}
}

// quantiles shows a day only when enough cases were done by it, and enough observed
// beyond; and when none or enough were done between it and each day whose counts are
// shown. That half were done by day 31 and not by day 30 says how many were done
// between day 28, whose number is shown, and day 30. Units are the cuts of the group,
// or of its parts; may, where given, is asked of each day as well. Medians come first,
// limits last.
func (g *PublishedGroup) quantiles(full *GroupReport, rule SmallNumbers, units []cutSet, may func(float64) bool) {
	all := []struct {
		from Quantile
		to   *PublishedQuantile
	}{{full.Median, &g.Median}, {full.Ninth, &g.Ninth}, {full.Quarter, &g.Quarter}, {full.ThreeQuarters, &g.ThreeQuarters}}
	for _, x := range all {
		*x.to = PublishedQuantile{Quantile: x.from}
	}
	if rule.below() == 0 {
		return
	}
	m := marks{full: uncut(full.Curve), below: rule.Below}
	clear := func(days ...*float64) bool {
		for _, day := range days {
			if day == nil {
				continue
			}
			if !rule.clears(full.Curve, day) || !m.spaced(*day) || !partsSpaced(units, *day, rule.Below) || may != nil && !may(*day) {
				return false
			}
		}
		for _, day := range days {
			if day != nil {
				m.days = append(m.days, *day)
			}
		}
		return true
	}
	for _, x := range all {
		if !clear(x.from.Day) {
			*x.to = PublishedQuantile{Quantile: Quantile{P: x.from.P}, Hidden: true, Between: g.Curve.between(x.from.P)}
		}
	}
	for _, x := range all {
		if !x.to.Hidden && (!clear(x.from.Lower) || !clear(x.from.Upper)) {
			x.to.LimitsHidden, x.to.Lower, x.to.Upper = true, nil, nil
		}
	}
}

// clears tells that enough cases were done by a day, and observed beyond it; of no day,
// and where nothing is hidden, it is false.
func (s SmallNumbers) clears(c Curve, day *float64) bool {
	if day == nil || s.below() == 0 {
		return false
	}
	waiting, done, _ := c.CountsAt(int(*day))
	return done >= s.Below && waiting >= s.Below
}

// between are the days between which a published curve passes a quantile. Its shares
// are rounded, so that a point near the quantile does not tell.
func (c Curve) between(p float64) *[2]int {
	const near = 0.001
	first := 0
	for _, x := range c {
		switch {
		case x.Waiting > 1-p+near:
			first = x.Day + 1
		case x.Waiting < 1-p-near:
			return &[2]int{first, x.Day}
		default:
			return nil
		}
	}
	return nil
}

// marks are days of a curve that are shown as quantiles or limits.
type marks struct {
	full  cutSet
	days  []float64
	below int
}

// eve and own are the last day before a quantile, and the day up to which it counts;
// between two days it tells of the first alone.
func eve(day float64) int { return int(math.Ceil(day)) - 1 }
func own(day float64) int { return int(math.Floor(day)) }

// spaced tells that between a day and the marks none or enough were done.
func (m *marks) spaced(day float64) bool {
	for _, other := range m.days {
		first, second := min(day, other), max(day, other)
		if n := m.full.done(eve(second)) - m.full.done(own(first)); n > 0 && n < m.below {
			return false
		}
	}
	return true
}

// partsSpaced tells that between a day and the cuts around it none or enough were done,
// in the parts together that have no cut there.
func partsSpaced(units []cutSet, day float64, below int) bool {
	before, after := 0, 0
	for u := range units {
		s := &units[u]
		i, k := s.upTo(eve(day)), s.upTo(own(day))
		a, _ := s.around(i)
		_, b := s.around(k)
		before += s.sums[i][0] - s.sums[a][0]
		after += s.sums[b][0] - s.sums[k][0]
	}
	return (before == 0 || before >= below) && (after == 0 || after >= below)
}

// uncut is a curve of which only the totals are known.
func uncut(c Curve) cutSet {
	return newCutSet(c, SmallNumbers{Below: math.MaxInt}, nil, true, true, nil)
}

// keeps tells that cuts at a and b leave room for the day to be shown, if it lies
// between them.
func (s *cutSet) keeps(a, b int) bool {
	i, k := s.upTo(eve(*s.keep)), s.upTo(own(*s.keep))
	if b <= i || a >= k {
		return true
	}
	return (a >= i || s.shown(s.sums[i][0]-s.sums[a][0])) && (b <= k || s.shown(s.sums[b][0]-s.sums[k][0]))
}

// done counts those done by a day.
func (s *cutSet) done(day int) int { return s.sums[s.upTo(day)][0] }

// around are the cuts next to the first i points, i itself where it is one, as the start
// is; the end is taken as known.
func (s *cutSet) around(i int) (before, after int) {
	if i == 0 {
		return 0, 0
	}
	after = len(s.curve)
	for _, c := range s.cuts {
		if c <= i {
			before = c
		}
		if c >= i {
			after = min(after, c)
		}
	}
	return before, after
}

// besides tells that a quantile of one class, beside the published curve of all, does
// not say of the other class how few were done by a day of that curve.
func (g *PublishedGroup) besides(class, all *GroupReport, rule SmallNumbers, day float64) bool {
	for _, x := range g.Curve {
		if float64(x.Day) < day {
			continue
		}
		_, together, _ := all.Curve.CountsAt(x.Day)
		_, mine, _ := class.Curve.CountsAt(x.Day)
		_, by, _ := class.Curve.CountsAt(own(day))
		others := together - mine
		return others == 0 || others+mine-by >= rule.Below-1
	}
	return true
}
