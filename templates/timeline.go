package templates

import (
	"fmt"
	"html/template"
	"strings"
)

// Lane is a row of the time line.
type Lane int

// The lanes, top down.
const (
	LaneScreen Lane = iota
	LaneContacts
	LaneTests
	LaneLetters
)

var laneNames = [...]string{"Screen", "Contacts", "Tests", "Letters"}

// Event is something on the time line. Planned events are drawn in outline.
type Event struct {
	Day     int // day of life
	Lane    Lane
	Label   string // short, over the mark; may be empty
	Drop    Drop   // of a sweat test
	Planned bool   // a booking ahead
}

// Timeline is the first days of life as a drawing with four lanes.
type Timeline struct {
	Born   Date
	Age    int
	Scale  Scale
	Events []Event
	Desc   string // the drawing in words, read in its place
}

// Geometry of the time line, in units of its view box.
const (
	lineW, lineH   = 872, 268
	lineLeft       = 104.0
	lineTrack      = 739.2 // width of Span days
	lineTop, lineB = 44, 240
)

func laneY(l Lane) int { return 86 + int(l)*42 }

// X is the place of a day of life; days outside are put at the ends.
func (t Timeline) X(day int) float64 {
	day = min(max(day, 0), t.scale().Span)
	return lineLeft + float64(day)*lineTrack/float64(t.scale().Span)
}

func (t Timeline) scale() Scale { return t.Scale.orDefault() }

// SVG draws the time line. Its ids begin with "tl-".
func (t Timeline) SVG() template.HTML {
	var b strings.Builder
	sc := t.scale()
	from, by, now := t.X(sc.From), t.X(sc.By), t.X(t.Age)
	fmt.Fprintf(&b, `<svg class="wide" viewBox="0 0 %d %d" role="img" aria-labelledby="tl-t tl-d"><title id="tl-t">Time line from birth to day %d</title><desc id="tl-d">%s</desc>`,
		lineW, lineH, sc.Span, template.HTMLEscapeString(t.Desc))
	fmt.Fprintf(&b, `<rect x="%s" y="44" width="%s" height="196" fill="var(--window)" opacity=".75"/>`, num(from), num(by-from))
	if t.Age > sc.By {
		fmt.Fprintf(&b, `<rect x="%s" y="44" width="%s" height="196" fill="url(#hatch-soft)"/>`, num(by), num(now-by))
	}
	t.grid(&b)
	text(&b, (from+by)/2, 62, "middle", "fr b6", fmt.Sprintf("Test window, day %d to %d", sc.From, sc.By))
	fmt.Fprintf(&b, `<path d="M%s 44V246" stroke="var(--ink)" stroke-width="2.2"/>`, num(by))
	t.feet(&b, by, now)
	if t.Age > sc.By+5 {
		text(&b, (by+now)/2, 62, "middle", "fl b", fmt.Sprintf("%d days past", t.Age-sc.By))
	}
	t.marks(&b)
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// grid draws a line a week with its day and date, and the lanes.
func (t Timeline) grid(b *strings.Builder) {
	sc := t.scale()
	for d := 0; d <= sc.Span; d += 7 {
		x := t.X(d)
		fmt.Fprintf(b, `<path d="M%s %dV%d" stroke="var(--line)"/>`, num(x), lineTop, lineB)
		text(b, x, 16, "middle", "b", fmt.Sprint(d))
		text(b, x, 32, "middle", "fs", t.Born.AddDays(d).Short())
	}
	text(b, 8, 16, "start", "b", "Day")
	for l, name := range laneNames {
		y := laneY(Lane(l))
		fmt.Fprintf(b, `<path d="M%s %dH%d" stroke="var(--line)"/>`, num(lineLeft), y, lineW-10)
		text(b, 8, float64(y)+4.5, "start", "fs", name)
	}
}

// feet writes the words under the day line and today's line, apart from each
// other when the two days are close.
func (t Timeline) feet(b *strings.Builder, by, now float64) {
	sc := t.scale()
	byAnchor, nowAnchor := "middle", "middle"
	if near := now - by; near > -130 && near < 130 {
		if near < 0 {
			byAnchor, nowAnchor = "start", "end"
		} else {
			byAnchor, nowAnchor = "end", "start"
		}
	}
	text(b, by, 261, byAnchor, "b", fmt.Sprintf("First test by day %d", sc.By))
	fmt.Fprintf(b, `<path d="M%s 52V246" stroke="var(--ink)" stroke-width="1.4"/><path d="M%s 44h14l-7 10z" fill="var(--ink)"/>`, num(now), num(now-7))
	if t.Age > sc.Span-7 { // the label would run off the right edge
		nowAnchor = "end"
	}
	text(b, now, 261, nowAnchor, "b", fmt.Sprintf(" Today, day %d ", t.Age))
}

// marks draws the events; a label is left out where it would run into the one
// before it, since all events are in the list below.
func (t Timeline) marks(b *strings.Builder) {
	var free [4]float64 // where the next label of a lane may begin
	for _, e := range t.Events {
		if e.Day > t.scale().Span || e.Lane < LaneScreen || e.Lane > LaneLetters {
			continue
		}
		x, y := t.X(e.Day), laneY(e.Lane)
		lift := 9
		switch {
		case e.Planned:
			symbol(b, "g-book", "blue", x, y)
			lift = 13
		case e.Drop != "":
			symbol(b, "drop-"+string(e.Drop.known()), "ink", x, y)
			lift = 13
		default:
			fmt.Fprintf(b, `<circle cx="%s" cy="%d" r="5.5" fill="var(--ink)" stroke="var(--sheet)" stroke-width="2"/>`, num(x), y)
		}
		half := float64(len([]rune(e.Label))) * 3.3
		left := min(max(x, lineLeft+half-20), lineW-8-half)
		if e.Label == "" || left-half < free[e.Lane] {
			continue
		}
		free[e.Lane] = left + half + 6
		text(b, left, float64(y-lift), "middle", "", e.Label)
	}
}

func symbol(b *strings.Builder, id, class string, x float64, y int) {
	fmt.Fprintf(b, `<circle cx="%s" cy="%d" r="12" fill="var(--sheet)"/><use class="%s" href="#%s" x="%s" y="%s" width="20" height="20"/>`,
		num(x), y, class, id, num(x-10), num(float64(y)-10.5))
}

func text(b *strings.Builder, x, y float64, anchor, class, s string) {
	if class != "" {
		class = ` class="` + class + `"`
	}
	fmt.Fprintf(b, `<text%s x="%s" y="%s" font-size="12" text-anchor="%s">%s</text>`, class, num(x), num(y), anchor, template.HTMLEscapeString(s))
}

// ScaleSpan is the last day shown.
func (t Timeline) ScaleSpan() int { return t.scale().Span }
