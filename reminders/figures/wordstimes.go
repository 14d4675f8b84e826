package figures

import (
	"fmt"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// timeColumns are those of every table of intervals.
func timeColumns(head string, by int) []templates.YearColumn {
	return []templates.YearColumn{{Head: head, Share: 1.9}, {Head: "Infants", Figure: true, Count: true, Share: 0.9}, {Head: "Reached", Figure: true, Count: true, Share: 0.95}, {Head: "Waiting", Figure: true, Count: true, Share: 0.95}, {Head: "Left", Figure: true, Count: true, Share: 0.8},
		{Head: "Median, days (95% limits)", Figure: true, Share: 1.5}, {Head: "Middle half", Figure: true, Share: 1.2}, {Head: "Nine tenths by", Figure: true, Share: 1.1}, {Head: fmt.Sprintf("By day %d (95%% limits)", by), Figure: true, Share: 1.6}}
}

func timeRow(name string, g *measures.PublishedGroup, by int) []string {
	return []string{name, cell(g.Cases), cell(g.Done), cell(g.Waiting), cell(g.Left), medianLimits(g.Median), middleHalf(g), plainDay(g.Ninth), shareWithLimits(g.By(by))}
}

// times is how long infants waited, open cases counted.
func times(y *measures.PublishedYear, about *About) templates.YearSection {
	by := about.Protocol.FirstTestByDays
	s := templates.YearSection{ID: "times", Name: "How long infants waited",
		Lead: "In days. Whoever still waits is counted until the day of the records; whoever closed, or died, without reaching the second day has left the count then."}
	t := templates.YearTable{Name: "Times, open cases counted", Columns: timeColumns("From and to", by)}
	refused := 0
	for i := range y.Intervals {
		x := &y.Intervals[i]
		if x.Group != "" {
			continue
		}
		t.Rows = append(t.Rows, timeRow(sentence(x.Interval()), &x.All, by))
		if !x.Refused.Hidden {
			refused = max(refused, x.Refused.N)
		}
	}
	s.Tables = append(s.Tables, t)
	if refused > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("Up to %s were left out of an interval because its days are in the wrong order; they are listed under Data faults.", templates.Count(refused, "infant", "infants")))
	}
	for _, c := range []struct {
		id, done string
		to       measures.Milestone
	}{{"tested", "tested", measures.FirstTest}, {"closed", "closed", measures.Closure}} {
		if x, ok := y.Interval(measures.Birth, c.to, ""); ok {
			s.Curves = append(s.Curves, curveOf(c.id, c.done, &x.All, y.Below > 0, float64(by)))
		}
	}
	s.Tables = append(s.Tables, templates.YearTable{Name: "Age when it was known, of those closed so",
		Columns: []templates.YearColumn{{Head: "Closed as", Share: 2.6}, {Head: "Infants", Figure: true, Count: true}, {Head: "Median, days", Figure: true}, {Head: "Middle half", Figure: true, Share: 1.3}, {Head: "Nine tenths by", Figure: true}},
		Rows:    [][]string{spreadRow("CF (birth to confirmed diagnosis)", y.Diagnosed), spreadRow("Carrier or not affected (birth to ruled out)", y.Cleared)}})
	s.Notes = append(s.Notes, "Ages when it was known hold only infants who have come so far, as the national timeliness indicators 5f and 5g do; those still open can only be slower. The tables above count everyone.")
	return s
}

func spreadRow(name string, s measures.PublishedSpread) []string {
	if s.Median == nil {
		none := fewWord
		if !s.N.Hidden && s.N.N == 0 {
			none = "None"
		}
		return []string{name, cell(s.N), none, none, none}
	}
	return []string{name, cell(s.N), number(*s.Median), number(*s.Quarter) + " to " + number(*s.ThreeQuarters), number(*s.P90)}
}

// curveOf is the curve of a group, rising, with the numbers at some days. A published
// curve has them at its own points, since no others may be shown.
func curveOf(id, done string, g *measures.PublishedGroup, published bool, mark float64) templates.YearCurve {
	c := templates.YearCurve{ID: id, Done: done, Axis: "Age in days", Mark: mark, Title: "Share " + done + " by age"}
	if len(g.Curve) == 0 {
		c.Description = "There are too few infants to draw a curve."
		return c
	}
	for _, p := range g.Curve {
		c.Until = float64(p.Day)
		if p.Events == 0 {
			continue
		}
		q := templates.YearPoint{Day: float64(p.Day), Share: 1 - p.Waiting}
		if p.Limits != nil {
			q.Low, q.High, q.Limits = 1-p.Limits.Upper, 1-p.Limits.Lower, true
		}
		c.Points = append(c.Points, q)
	}
	if len(c.Points) == 0 {
		c.Points = []templates.YearPoint{{}}
	}
	c.AxisEnd = axisEnd(g.Curve)
	if s := g.By(int(mark)); !s.Hidden && s.Known {
		c.Title, c.MarkShare = fmt.Sprintf("%s %s by day %s", percent(s.Share.Share), done, number(mark)), true
	}
	c.Joined = published
	half := fmt.Sprintf("half %s by %s, three quarters by %s", done, dayWord(g.Median), dayWord(g.ThreeQuarters))
	days := curveDays
	if published {
		c.Description = "A curve that rises with age: " + half + ". Each mark is a day by which enough infants were " + done + ", or had left the count, since the mark before; its bar holds the 95% limits (log-log). The dashes only join the marks."
		days = pointDays(g.Curve)
	} else {
		c.Description = "A step curve that rises with age: " + half + ". The band holds the 95% limits (log-log)."
	}
	for _, day := range days {
		if float64(day) > c.Until {
			break
		}
		at := g.Curve.DoneBy(day)
		waiting, n, left := g.Curve.CountsAt(day)
		row := templates.YearCurveRow{Day: day, Share: percent(at.Share), Limits: limitsWord(at.Limits), Waiting: templates.Thousands(waiting), Done: templates.Thousands(n), Left: templates.Thousands(left)}
		c.Counts = append(c.Counts, row)
	}
	return c
}

// curveDays are the ages of the numbers under a full curve.
var curveDays = []int{14, 21, 28, 35, 42, 56, 60, 90, 120, 180, 365}

// mostRows bounds the numbers under a published curve.
const mostRows = 12

// pointDays are the days of a curve's own points, thinned evenly where they are many.
func pointDays(c measures.Curve) []int {
	every := (len(c) + mostRows - 1) / mostRows
	var out []int
	for i, p := range c {
		if i%every == 0 || i == len(c)-1 {
			out = append(out, p.Day)
		}
	}
	return out
}

// fewestLeft is how many must still wait for a curve to be drawn on (ux: below five it
// says little).
const fewestLeft = 5

// axisEnd is the last day drawn: a whole number of fortnights that holds all days with
// enough infants waiting, from 8 to 26 weeks.
func axisEnd(c measures.Curve) float64 {
	last := 0
	for _, p := range c {
		if p.AtRisk >= fewestLeft {
			last = p.Day
		}
	}
	last = min(max(last, 56), 182)
	return float64((last + 13) / 14 * 14)
}
