package templates

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
)

// Scale is the days that the age strip and the time line mark.
type Scale struct {
	From int // first day on which a test may be made
	By   int // day by which the first test is due
	Span int // last day shown
}

// DefaultScale is the default protocol's: day 14 to 28, of the first 56 days.
var DefaultScale = Scale{From: 14, By: 28, Span: 56}

// orDefault is the scale, or the default one when none was given.
func (sc Scale) orDefault() Scale {
	if sc.Span == 0 {
		return DefaultScale
	}
	return sc
}

// Mark is something that happened on a day of life.
type Mark struct {
	Day  int
	Drop Drop
	Word string // outcome in words
}

// Strip is the age strip: a bar of the first days of life with the days for
// testing shaded, the age today, and each sweat test.
type Strip struct {
	Scale  Scale // zero means DefaultScale
	Age    int   // days
	Tests  []Mark
	Booked int    // day of life of the booked test; 0 = none
	Label  string // spoken text; default composed from the numbers
}

// Geometry of the strip, in units of its view box.
const (
	stripW, stripH = 184, 32
	stripLeft      = 4.0
	stripTrack     = 175.0 // width of Span days
)

// X is the place of a day of life on the strip; days outside are put at its ends.
func (s Strip) X(day int) float64 {
	sc := s.scale()
	day = min(max(day, 0), sc.Span)
	return stripLeft + float64(day)*stripTrack/float64(sc.Span)
}

func (s Strip) scale() Scale { return s.Scale.orDefault() }

// SVG draws the strip.
func (s Strip) SVG() template.HTML {
	var b strings.Builder
	b.Grow(1400)
	sc := s.scale()
	from, by, now := s.X(sc.From), s.X(sc.By), s.X(s.Age)
	fmt.Fprintf(&b, `<svg class="strip" viewBox="0 0 %d %d" role="img" aria-label="%s">`, stripW, stripH, template.HTMLEscapeString(s.label()))
	rect(&b, stripLeft, 14, stripTrack, 8, "var(--sunk)")
	rect(&b, from, 10, by-from, 16, "var(--window)")
	rect(&b, stripLeft, 15.5, min(now, by)-stripLeft, 5, "var(--soft)")
	if s.Age > sc.By {
		rect(&b, by, 13.5, now-by, 9, "var(--late)")
		rect(&b, by, 13.5, now-by, 9, "url(#hatch)")
	}
	fmt.Fprintf(&b, `<path d="M%s 7V29" stroke="var(--ink)" stroke-width="2"/><path d="M%s 10V26" stroke="var(--ready)" stroke-width="1.2"/>`, num(by), num(from))
	for _, t := range s.Tests {
		x := s.X(t.Day)
		fmt.Fprintf(&b, `<circle cx="%s" cy="18" r="9" fill="var(--sheet)"/><use class="ink" href="#drop-%s" x="%s" y="9.6" width="16" height="16"/>`, num(x), t.Drop.known(), num(x-8))
	}
	if s.Booked > 0 {
		fmt.Fprintf(&b, `<use class="blue" href="#g-book" x="%s" y="11" width="14" height="14"/>`, num(s.X(s.Booked)-7))
	}
	fmt.Fprintf(&b, `<path d="M%s 0h10l-5 8z" fill="var(--ink)"/></svg>`, num(now-5))
	return template.HTML(b.String())
}

func (s Strip) label() string {
	if s.Label != "" {
		return s.Label
	}
	sc := s.scale()
	var b strings.Builder
	fmt.Fprintf(&b, "Age %s", plain(Days(s.Age)))
	switch left := sc.By - s.Age; {
	case left > 0:
		fmt.Fprintf(&b, "; %d until day %d", left, sc.By)
	case left == 0:
		fmt.Fprintf(&b, "; day %d is today", sc.By)
	default:
		fmt.Fprintf(&b, "; %d past day %d", -left, sc.By)
	}
	for _, t := range s.Tests {
		fmt.Fprintf(&b, "; sweat test on day %d: %s", t.Day, t.Word)
	}
	if s.Booked > 0 {
		fmt.Fprintf(&b, "; booked for day %d", s.Booked)
	}
	return b.String()
}

// StripAxis is the head of a column of strips: the day numbers.
func StripAxis(sc Scale) template.HTML {
	sc = sc.orDefault()
	s := Strip{Scale: sc}
	var b strings.Builder
	b.WriteString(`<svg class="strip" viewBox="0 0 184 14" aria-hidden="true">`)
	for _, d := range []int{0, sc.From, sc.By, (sc.By + sc.Span) / 2, sc.Span} {
		anchor := "middle"
		switch d {
		case 0:
			anchor = "start"
		case sc.Span:
			anchor = "end"
		}
		fmt.Fprintf(&b, `<text class="fs b6" x="%s" y="11" font-size="11" text-anchor="%s">%d</text>`, num(s.X(d)), anchor, d)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

func rect(b *strings.Builder, x, y, w, h float64, fill string) {
	if w <= 0 {
		return
	}
	fmt.Fprintf(b, `<rect x="%s" y="%s" width="%s" height="%s" fill="%s"/>`, num(x), num(y), num(w), num(h), fill)
}

// num is a coordinate with at most one decimal.
func num(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}

func plain(s string) string { return strings.ReplaceAll(s, nbsp, " ") }
