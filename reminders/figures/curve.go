package figures

import (
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// curve draws a rising curve with its band, and its numbers as a table below.
func curve(f *paper.Flow, c *templates.YearCurve) {
	f.Skip(3)
	f.Need(nameType.Pitch() + curveHeight)
	f.Para(nameType, c.Title)
	if len(c.Points) == 0 {
		f.Para(textType, c.Description)
		return
	}
	p := newPlot(f, curveHeight, max(c.AxisEnd, 1), 1)
	p.grid(days(c.AxisEnd), []float64{0, 0.25, 0.5, 0.75, 1}, c.Axis)
	if c.Joined {
		p.joined(c)
	} else {
		p.stepped(c)
	}
	if c.Mark > 0 && c.Mark <= c.AxisEnd {
		label := "Day " + number(c.Mark)
		x := p.x(c.Mark)
		p.sheet.Line(x, p.top, x, p.bottom, 0.9)
		p.sheet.Put(x-paper.Width(label, smallType)/2, p.top-3, smallType, label)
		if c.MarkShare && !c.Joined {
			ring(p.sheet, x, p.y(shareAt(c, c.Mark)), 3)
		}
	}
	f.Para(smallType, c.Description)
	t := templates.YearTable{Columns: []templates.YearColumn{{Head: "Day"}, {Head: "Share " + c.Done}, {Head: "95% limits", Share: 1.4}, {Head: "Still waiting"}, {Head: "Number " + c.Done}, {Head: "Not so long yet"}}}
	for _, r := range c.Counts {
		t.Rows = append(t.Rows, []string{number(float64(r.Day)), r.Share, r.Limits, r.Waiting, r.Done, r.Left})
	}
	f.Skip(3)
	table(f, &t)
}

// joined draws the points with their limits as bars, joined by dashes.
func (p *plot) joined(c *templates.YearCurve) {
	line := [][2]float64{{0, 0}}
	for _, q := range c.Points {
		if q.Day > c.AxisEnd {
			break
		}
		if q.Day > 0 {
			line = append(line, [2]float64{q.Day, q.Share})
		}
		if q.Limits {
			p.sheet.Fill(p.x(q.Day)-2, p.y(q.High), 4, p.y(q.Low)-p.y(q.High), 0.2)
		}
		ring(p.sheet, p.x(q.Day), p.y(q.Share), 2.5)
	}
	p.path(0.8, 3, line...)
}

// stepped draws the curve as it was observed.
func (p *plot) stepped(c *templates.YearCurve) {
	end := min(c.Until, c.AxisEnd)
	line := [][2]float64{{0, 0}}
	for i, q := range c.Points {
		if q.Day > c.AxisEnd {
			break
		}
		until := end
		if i+1 < len(c.Points) {
			until = min(end, c.Points[i+1].Day)
		}
		if q.Limits {
			p.sheet.Fill(p.x(q.Day), p.y(q.High), p.x(until)-p.x(q.Day), p.y(q.Low)-p.y(q.High), 0.13)
		}
		last := line[len(line)-1]
		line = append(line, [2]float64{q.Day, last[1]}, [2]float64{q.Day, q.Share}, [2]float64{until, q.Share})
	}
	p.path(1.6, 0, line...)
}

const curveHeight = 190.0

// shareAt is the share in force on a day.
func shareAt(c *templates.YearCurve, day float64) float64 {
	share := 0.0
	for _, p := range c.Points {
		if p.Day > day {
			break
		}
		share = p.Share
	}
	return share
}

// days are the day numbers on an axis: fortnights, or steps of four weeks and more.
func days(end float64) []float64 {
	step := 14.0
	for end/step > 9 {
		step *= 2
	}
	var out []float64
	for d := 0.0; d <= end; d += step {
		out = append(out, d)
	}
	return out
}
