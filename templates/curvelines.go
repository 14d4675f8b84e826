package templates

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
)

// lineLook tells one line of several from the others: first by dash and mark, last
// by color.
type lineLook struct{ color, dash, mark string }

// lineLooks are those of the lines in order. A mark is a path around its middle.
var lineLooks = [MostLines]lineLook{
	{"var(--act)", "", "m-4.5 0a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0"},
	{"var(--ink)", "9 4", "m-4 -4h8v8h-8Z"},
	{"var(--ready)", "2.5 3", "m0 -5.5l5.5 5.5l-5.5 5.5l-5.5 -5.5Z"},
	{"var(--late)", "12 3 2.5 3", "m0 -5.5l5.5 9.5h-11Z"},
	{"var(--hold)", "5 3", "m-4 -4l8 8m0 -8l-8 8"},
	{"var(--soon)", "16 4 4 4", "m0 -5v10m-5 -5h10"},
}

// drawMark draws the mark of a line at a place.
func (k lineLook) drawMark(b *strings.Builder, x, y float64) {
	fmt.Fprintf(b, `<path d="M%.1f %.1f%s" fill="var(--sheet)" stroke="%s" stroke-width="1.8"/>`, x, y, k.mark, k.color)
}

// drawBand fills the space between the limits; it breaks where there are none.
func (l CurveLine) drawBand(b *strings.Builder, f frame) {
	stop := min(l.Until, f.end)
	for i := 0; i < len(l.Points); {
		if !l.Points[i].Limits || l.Points[i].Day > f.end {
			i++
			continue
		}
		j := i
		for j < len(l.Points) && l.Points[j].Limits && l.Points[j].Day <= f.end {
			j++
		}
		last := stop
		if j < len(l.Points) {
			last = min(l.Points[j].Day, f.end)
		}
		drawRun(b, f, l.Points[i:j], last)
		i = j
	}
}

// drawRun fills the band of points that all have limits, as far as the day last.
func drawRun(b *strings.Builder, f frame, run []CurvePoint, last float64) {
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
	slices.Reverse(down)
	fmt.Fprintf(b, `<path d="%s%sZ" fill="var(--act)" opacity=".16"/>`, up.String(), strings.Join(down, ""))
}

// drawAlone draws a line that stands alone.
func (l CurveLine) drawAlone(b *strings.Builder, f frame) {
	if l.Joined {
		l.drawJoined(b, f)
		return
	}
	l.drawBand(b, f)
	l.drawSteps(b, f, lineLooks[0], "")
	l.drawCensored(b, f, "var(--ink)")
}

// drawSteps draws the line itself.
func (l CurveLine) drawSteps(b *strings.Builder, f frame, look lineLook, dash string) {
	fmt.Fprintf(b, `<path d="M%.1f %.1f`, f.x(0), f.y(0))
	for _, p := range l.Points {
		if p.Day > f.end {
			break
		}
		fmt.Fprintf(b, "H%.1fV%.1f", f.x(p.Day), f.y(p.Share))
	}
	fmt.Fprintf(b, `H%.1f" fill="none" stroke="%s" stroke-width="2.5"%s/>`, f.x(min(l.Until, f.end)), look.color, dash)
}

func (l CurveLine) drawCensored(b *strings.Builder, f frame, color string) {
	for _, day := range l.Censored {
		if day <= f.end {
			fmt.Fprintf(b, `<path d="M%.1f %.1fv10" stroke="%s" stroke-width="1.4"/>`, f.x(day), f.y(l.at(day).Share)-5, color)
		}
	}
}

// marksOnLine is how many marks a line of several carries, beside the one at its end.
const marksOnLine = 3

// drawLines draws several lines: each with its dash, its mark along the way, set
// apart from those of the others, and at its end its mark and name.
func (c Curve) drawLines(b *strings.Builder, f frame) {
	ends := make([]float64, len(c.Lines))
	for i, l := range c.Lines {
		look := lineLooks[i%MostLines]
		dash := ""
		if look.dash != "" {
			dash = ` stroke-dasharray="` + look.dash + `"`
		}
		l.drawAmong(b, f, look, dash)
		ends[i] = f.y(l.at(min(l.Until, f.end)).Share)
	}
	for i, l := range c.Lines {
		look := lineLooks[i%MostLines]
		for _, day := range l.markDays(f, i, len(c.Lines)) {
			if day < min(l.Until, f.end) {
				look.drawMark(b, f.x(day), f.y(l.at(day).Share))
			}
		}
		look.drawMark(b, f.x(min(l.Until, f.end)), ends[i])
	}
	if !f.wide {
		return
	}
	for i, y := range apart(ends, 16, f.top+4, f.h-f.bottom-4) {
		x := f.x(min(c.Lines[i].Until, f.end))
		name := f.w - f.right + 10
		fmt.Fprintf(b, `<path d="M%.1f %.1fL%.1f %.1f" stroke="var(--soft)" stroke-width=".8"/>`, x+6, ends[i], name-2, y)
		fmt.Fprintf(b, `<text x="%g" y="%.1f" font-size="12.5" font-weight="700">%s</text>`, name, y+4, template.HTMLEscapeString(shorten(c.Lines[i].Name, 22)))
	}
}

// unnamed are the lines, from 1, that no row of numbers names.
func (c Curve) unnamed() (lines []int) {
	for i := range c.Lines {
		if !slices.ContainsFunc(c.Counts, func(r CurveCount) bool { return r.Line == i+1 }) {
			lines = append(lines, i+1)
		}
	}
	return lines
}

// drawGroupCounts writes the rows of numbers under several lines, each with the mark
// of its line: in the wide drawing with the name on the right, in the thin one below
// the name and after a key of the other lines.
func (c Curve) drawGroupCounts(b *strings.Builder, f frame) {
	base := f.h - f.bottom
	if f.wide {
		fmt.Fprintf(b, `<path d="M4 %gH%g" stroke="var(--line)"/>`, base+54, f.w-4)
		y := base + 72
		for _, r := range c.Counts {
			drawName(b, r.Line, r.Name, 22, f.w-f.right+16, y)
			c.drawNumbers(b, f, r, y)
			y += rowHeight
		}
		return
	}
	y := base + 60
	for _, line := range c.unnamed() {
		drawName(b, line, c.Lines[line-1].Name, 44, 10, y)
		y += rowHeight
	}
	fmt.Fprintf(b, `<text class="fs" x="4" y="%g" font-size="11.5">%s</text>`, y, template.HTMLEscapeString(c.CountsLead))
	y++
	for _, r := range c.Counts {
		drawName(b, r.Line, r.Name, 44, 10, y+rowHeight)
		y += 2 * rowHeight
		c.drawNumbers(b, f, r, y)
	}
}

// drawName writes the name of a row, with the mark of its line if it has one.
func drawName(b *strings.Builder, line int, name string, most int, x, y float64) {
	if line > 0 {
		lineLooks[(line-1)%MostLines].drawMark(b, x, y-4)
		x += 12
	}
	fmt.Fprintf(b, `<text class="fs" x="%g" y="%g" font-size="12">%s</text>`, x, y, template.HTMLEscapeString(shorten(name, most)))
}

// apart moves heights as little as it takes to keep them gap apart, in their order,
// between top and bottom.
func apart(y []float64, gap, top, bottom float64) []float64 {
	order := make([]int, len(y))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case y[a] < y[b]:
			return -1
		case y[a] > y[b]:
			return 1
		}
		return 0
	})
	out := slices.Clone(y)
	at := top
	for _, i := range order {
		out[i] = max(out[i], at)
		at = out[i] + gap
	}
	at = bottom
	for _, i := range slices.Backward(order) {
		out[i] = min(out[i], at)
		at = out[i] - gap
	}
	return out
}

// shorten cuts a name that is too long for its place.
func shorten(name string, most int) string {
	r := []rune(name)
	if len(r) <= most {
		return name
	}
	return strings.TrimSpace(string(r[:most-1])) + "…"
}
