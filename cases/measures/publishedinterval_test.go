package measures

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"

	"pgregory.net/rapid"
)

// drawReport makes up a report of a cohort large enough that something is shown.
func drawReport(t *rapid.T) IntervalReport {
	q := drawInterval(t)
	tally := NewIntervalTally(q)
	for i := range rapid.IntRange(0, 150).Draw(t, "cases") {
		m := drawMilestones(t, i)
		tally.Add(&m)
	}
	return tally.Report()
}

func drawRule(t *rapid.T) SmallNumbers {
	return SmallNumbers{Below: rapid.IntRange(2, 12).Draw(t, "below"), HideZero: rapid.IntRange(0, 9).Draw(t, "zeros") == 0}
}

// Whoever reads a published report finds no small count: not in its cells, not
// between two points of a curve, not after the last one, and not by taking the curves
// of groups from that of all.
func TestPublishedIntervalTellsNoSmallCount(t *testing.T) {
	drawn := 0
	rapid.Check(t, func(t *rapid.T) {
		r, rule := drawReport(t), drawRule(t)
		p := r.Publish(rule)
		if rule.Small(r.Cases) && !p.Cases.Hidden || rule.Small(r.NotStarted) && !p.NotStarted.Hidden {
			t.Fatalf("%v of %d cases, %v not started", p.Cases, r.Cases, p.NotStarted)
		}
		rest := []*waitTally{}
		for i := range p.Groups {
			checkPublished(t, &p.Groups[i], &r.Groups[i], rule)
			if p.Groups[i].Cases.Hidden {
				rest = append(rest, r.Groups[i].counts)
			}
			if len(p.Groups[i].Incidence) > 0 {
				t.Fatal("incidences of a group could be taken from those of all")
			}
		}
		checkPublished(t, &p.All, &r.All, rule)
		for i := range p.Classes {
			checkPublished(t, &p.Classes[i], &r.Classes[i], rule)
			if len(p.Classes[i].Curve)+len(p.Classes[i].Shares) > 0 {
				t.Fatal("a class has a curve")
			}
		}
		if len(p.Groups) == 0 {
			return
		}
		parts := []*waitTally{merged(rest)}
		for i := range p.Groups {
			parts = append(parts, r.Groups[i].counts)
		}
		for i, part := range parts {
			if len(rest) == len(p.Groups) || i > 0 && p.Groups[i-1].Cases.Hidden {
				continue
			}
			checkSteps(t, "part of all", p.All.Curve, part, rule)
		}
		if len(p.All.Curve) > 0 {
			drawn++
		}
	})
	if drawn == 0 {
		t.Error("no curve of all was drawn beside groups: nothing was tested")
	}
}

// checkPublished compares a group with its full figures.
func checkPublished(t *rapid.T, g *PublishedGroup, full *GroupReport, rule SmallNumbers) {
	cells := map[string][2]any{"cases": {g.Cases, full.Cases}, "done": {g.Done, full.Done}, "waiting": {g.Waiting, full.Waiting}}
	if len(full.Reasons) == 0 || full.competing { // of a closure nobody can have left
		cells["left"] = [2]any{g.Left, full.Left}
	}
	for i, x := range g.Reasons {
		cells[x.As] = [2]any{x.N, full.Reasons[i].N}
	}
	for name, x := range cells {
		c, n := x[0].(Cell), x[1].(int)
		if !c.Hidden && (rule.Small(n) || c.N != n) {
			t.Fatalf("%s: %s is shown as %v, it is %d", g.Name, name, c, n)
		}
	}
	if g.Cases.Hidden && len(g.Curve)+len(g.Shares) > 0 {
		t.Fatalf("%s is drawn, though its number of cases is hidden", g.Name)
	}
	checkSteps(t, g.Name, g.Curve, full.counts, rule)
	done, gone, n := 0, 0, 0
	for _, x := range g.Curve {
		at, _ := full.Curve.at(x.Day)
		if x.AtRisk != g.Cases.N-done-gone || math.Abs(x.Waiting-at.Waiting) > 0.0005001 {
			t.Fatalf("%s: the point of day %d is %+v, the full one %+v", g.Name, x.Day, x, at)
		}
		done, gone, n = done+x.Events, gone+x.Censored, n+1
	}
	if left := full.Cases - done - gone; n > 0 && g.Done.Hidden && left < rule.Below {
		t.Fatalf("%s: the curve leaves %d cases, though the number done is hidden", g.Name, left)
	}
	for _, s := range g.Shares {
		if x := full.By(s.Day); !s.Hidden && (s.Known != x.Known || math.Abs(s.Share.Share-x.Share) > 0.0005001) {
			t.Fatalf("%s by day %d: %+v, the full share is %+v", g.Name, s.Day, s, x)
		}
	}
	for _, q := range []PublishedQuantile{g.Quarter, g.Median, g.ThreeQuarters, g.Ninth} {
		for _, d := range []*float64{q.Day, q.Lower, q.Upper} {
			if d == nil || g.Cases.Hidden {
				continue
			}
			if waiting, done, _ := full.Curve.CountsAt(int(*d)); done < rule.Below || waiting < rule.Below {
				t.Fatalf("%s: day %v with %d done and %d waiting", g.Name, *d, done, waiting)
			}
		}
	}
	checkReasons(t, g, full, rule)
}

// checkSteps tells that between the points of a curve, and after the last one where
// the rest is no small number, a part of its cases has no small count.
func checkSteps(t *rapid.T, name string, c Curve, part *waitTally, rule SmallNumbers) {
	last := -1
	for _, p := range c {
		done, gone := 0, 0
		part.each(func(day int, n *dayCount) {
			if day > last && day <= p.Day {
				done, gone = done+int(n.events), gone+int(n.censored+n.ended)
			}
		})
		if done > 0 && done < rule.Below || gone > 0 && gone < rule.Below {
			t.Fatalf("%s: %d done and %d gone from day %d to %d", name, done, gone, last+1, p.Day)
		}
		last = p.Day
	}
}

func checkReasons(t *rapid.T, g *PublishedGroup, full *GroupReport, rule SmallNumbers) {
	last := -1
	for k, f := range g.Incidence {
		if f.Hidden {
			if len(f.Steps) > 0 {
				t.Fatalf("%s has steps", f.As)
			}
			continue
		}
		last = -1
		for _, s := range f.Steps {
			mine, hidden := 0, 0
			full.counts.each(func(day int, n *dayCount) {
				for r := range ClosureReasons {
					if day <= last || day > int(s.Time) {
						continue
					}
					if r == k {
						mine += int(n.by[r+1])
					}
					if g.Reasons[r].N.Hidden {
						hidden += int(n.by[r+1])
					}
				}
			})
			if mine > 0 && mine < rule.Below || hidden > 0 && hidden < rule.Below {
				t.Fatalf("%s: %d closed so, %d for hidden reasons, from day %d to %v", f.As, mine, hidden, last+1, s.Time)
			}
			last = int(s.Time)
		}
	}
}

// The rule that hides nothing gives the full figures.
func TestPublishedInFull(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawReport(t)
		p := r.Publish(SmallNumbers{})
		groups := append(slices.Clone(r.Groups), r.All)
		for i, g := range append(slices.Clone(p.Groups), p.All) {
			want, err := json.Marshal(groups[i])
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range g.Incidence {
				groups[i].Incidence = slices.Clone(groups[i].Incidence)
				if len(x.Steps) != len(groups[i].Incidence[x.Reason-1].Steps) {
					t.Fatalf("%s: %d steps", x.As, len(x.Steps))
				}
			}
			got := groups[i]
			got.Cases, got.Done, got.Waiting, got.Left, got.Curve = g.Cases.N, g.Done.N, g.Waiting.N, g.Left.N, g.Curve
			got.Quarter, got.Median, got.ThreeQuarters, got.Ninth, got.RMean = g.Quarter.Quantile, g.Median.Quantile, g.ThreeQuarters.Quantile, g.Ninth.Quantile, g.RMean
			for k, s := range g.Shares {
				got.Shares[k] = s.Share
			}
			have, err := json.Marshal(got)
			if err != nil || string(have) != string(want) {
				t.Fatalf("published %s\nfull %s", have, want)
			}
		}
		if p.Below != 0 || fmt.Sprint(p.Says) != fmt.Sprint(r.Says) {
			t.Fatalf("below %d, %q", p.Below, p.Says)
		}
	})
}

// Of a cohort of a few hundred, the protocol's day and the longer course are shown.
func TestPublishedCurveShowsDay28(t *testing.T) {
	tally := NewIntervalTally(Question{From: Birth, To: Closure, By: ByBirth, Window: Window{AsOf: asOf}})
	for i := range 400 {
		born := asOf - cases.Day(60+i) // nobody is younger than the days of interest
		m := cases.Milestones{Born: born, Referred: born + 6}
		if c := born + cases.Day(14+i*7%43); c <= asOf {
			m.Closed, m.ClosedAs = c, "carrier"
		}
		tally.Add(&m)
	}
	p := tally.Report().Publish(SmallNumbers{Below: 11})
	if s := p.All.By(28); s.Hidden || len(p.All.Curve) < 8 {
		t.Errorf("day 28: %s; %d points", s.Words(), len(p.All.Curve))
	}
	raw, err := json.Marshal(p)
	if err != nil || strings.Contains(string(raw), "AB-") {
		t.Error(err, string(raw))
	}
}
