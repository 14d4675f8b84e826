package templates

import (
	"fmt"
	"html/template"
	"strings"
)

// FunnelMark is one site in a funnel: Of infants, Rate of them from 0 to 1. Out marks
// one beyond a 95 % limit, which is drawn as a diamond.
type FunnelMark struct {
	Name string
	Of   int
	Rate float64
	Out  bool
}

// FunnelLimit holds the limits for a number of infants, as rates from 0 to 1.
type FunnelLimit struct {
	Of                             int
	Low95, High95, Low998, High998 float64
}

// Funnel is a rate by size of site between limits about a benchmark: 95 % limits solid,
// 99.8 % dashed. WideSVG and ThinSVG are pure functions of it.
type Funnel struct {
	ID          string // prefix of the ids inside the drawing, unique on the page
	Title       string // the finding in words
	Description string // the drawing in words
	Axis        string // name of the horizontal axis, like "Infants tested at the site"
	Center      float64
	CenterLabel string        // like "Benchmark 10%"
	Marks       []FunnelMark  // sites that are placed
	Limits      []FunnelLimit // by growing number, up to the last one drawn
}

// WideSVG draws the funnel 620 units wide, for screens over 760 px and paper.
func (c Funnel) WideSVG() template.HTML {
	return c.draw(frame{class: "wide", w: 620, h: 418, left: 50, right: 14, top: 22, bottom: 52, wide: true}, "w")
}

// ThinSVG draws the funnel 340 units wide, for phones.
func (c Funnel) ThinSVG() template.HTML {
	return c.draw(frame{class: "thin", w: 340, h: 300, left: 42, right: 12, top: 20, bottom: 52}, "n")
}

// end is the last number of infants drawn, top the highest rate.
func (c Funnel) end() float64 {
	n := 20
	for _, l := range c.Limits {
		n = max(n, l.Of)
	}
	return float64(n)
}

func (c Funnel) topRate() float64 {
	top := 0.4
	for _, m := range c.Marks {
		for m.Rate > top {
			top += 0.2
		}
	}
	return min(top, 1)
}

func (c Funnel) draw(f frame, size string) template.HTML {
	f.end = c.end()
	top := c.topRate()
	y := func(rate float64) float64 { return f.y(min(rate, top) / top) }
	var b strings.Builder
	openSVG(&b, f, c.ID+size, c.Title, c.Description)
	for v := 0; v <= int(top*100+.5); v += 10 {
		at := y(float64(v) / 100)
		fmt.Fprintf(&b, `<path d="M%g %.1fH%g" stroke="var(--line)"/>`, f.left, at, f.w-f.right)
		fmt.Fprintf(&b, `<text class="fs" x="%g" y="%.1f" font-size="12" text-anchor="end">%d%%</text>`, f.left-7, at+4, v)
	}
	base := f.h - f.bottom
	step := roundStep(f.end / 5)
	if f.wide {
		step = roundStep(f.end / 9)
	}
	for n := 0; float64(n) <= f.end; n += step {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" font-size="12" text-anchor="middle">%d</text>`, f.x(float64(n)), base+18, n)
	}
	fmt.Fprintf(&b, `<path d="M%g %gH%g" stroke="var(--ink)"/>`, f.left, base, f.w-f.right)
	fmt.Fprintf(&b, `<text class="fs" x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, f.x(f.end/2), f.h-14, template.HTMLEscapeString(c.Axis))
	for _, l := range []struct {
		dash string
		of   func(FunnelLimit) float64
	}{
		{"", func(l FunnelLimit) float64 { return l.High95 }}, {"5 4", func(l FunnelLimit) float64 { return l.High998 }},
		{"", func(l FunnelLimit) float64 { return l.Low95 }}, {"5 4", func(l FunnelLimit) float64 { return l.Low998 }},
	} {
		c.drawLimit(&b, f, y, top, l.dash, l.of)
	}
	fmt.Fprintf(&b, `<path d="M%g %.1fH%g" stroke="var(--ink)" stroke-width="1.6"/>`, f.left, y(c.Center), f.w-f.right)
	c.drawMarks(&b, f, y)
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// openSVG begins a drawing with its name and description.
func openSVG(b *strings.Builder, f frame, id, title, description string) {
	id = template.HTMLEscapeString(id)
	fmt.Fprintf(b, `<svg class="%s" viewBox="0 0 %g %g" role="img" aria-labelledby="%st %sd">`, f.class, f.w, f.h, id, id)
	fmt.Fprintf(b, `<title id="%st">%s</title><desc id="%sd">%s</desc>`, id, template.HTMLEscapeString(title), id, template.HTMLEscapeString(description))
}

// drawLimit draws one limit where it lies inside the drawing and above 0.
func (c Funnel) drawLimit(b *strings.Builder, f frame, y func(float64) float64, top float64, dash string, of func(FunnelLimit) float64) {
	var path strings.Builder
	verb := "M"
	for _, l := range c.Limits {
		v := of(l)
		if v > top || v <= 0 {
			verb = "M"
			continue
		}
		fmt.Fprintf(&path, "%s%.1f %.1f", verb, f.x(float64(l.Of)), y(v))
		verb = "L"
	}
	if path.Len() > 0 {
		fmt.Fprintf(b, `<path d="%s" fill="none" stroke="var(--edge)" stroke-width="1.6" stroke-dasharray="%s"/>`, path.String(), dash)
	}
}

// drawMarks draws the sites and their names. On a phone only sites outside of the
// limits and large ones are named; the table has all.
func (c Funnel) drawMarks(b *strings.Builder, f frame, y func(float64) float64) {
	place := labels{right: f.w - f.right, left: f.left, top: f.top - 8, bottom: f.h - f.bottom}
	for _, m := range c.Marks {
		x, at := f.x(float64(m.Of)), y(m.Rate)
		place.taken = append(place.taken, box{x - 8, at - 8, x + 8, at + 8})
		if m.Out {
			fmt.Fprintf(b, `<path d="M%.1f %.1fl8 8-8 8-8-8z" fill="var(--late)" stroke="var(--sheet)" stroke-width="1.5"/>`, x, at-8)
		} else {
			fmt.Fprintf(b, `<circle cx="%.1f" cy="%.1f" r="5.5" fill="var(--act)" stroke="var(--sheet)" stroke-width="1.5"/>`, x, at)
		}
	}
	for _, out := range []bool{true, false} { // sites outside get their name first
		for _, m := range c.Marks {
			if m.Out == out && (f.wide || out || float64(m.Of) >= f.end/2) {
				place.write(b, f.x(float64(m.Of)), y(m.Rate), m.Name, out)
			}
		}
	}
	place.write(b, f.left, y(c.Center)-9, c.CenterLabel, false)
}

// roundStep is the first of 1, 2, 5, 10, 20, 50 ... that is not less.
func roundStep(least float64) int {
	for n := 1; ; n *= 10 {
		for _, k := range []int{1, 2, 5} {
			if float64(n*k) >= least {
				return n * k
			}
		}
	}
}
