package templates

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
)

// CurvePoint is one step of a rising curve: from Day on, Share of the cases
// have reached the event. Low and High are the confidence limits of Share;
// Limits is false where none exist (before the first event they equal Share).
type CurvePoint struct {
	Day              float64
	Share, Low, High float64
	Limits           bool
}

// CurveCount is one column of the counts under a curve: at the end of Day, how
// many cases were still waiting, had reached the event, or had left the count.
type CurveCount struct {
	Day, Waiting, Done, Left int
}

// Curve is everything a rising curve needs; WideSVG and ThinSVG are pure
// functions of it. Shares are fractions from 0 to 1, days are whole days on
// the axis named by Axis.
type Curve struct {
	ID          string // prefix of the ids inside the drawing, unique on the page
	Title       string // the finding in words, read aloud as the drawing's name
	Description string // the drawing in words
	Done        string // past participle of the event, like "closed"
	Axis        string // name of the horizontal axis, like "Age in days"
	Points      []CurvePoint
	Censored    []float64 // days at which open or ended cases stop being counted
	Counts      []CurveCount
	Until       float64 // last day anyone was followed
	AxisEnd     float64 // last day drawn
	Mark        float64 // the day line, 28 for age; 0 draws none
	MarkLabel   string  // like "Day 28"
	WindowFrom  float64 // shaded window, none when WindowTo is 0
	WindowTo    float64
}

// frame is the geometry of one size of the drawing in its own units.
type frame struct {
	class                    string
	w, h                     float64
	left, right, top, bottom float64
	wide                     bool
	end                      float64
}

func (f frame) x(day float64) float64 {
	return f.left + min(day, f.end)/f.end*(f.w-f.left-f.right)
}

func (f frame) y(share float64) float64 {
	return f.top + (1-share)*(f.h-f.top-f.bottom)
}

// WideSVG draws the curve 620 units wide, for screens over 760 px and paper.
func (c Curve) WideSVG() template.HTML {
	return c.draw(frame{class: "wide", w: 620, h: 420, left: 92, right: 16, top: 22, bottom: 118, wide: true, end: c.axisEnd()}, "w")
}

// ThinSVG draws the curve 340 units wide, for phones.
func (c Curve) ThinSVG() template.HTML {
	return c.draw(frame{class: "thin", w: 340, h: 360, left: 44, right: 14, top: 20, bottom: 122, end: c.axisEnd()}, "n")
}

func (c Curve) axisEnd() float64 {
	if c.AxisEnd <= 0 {
		return 70
	}
	return c.AxisEnd
}

// at gives the step in force on a day: the last one at or before it.
func (c Curve) at(day float64) CurvePoint {
	var p CurvePoint
	for _, q := range c.Points {
		if q.Day > day {
			break
		}
		p = q
	}
	return p
}

func (c Curve) draw(f frame, size string) template.HTML {
	var b strings.Builder
	id := template.HTMLEscapeString(c.ID + size)
	fmt.Fprintf(&b, `<svg class="%s" viewBox="0 0 %g %g" role="img" aria-labelledby="%st %sd">`, f.class, f.w, f.h, id, id)
	fmt.Fprintf(&b, `<title id="%st">%s</title><desc id="%sd">%s</desc>`, id, template.HTMLEscapeString(c.Title), id, template.HTMLEscapeString(c.Description))
	c.drawGround(&b, f)
	c.drawBand(&b, f)
	c.drawSteps(&b, f)
	c.drawCensored(&b, f)
	c.drawMark(&b, f)
	c.drawCounts(&b, f)
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawGround draws the window, the grid and both axes.
func (c Curve) drawGround(b *strings.Builder, f frame) {
	base := f.h - f.bottom
	if c.WindowTo > c.WindowFrom {
		fmt.Fprintf(b, `<rect x="%.1f" y="%g" width="%.1f" height="%g" fill="var(--window)" opacity=".6"/>`,
			f.x(c.WindowFrom), f.top, f.x(c.WindowTo)-f.x(c.WindowFrom), base-f.top)
	}
	for _, v := range []float64{0, .25, .5, .75, 1} {
		fmt.Fprintf(b, `<path d="M%g %.1fH%g" stroke="var(--line)"/>`, f.left, f.y(v), f.w-f.right)
		fmt.Fprintf(b, `<text class="fs" x="%g" y="%.1f" font-size="12" text-anchor="end">%.0f%%</text>`, f.left-7, f.y(v)+4, v*100)
	}
	for _, n := range c.Counts {
		x := f.x(float64(n.Day))
		fmt.Fprintf(b, `<path d="M%.1f %gv5" stroke="var(--ink)"/>`, x, base)
		fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12" text-anchor="middle">%d</text>`, x, base+19, n.Day)
	}
	fmt.Fprintf(b, `<path d="M%g %gH%g" stroke="var(--ink)"/>`, f.left, base, f.w-f.right)
	fmt.Fprintf(b, `<text class="fs" x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, f.x(f.end/2), base+37, template.HTMLEscapeString(c.Axis))
}

// drawBand fills the space between the limits; it breaks where there are none.
func (c Curve) drawBand(b *strings.Builder, f frame) {
	stop := min(c.Until, f.end)
	for i := 0; i < len(c.Points); {
		if !c.Points[i].Limits || c.Points[i].Day > f.end {
			i++
			continue
		}
		j := i
		for j < len(c.Points) && c.Points[j].Limits && c.Points[j].Day <= f.end {
			j++
		}
		last := stop
		if j < len(c.Points) {
			last = min(c.Points[j].Day, f.end)
		}
		run := c.Points[i:j]
		var up strings.Builder
		down := make([]string, 0, 2*len(run))
		for k, p := range run {
			to := last
			if k+1 < len(run) {
				to = run[k+1].Day
			}
			verb := "L"
			if k == 0 {
				verb = "M"
			}
			fmt.Fprintf(&up, "%s%.1f %.1fH%.1f", verb, f.x(p.Day), f.y(p.High), f.x(to))
			down = append(down, fmt.Sprintf("L%.1f %.1f", f.x(p.Day), f.y(p.Low)), fmt.Sprintf("L%.1f %.1f", f.x(to), f.y(p.Low)))
		}
		for k := len(down) - 1; k >= 0; k-- {
			up.WriteString(down[k])
		}
		fmt.Fprintf(b, `<path d="%sZ" fill="var(--act)" opacity=".16"/>`, up.String())
		i = j
	}
}

func (c Curve) drawSteps(b *strings.Builder, f frame) {
	fmt.Fprintf(b, `<path d="M%.1f %.1f`, f.x(0), f.y(0))
	for _, p := range c.Points {
		if p.Day > f.end {
			break
		}
		fmt.Fprintf(b, "H%.1fV%.1f", f.x(p.Day), f.y(p.Share))
	}
	fmt.Fprintf(b, `H%.1f" fill="none" stroke="var(--act)" stroke-width="2.5"/>`, f.x(min(c.Until, f.end)))
}

func (c Curve) drawCensored(b *strings.Builder, f frame) {
	for _, day := range c.Censored {
		if day > f.end {
			continue
		}
		fmt.Fprintf(b, `<path d="M%.1f %.1fv10" stroke="var(--ink)" stroke-width="1.4"/>`, f.x(day), f.y(c.at(day).Share)-5)
	}
}

// drawMark draws the day line and the share reached on it, unless the count
// ends before that day.
func (c Curve) drawMark(b *strings.Builder, f frame) {
	if c.Mark <= 0 || c.Mark > f.end {
		return
	}
	x := f.x(c.Mark)
	fmt.Fprintf(b, `<path d="M%.1f %gV%g" stroke="var(--ink)" stroke-width="2"/>`, x, f.top, f.h-f.bottom)
	fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12.5" text-anchor="middle" font-weight="700">%s</text>`, x, f.top-7, template.HTMLEscapeString(c.MarkLabel))
	if len(c.Points) == 0 || c.Until < c.Mark {
		return
	}
	p := c.at(c.Mark)
	y := f.y(p.Share)
	fmt.Fprintf(b, `<path d="M%g %.1fH%.1f" stroke="var(--ink)" stroke-width="1.2" stroke-dasharray="4 3"/>`, f.left, y, x)
	fmt.Fprintf(b, `<circle cx="%.1f" cy="%.1f" r="5" fill="var(--sheet)" stroke="var(--ink)" stroke-width="2.2"/>`, x, y)
	below := min(y+20, f.h-f.bottom-24)
	fmt.Fprintf(b, `<text x="%.1f" y="%.1f" font-size="13.5" font-weight="700">%s %s by %s</text>`, x+12, below,
		Percent(p.Share), template.HTMLEscapeString(c.Done), template.HTMLEscapeString(strings.ToLower(c.MarkLabel)))
	if f.wide && p.Limits {
		fmt.Fprintf(b, `<text class="fs" x="%.1f" y="%.1f" font-size="12">95%% limits %s to %s</text>`, x+12, below+17, Percent(p.Low), Percent(p.High))
	}
}

// drawCounts writes the three rows of numbers under the axis.
func (c Curve) drawCounts(b *strings.Builder, f frame) {
	y := f.h - 46
	if f.wide {
		fmt.Fprintf(b, `<path d="M4 %gH%g" stroke="var(--line)"/>`, f.h-64, f.w-f.right)
	} else {
		y = f.h - 44
		fmt.Fprintf(b, `<text class="fs" x="4" y="%g" font-size="11.5">Waiting, %s, left the count at each day</text>`, f.h-62, template.HTMLEscapeString(c.Done))
	}
	rows := []struct {
		name string
		of   func(CurveCount) int
	}{
		{"Still waiting", func(n CurveCount) int { return n.Waiting }},
		{capital(c.Done), func(n CurveCount) int { return n.Done }},
		{"Left the count", func(n CurveCount) int { return n.Left }},
	}
	for _, r := range rows {
		if f.wide {
			fmt.Fprintf(b, `<text class="fs" x="4" y="%g" font-size="12">%s</text>`, y, template.HTMLEscapeString(r.name))
		}
		for _, n := range c.Counts {
			if float64(n.Day) <= f.end {
				fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12" text-anchor="middle">%d</text>`, f.x(float64(n.Day)), y, r.of(n))
			}
		}
		y += 17
	}
}

// Percent writes a fraction as a whole percentage; shares that are not 0 or 1
// never read as 0% or 100%.
func Percent(share float64) string {
	switch {
	case share > 0 && share < .005:
		return "under 1%"
	case share < 1 && share >= .995:
		return "over 99%"
	}
	return strconv.Itoa(int(share*100+.5)) + "%"
}

func capital(word string) string {
	if word == "" {
		return ""
	}
	return strings.ToUpper(word[:1]) + word[1:]
}
