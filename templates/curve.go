package templates

import (
	"fmt"
	"html/template"
	"slices"
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

// CurveLine is one line of a drawing.
type CurveLine struct {
	Name     string // of the group; "" for a line that stands alone
	Points   []CurvePoint
	Censored []float64 // days at which open or ended cases stop being counted
	Until    float64   // last day anyone was followed
	Joined   bool      // known at its points only: joined, not stepped
}

// CurveCount is one row of numbers under the axis, each below its day. Numbers that
// would touch are left out; they stand in the table.
type CurveCount struct {
	Name string
	Line int // the line it belongs to, from 1; 0 for the whole drawing
	Days []int
	N    []string // for each of Days
}

// MostLines is how many lines a drawing can hold and still be told apart.
const MostLines = 6

// Curve is everything a drawing of rising curves needs; WideSVG and ThinSVG are
// pure functions of it. Shares are fractions from 0 to 1, days are whole days on
// the axis named by Axis. One line is drawn with its 95 % band; several, at most
// MostLines, are told apart by dash, mark and name, not by color.
type Curve struct {
	ID          string // prefix of the ids inside the drawing, unique on the page
	Title       string // the finding in words, read aloud as the drawing's name
	Description string // the drawing in words
	Done        string // past participle of the event, like "closed"
	Axis        string // name of the horizontal axis, like "Age in days"
	Lines       []CurveLine
	Days        []int // numbered on the axis
	Counts      []CurveCount
	CountsLead  string  // what the counts are, for the thin drawing
	AxisEnd     float64 // last day drawn
	Mark        float64 // the day line, 28 for age; 0 draws none
	MarkLabel   string  // like "Day 28"
	MarkShare   bool    // the share on the day line is known, and written
	WindowFrom  float64 // shaded window, none when WindowTo is 0
	WindowTo    float64
}

// Drawn tells whether there is a line to draw.
func (c Curve) Drawn() bool { return len(c.Lines) > 0 }

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

// rowHeight is that of a line of numbers under the axis.
const rowHeight = 17

// WideSVG draws the curve 620 units wide, for screens over 760 px and paper.
func (c Curve) WideSVG() template.HTML {
	f := frame{class: "wide", w: 620, left: 106, right: 16, top: 22, bottom: 67 + rowHeight*float64(len(c.Counts)), wide: true, end: c.axisEnd()}
	if c.several() { // the names stand on the right
		f.left, f.right = 44, 168
	}
	f.h = f.top + 280 + f.bottom
	return c.draw(f, "w")
}

// ThinSVG draws the curve 340 units wide, for phones.
func (c Curve) ThinSVG() template.HTML {
	rows := float64(len(c.Counts))
	if c.several() { // each row below its name, after the lines without one
		rows = 2*rows + float64(len(c.unnamed()))
	}
	f := frame{class: "thin", w: 340, left: 44, right: 14, top: 20, bottom: 71 + rowHeight*rows, end: c.axisEnd()}
	f.h = f.top + 218 + f.bottom
	return c.draw(f, "n")
}

func (c Curve) several() bool { return len(c.Lines) > 1 }

func (c Curve) axisEnd() float64 {
	if c.AxisEnd <= 0 {
		return 70
	}
	return c.AxisEnd
}

// at gives the step in force on a day: the last one at or before it.
func (l CurveLine) at(day float64) CurvePoint {
	var p CurvePoint
	for _, q := range l.Points {
		if q.Day > day {
			break
		}
		p = q
	}
	return p
}

func (c Curve) draw(f frame, size string) template.HTML {
	var b strings.Builder
	openSVG(&b, f, c.ID+size, c.Title, c.Description)
	c.drawGround(&b, f)
	if c.several() {
		c.drawLines(&b, f)
		c.drawGroupCounts(&b, f)
	} else if c.Drawn() {
		c.Lines[0].drawAlone(&b, f)
		c.drawShare(&b, f)
		c.drawCounts(&b, f)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawGround draws the window, the grid, both axes and the day line.
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
	for _, day := range c.Days {
		x := f.x(float64(day))
		fmt.Fprintf(b, `<path d="M%.1f %gv5" stroke="var(--ink)"/>`, x, base)
		fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12" text-anchor="middle">%d</text>`, x, base+19, day)
	}
	fmt.Fprintf(b, `<path d="M%g %gH%g" stroke="var(--ink)"/>`, f.left, base, f.w-f.right)
	fmt.Fprintf(b, `<text class="fs" x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, f.x(f.end/2), base+37, template.HTMLEscapeString(c.Axis))
	if c.Mark > 0 && c.Mark <= f.end {
		x := f.x(c.Mark)
		fmt.Fprintf(b, `<path d="M%.1f %gV%g" stroke="var(--ink)" stroke-width="2"/>`, x, f.top, base)
		fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12.5" text-anchor="middle" font-weight="700">%s</text>`, x, f.top-7, template.HTMLEscapeString(c.MarkLabel))
	}
}

// drawShare marks the share reached on the day line, where it is known.
func (c Curve) drawShare(b *strings.Builder, f frame) {
	l := c.Lines[0]
	if c.Mark <= 0 || c.Mark > f.end || !c.MarkShare {
		return
	}
	p, x := l.at(c.Mark), f.x(c.Mark)
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

// drawCounts writes the rows of numbers under the axis of a single line.
func (c Curve) drawCounts(b *strings.Builder, f frame) {
	base := f.h - f.bottom
	y := base + 72
	if f.wide {
		fmt.Fprintf(b, `<path d="M4 %gH%g" stroke="var(--line)"/>`, base+54, f.w-f.right)
	} else {
		y = base + 78
		fmt.Fprintf(b, `<text class="fs" x="4" y="%g" font-size="11.5">%s</text>`, base+60, template.HTMLEscapeString(c.CountsLead))
	}
	for _, r := range c.Counts {
		if f.wide {
			fmt.Fprintf(b, `<text class="fs" x="4" y="%g" font-size="12">%s</text>`, y, template.HTMLEscapeString(r.Name))
		}
		c.drawNumbers(b, f, r, y)
		y += rowHeight
	}
}

// numberGap is how far apart the middles of two numbers must be.
const numberGap = 30

// drawNumbers writes one row of numbers, each under its day.
func (c Curve) drawNumbers(b *strings.Builder, f frame, r CurveCount, y float64) {
	for _, i := range f.columns(r.Days) {
		fmt.Fprintf(b, `<text x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, f.x(float64(r.Days[i])), y, template.HTMLEscapeString(r.N[i]))
	}
}

// columns are the places of the days, in order, at which numbers do not touch: the
// first and the last, and as many between as there is room for, the later first.
func (f frame) columns(days []int) (at []int) {
	next := f.w + numberGap
	for i, day := range slices.Backward(days) {
		x := f.x(float64(day))
		if float64(day) > f.end || next-x < numberGap || i > 0 && x-f.x(float64(days[0])) < numberGap {
			continue
		}
		at, next = append(at, i), x
	}
	slices.Reverse(at)
	return at
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
