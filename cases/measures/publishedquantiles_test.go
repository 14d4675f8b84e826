package measures

import (
	"testing"

	"dunlin/cases"

	"pgregory.net/rapid"
)

// Two of 124 were done on days 29 to 31, and the curve has a point at day 28, where 60
// were done: that half were done by day 31 would tell those two.
func TestAMedianDoesNotTellWhoCameBefore(t *testing.T) {
	publish := func(groups ...[2]int) PublishedInterval {
		tally := NewIntervalTally(Question{From: Birth, To: FirstTest, By: ByReferral, Window: Window{AsOf: asOf}})
		for _, g := range groups {
			for range g[1] {
				born := asOf - 300
				tally.Add(&cases.Milestones{Born: born, Referred: born + 5, Route: "screen", FirstTest: born + cases.Day(g[0])})
			}
		}
		return tally.Report().Publish(SmallNumbers{Below: 11})
	}
	p := publish([2]int{20, 30}, [2]int{28, 30}, [2]int{30, 1}, [2]int{31, 1}, [2]int{40, 62})
	m := p.All.Median
	if !m.Hidden || m.Day != nil || m.Between != nil && m.Between[0] > 31 {
		t.Fatalf("the median is %+v", m)
	}
	p = publish([2]int{20, 30}, [2]int{28, 20}, [2]int{30, 12}, [2]int{31, 20}, [2]int{40, 42})
	if m := p.All.Median; m.Hidden || *m.Day != 35.5 && *m.Day != 31 && *m.Day != 30.5 {
		t.Errorf("nothing is small, yet the median is %+v", m)
	}
	p = publish([2]int{20, 40}, [2]int{28, 11}, [2]int{30, 3}, [2]int{33, 70})
	m = p.All.Median
	if !m.Hidden || m.Between == nil || m.Between[0] != 29 || m.Between[1] != 33 || m.Words() != "day 29 to 33" {
		t.Errorf("the median is %+v, %s", m, m.Words())
	}
}

// Between a quantile or limit that is shown and the points of the curve beside it, and
// between two of them, none or enough were done.
func TestQuantilesKeepTheirDistance(t *testing.T) {
	shown, within := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		r, rule := drawReport(t), drawRule(t)
		p := r.Publish(rule)
		groups, full := append([]PublishedGroup{p.All}, p.Groups...), append([]GroupReport{r.All}, r.Groups...)
		for i := range groups {
			g, c := &groups[i], full[i].Curve
			if g.Cases.Hidden {
				continue
			}
			type span struct{ eve, own int }
			at := []span{{-1, -1}}
			for _, x := range g.Curve {
				at = append(at, span{x.Day, x.Day})
			}
			for _, q := range []PublishedQuantile{g.Quarter, g.Median, g.ThreeQuarters, g.Ninth} {
				for _, d := range []*float64{q.Day, q.Lower, q.Upper} {
					if d != nil {
						at, shown = append(at, span{eve(*d), own(*d)}), shown+1
					}
				}
				if q.Between == nil {
					continue
				}
				within++
				day := c.Quantile(q.P).Day
				if day == nil || *day < float64(q.Between[0]) || *day > float64(q.Between[1]) {
					t.Fatalf("%s: the day %v of %v is not %s", g.Name, day, q.P, q.Words())
				}
			}
			for _, a := range at {
				for _, b := range at {
					_, by, _ := c.CountsAt(a.own)
					_, until, _ := c.CountsAt(b.eve)
					if n := until - by; b.eve > a.own && n > 0 && n < rule.Below {
						t.Fatalf("%s: %d done after day %d up to day %d, both told", g.Name, n, a.own, b.eve)
					}
				}
			}
		}
	})
	if shown < 10 || within < 10 {
		t.Errorf("%d days and %d spans were shown: nothing was tested", shown, within)
	}
}

// A median is worth a point of the curve: with one fewer it can be shown; but the point
// of day 28 stays.
func TestTheCurveMakesRoomForTheMedian(t *testing.T) {
	publish := func(groups ...[2]int) *PublishedGroup {
		tally := NewIntervalTally(Question{From: Birth, To: FirstTest, By: ByReferral, Window: Window{AsOf: asOf}})
		for _, g := range groups {
			for range g[1] {
				born := asOf - 300
				tally.Add(&cases.Milestones{Born: born, Referred: born + 5, Route: "screen", FirstTest: born + cases.Day(g[0])})
			}
		}
		p := tally.Report().Publish(SmallNumbers{Below: 11})
		return &p.All
	}
	days := func(g *PublishedGroup) (out []int) {
		for _, x := range g.Curve {
			out = append(out, x.Day)
		}
		return out
	}
	// Points at 20, 24 and 40 would leave 3 between 24 and the median of day 40.
	g := publish([2]int{20, 30}, [2]int{24, 11}, [2]int{27, 3}, [2]int{40, 60}, [2]int{60, 20})
	if g.Median.Hidden || *g.Median.Day != 40 {
		t.Errorf("the median is %s, points at %v", g.Median.Words(), days(g))
	}
	// The same with day 28 in the place of day 24.
	g = publish([2]int{20, 30}, [2]int{28, 11}, [2]int{30, 3}, [2]int{40, 60}, [2]int{60, 20})
	if !g.Median.Hidden || g.By(28).Hidden {
		t.Errorf("the median is %s, the share by day 28 %s, points at %v", g.Median.Words(), g.By(28).Words(), days(g))
	}
}
