package templates

import (
	"fmt"
	"strings"
)

// drawJoined draws a line that is known at its points only, small numbers hidden: each
// point with its limits as a bar, joined by dashes that only lead the eye. Steps would
// say that nothing happened between two points.
func (l CurveLine) drawJoined(b *strings.Builder, f frame) {
	l.join(b, f, "var(--act)", ` stroke-dasharray="5 4"`)
	for _, p := range l.Points {
		if p.Day > f.end {
			break
		}
		if p.Limits {
			fmt.Fprintf(b, `<path d="M%.1f %.1fV%.1f" stroke="var(--act)" stroke-width="6" opacity=".25"/>`, f.x(p.Day), f.y(p.Low), f.y(p.High))
		}
		fmt.Fprintf(b, `<circle cx="%.1f" cy="%.1f" r="4" fill="var(--sheet)" stroke="var(--act)" stroke-width="2"/>`, f.x(p.Day), f.y(p.Share))
	}
}

// join draws straight lines from point to point.
func (l CurveLine) join(b *strings.Builder, f frame, color, dash string) {
	fmt.Fprintf(b, `<path d="M%.1f %.1f`, f.x(0), f.y(0))
	for _, p := range l.Points {
		if p.Day <= f.end {
			fmt.Fprintf(b, "L%.1f %.1f", f.x(p.Day), f.y(p.Share))
		}
	}
	fmt.Fprintf(b, `" fill="none" stroke="%s" stroke-width="1.6"%s/>`, color, dash)
}

// drawAmong draws a line among several.
func (l CurveLine) drawAmong(b *strings.Builder, f frame, look lineLook, dash string) {
	if l.Joined {
		l.join(b, f, look.color, dash)
		return
	}
	l.drawSteps(b, f, look, dash)
	l.drawCensored(b, f, look.color)
}

// markDays are the days at which a line among several carries its mark, beside its end:
// a joined line at its points, a stepped one along the way, apart from the others.
func (l CurveLine) markDays(f frame, place, of int) (days []float64) {
	if l.Joined {
		for _, p := range l.Points {
			days = append(days, p.Day)
		}
		return days
	}
	for k := range marksOnLine {
		days = append(days, f.end*(float64(k)+float64(place+1)/float64(of+1))/marksOnLine)
	}
	return days
}

// Figure is the curve of a report as a drawing on a page.
func (c *YearCurve) Figure() CurveFigure {
	line := CurveLine{Joined: c.Joined, Until: c.Until}
	for _, p := range c.Points {
		line.Points = append(line.Points, CurvePoint(p))
	}
	f := CurveFigure{Lead: c.Description, None: c.Description, Curve: Curve{ID: c.ID, Title: c.Title, Description: c.Description + " The table below has the numbers.", Done: c.Done, Axis: c.Axis,
		AxisEnd: c.AxisEnd, Mark: c.Mark, MarkLabel: fmt.Sprintf("Day %g", c.Mark), MarkShare: c.MarkShare, CountsLead: "Waiting, " + c.Done + ", not so long yet, at each day"}}
	if len(c.Points) == 0 {
		f.Lead = ""
		return f
	}
	f.Curve.Lines = []CurveLine{line}
	step := 14
	for c.AxisEnd/float64(step) > 9 {
		step *= 2
	}
	for day := 0; float64(day) <= c.AxisEnd; day += step {
		f.Curve.Days = append(f.Curve.Days, day)
	}
	rows := make([]CurveRow, len(c.Counts))
	counts := []CurveCount{{Name: "Still waiting"}, {Name: strings.ToUpper(c.Done[:1]) + c.Done[1:]}, {Name: "Not so long yet"}}
	for i, r := range c.Counts {
		rows[i] = CurveRow(r)
		for k, n := range []string{r.Waiting, r.Done, r.Left} {
			counts[k].Days, counts[k].N = append(counts[k].Days, r.Day), append(counts[k].N, n)
		}
	}
	f.Curve.Counts, f.Tables = counts, []CurveTable{{Rows: rows}}
	return f
}

// Drawing is the funnel of a report as a drawing on a page.
func (n *YearFunnel) Drawing() Funnel {
	c := Funnel{ID: n.ID, Title: n.Title, Description: n.Description, Axis: "Infants tested at the site", Center: n.Benchmark, CenterLabel: "Benchmark " + Percent(n.Benchmark)}
	for _, l := range n.Limits {
		c.Limits = append(c.Limits, FunnelLimit{Of: l.Of, Low95: l.Low, High95: l.High, Low998: l.Lowest, High998: l.Highest})
	}
	for _, s := range n.Sites {
		c.Marks = append(c.Marks, FunnelMark{Name: s.Name, Of: s.Of, Rate: s.Rate, Out: s.Out != ""})
	}
	return c
}
