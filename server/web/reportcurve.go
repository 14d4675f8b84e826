package web

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases/measures"
	"dunlin/templates"
)

// axes are the last days that an axis may have, with the distance of its numbers.
var axes = []struct{ end, step int }{{7, 1}, {14, 2}, {28, 7}, {42, 7}, {56, 14}, {70, 14}, {98, 14}, {168, 28}, {252, 42}, {364, 56}, {728, 112}, {1092, 182}}

// fewLeft is how few cases may remain where a drawing ends.
const fewLeft = 5

// axisOf chooses the axis: the shortest at whose end fewer than fewLeft cases remain, or
// beyond which no curve goes, but not shorter than at least.
func axisOf(curves []measures.Curve, least int) (end int, days []int) {
	x := axes[len(axes)-1]
	for _, a := range axes {
		if a.end < least {
			continue
		}
		rest := 0
		for _, c := range curves {
			if n, _, _ := c.CountsAt(a.end); len(c) > 0 && c[len(c)-1].Day > a.end {
				rest = max(rest, n)
			}
		}
		if rest < fewLeft {
			x = a
			break
		}
	}
	for day := 0; day <= x.end; day += x.step {
		days = append(days, day)
	}
	return x.end, days
}

// frameOf is the drawing without its lines: axis, day line and window.
func (v *intervalView) frameOf(p *measures.PublishedInterval, id, done string, curves []measures.Curve) templates.Curve {
	c := templates.Curve{ID: id, Done: done, Axis: "Days from " + p.From.Name()}
	least := 0
	if p.From == measures.Birth {
		c.Axis, c.Mark, c.MarkLabel, least = "Age in days", float64(v.by), fmt.Sprintf("Day %d", v.by), 70
		if p.To == measures.FirstTest || p.To == measures.FirstSufficient {
			c.WindowFrom, c.WindowTo = float64(v.window), float64(v.by)
		}
	}
	end, days := axisOf(curves, least)
	c.AxisEnd, c.Days = float64(end), days
	return c
}

// lineOf is a published curve as a rising line; where small numbers are hidden it is
// known at its points only.
func (v *intervalView) lineOf(name string, curve measures.Curve) templates.CurveLine {
	l := templates.CurveLine{Name: name, Joined: v.rule.Below > 1}
	for _, p := range curve {
		l.Until = float64(p.Day)
		if p.Events > 0 {
			q := templates.CurvePoint{Day: float64(p.Day), Share: 1 - p.Waiting}
			if p.Limits != nil {
				q.Low, q.High, q.Limits = 1-p.Limits.Upper, 1-p.Limits.Lower, true
			}
			l.Points = append(l.Points, q)
		}
		if p.Censored > 0 {
			l.Censored = append(l.Censored, float64(p.Day))
		}
	}
	return l
}

// mainCurve draws the share done: of all cases, or of the groups.
func (v *intervalView) mainCurve(p *measures.PublishedInterval, done string) templates.CurveFigure {
	if at := largest(p.Groups); len(at) > 1 {
		return v.groupCurves(p, "curve", "Share "+done+" by "+strings.ToLower(groupHead(p.Group)), done, p.Groups, at)
	}
	f := v.oneCurve(p, "curve", done, &p.All)
	if at := largest(p.Groups); f.None != "" && len(at) == 1 { // better than no curve
		g := &p.Groups[at[0]]
		f = v.oneCurve(p, "curve", done, g)
		f.Curve.Title += ": " + g.Name
		f.Lead = "Of these cases only; the others are too few to draw. " + f.Lead
	}
	return f
}

// oneCurve draws one group with its band.
func (v *intervalView) oneCurve(p *measures.PublishedInterval, id, done string, g *measures.PublishedGroup) templates.CurveFigure {
	c := v.frameOf(p, id, done, []measures.Curve{g.Curve})
	c.Title = sentence("share " + done)
	fig := templates.CurveFigure{None: v.noCurve(g), Lead: "The line rises as infants are " + done + ". The band holds the 95% limits (log-log). Small marks: waiting for fewer days than that, or left; under the axis they are \"not so long yet\"."}
	if v.rule.Below > 1 {
		fig.Lead = "The share rises as infants are " + done + ". Bars hold the 95% limits (log-log)." + v.steps()
	}
	if fig.None != "" {
		fig.Curve, fig.Lead = c, ""
		return fig
	}
	c.Lines = []templates.CurveLine{v.lineOf("", g.Curve)}
	by := shareBy(g, v.by)
	c.MarkShare = !by.Hidden && by.Known
	switch {
	case c.Mark > 0 && c.MarkShare:
		c.Title = fmt.Sprintf("%s %s by day %d", shareText(by), done, v.by)
	case !g.Median.Hidden && g.Median.Day != nil:
		c.Title = fmt.Sprintf("Half %s by day %s", done, measures.Days(g.Median.Day))
	case g.Median.Between != nil:
		c.Title = fmt.Sprintf("Half %s by %s", done, g.Median.BetweenWords(" days"))
	case !g.Median.Hidden:
		c.Title = "Fewer than half " + done + " so far"
	}
	c.Description = fmt.Sprintf("A curve that rises with time: a quarter %s by %s, half by %s, three quarters by %s. The table below has the numbers.",
		done, lowerText(dayText(g.Quarter)), lowerText(dayText(g.Median)), lowerText(dayText(g.ThreeQuarters)))
	c.CountsLead = "Waiting, " + done + ", not so long yet, at each day"
	c.Counts = v.countRows(g.Curve, c.Days, done)
	fig.Curve, fig.Tables = c, []templates.CurveTable{{Rows: v.curveRows(g.Curve, c)}}
	return fig
}

// noCurve says why a group has no curve; "" when it has one.
func (v *intervalView) noCurve(g *measures.PublishedGroup) string {
	switch {
	case len(g.Curve) > 0:
		return ""
	case g.Few:
		return fmt.Sprintf("Fewer than %d cases: no curve is drawn.", v.rule.Below)
	case !g.Cases.Hidden && g.Cases.N == 0:
		return "No case to draw."
	}
	return "Too few cases to draw a curve from which no single one could be read."
}

// steps says what the marks of a curve with small numbers hidden are.
func (v *intervalView) steps() string {
	if v.rule.Below <= 1 {
		return ""
	}
	return fmt.Sprintf(" Days are taken together until each mark stands for at least %d infants; lines only join the marks, and nothing is shown between them.", v.rule.Below)
}

// groupCurves draws the groups at some places of a table.
func (v *intervalView) groupCurves(p *measures.PublishedInterval, id, title, done string, groups []measures.PublishedGroup, at []int) templates.CurveFigure {
	var curves []measures.Curve
	for _, i := range at {
		curves = append(curves, groups[i].Curve)
	}
	c := v.frameOf(p, id, done, curves)
	c.Title, c.CountsLead = title, "Still waiting at each day"
	fig := templates.CurveFigure{Lead: "Lines are told apart by dash, mark and name. Under the axis: how many still wait."}
	if v.rule.Below > 1 {
		fig.Lead += v.steps()
	} else {
		fig.Lead += " Small strokes: waiting for fewer days than that, or left."
	}
	var said []string
	for k, i := range at {
		g := &groups[i]
		c.Lines = append(c.Lines, v.lineOf(g.Name, g.Curve))
		row := templates.CurveCount{Name: g.Name, Line: k + 1, Days: v.countDays(g.Curve, c.Days)}
		for _, day := range row.Days {
			n, _, _ := g.Curve.CountsAt(day)
			row.N = append(row.N, templates.Thousands(n))
		}
		c.Counts = append(c.Counts, row)
		said = append(said, fmt.Sprintf("%s: half %s by %s", g.Name, done, lowerText(dayText(g.Median))))
		fig.Tables = append(fig.Tables, templates.CurveTable{Name: g.Name, Rows: v.curveRows(g.Curve, c)})
	}
	c.Description = "Curves that rise with time. " + strings.Join(said, "; ") + ". The tables below have the numbers."
	if n := len(groups) - len(at); n > 0 {
		fig.Lead += fmt.Sprintf(" %s not drawn: too few, or not among the %d largest.", templates.Count(n, "group is", "groups are"), templates.MostLines)
	}
	fig.Curve = c
	return fig
}

// reasonCurve draws the share closed for each reason; nil when fewer than two can be.
func (v *intervalView) reasonCurve(p *measures.PublishedInterval) *templates.CurveFigure {
	g := &p.All
	c := v.frameOf(p, "reasons", "closed", []measures.Curve{g.Curve})
	c.Title, c.CountsLead = "How cases closed", "At each day"
	c.Counts = v.countRows(g.Curve, c.Days, "closed")
	until := 0.0
	if n := len(g.Curve); n > 0 {
		until = float64(g.Curve[n-1].Day)
	}
	var said []string
	for _, r := range g.Incidence {
		if r.Hidden || len(r.Steps) == 0 || float64(r.Steps[len(r.Steps)-1].Value) == 0 {
			continue
		}
		l := templates.CurveLine{Name: sentence(r.As), Until: until, Joined: v.rule.Below > 1}
		for _, s := range r.Steps {
			l.Points = append(l.Points, templates.CurvePoint{Day: float64(s.Time), Share: float64(s.Value)})
		}
		c.Lines = append(c.Lines, l)
		said = append(said, fmt.Sprintf("%s %s by day %d", l.Name, templates.Percent(l.Points[len(l.Points)-1].Share), int(until)))
	}
	if len(c.Lines) < 2 {
		return nil
	}
	c.Description = "Curves that rise with time, one for each reason; together they are the share closed. " + strings.Join(said, ", ") + ". The table below has the numbers."
	return &templates.CurveFigure{Curve: c, Lead: "Share closed for each reason, the others competing (Aalen-Johansen)." + v.steps()}
}

// countDays are the days under which numbers stand: those of the axis or, where small
// numbers are hidden, those of the steps, since nothing is known between them.
func (v *intervalView) countDays(curve measures.Curve, axis []int) []int {
	if v.rule.Below <= 1 {
		return axis
	}
	days := []int{0}
	for _, p := range curve {
		days = append(days, p.Day)
	}
	return slices.Compact(days)
}

// notYet counts those who have waited for fewer days than a day of the axis, and those
// who left: nothing is known of them on that day.
const notYet = "Not so long yet"

// countRows are the rows of numbers under one curve.
func (v *intervalView) countRows(curve measures.Curve, axis []int, done string) []templates.CurveCount {
	days := v.countDays(curve, axis)
	rows := []templates.CurveCount{{Name: "Still waiting"}, {Name: capital(done)}, {Name: notYet}, {Name: "At day"}}
	for i := range rows {
		rows[i].Days = days
	}
	for _, day := range days {
		waiting, n, left := curve.CountsAt(day)
		for i, x := range []int{waiting, n, left, day} {
			rows[i].N = append(rows[i].N, templates.Thousands(x))
		}
	}
	if v.rule.Below <= 1 { // the axis says the days
		rows = rows[:3]
	}
	return rows
}

// capital is a participle as the name of a row of counts.
func capital(done string) string { return sentence(strings.TrimPrefix(done, "with the ")) }

// curveRows are the numbers of a curve: at the days of the axis and of the shares or,
// where small numbers are hidden, at its steps.
func (v *intervalView) curveRows(curve measures.Curve, c templates.Curve) []templates.CurveRow {
	days := append(slices.Clone(c.Days), measures.ShareDays...)
	if v.rule.Below > 1 {
		days = days[:0]
		for _, p := range curve {
			days = append(days, p.Day)
		}
	}
	slices.Sort(days)
	var rows []templates.CurveRow
	for _, day := range slices.Compact(days) {
		if day == 0 || float64(day) > c.AxisEnd {
			continue
		}
		s := curve.DoneBy(day)
		waiting, done, left := curve.CountsAt(day)
		row := templates.CurveRow{Day: day, Share: shareText(measures.PublishedShare{Share: s}), Limits: "None",
			Waiting: templates.Thousands(waiting), Done: templates.Thousands(done), Left: templates.Thousands(left)}
		if s.Known && s.Limits != nil {
			row.Limits = limitsRange(s.Limits)
		}
		rows = append(rows, row)
	}
	return rows
}

// lowerText is a figure in the middle of a sentence.
func lowerText(s string) string { return strings.ToLower(s[:1]) + s[1:] }
