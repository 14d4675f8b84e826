package templates

import (
	"fmt"
	"html/template"
	"math"
	"strings"
)

// WeekBar is one week of a WeekChart, in numbers of infants and places.
type WeekBar struct {
	Label                      string // first day: "5 Mar"
	Ready, Free, Kept, Waiting int
}

// WeekChart draws for each week a filled bar of infants who become ready beside an
// outlined bar of free places, those kept for repeats dashed, and over both a line with
// open circles: how many would still wait at the end of the week. Shapes and numbers
// tell them apart, not color.
type WeekChart struct {
	ID          string // prefix of the ids inside the drawing, unique on the page
	Title       string // the finding in words
	Description string // the drawing in words
	Weeks       []WeekBar
}

// WideSVG draws 620 units wide, for screens over 760 px and paper.
func (c WeekChart) WideSVG() template.HTML {
	return c.draw(frame{class: "wide", w: 620, h: 330, left: 40, right: 12, top: 40, bottom: 48, wide: true}, "w")
}

// ThinSVG draws 340 units wide, for phones.
func (c WeekChart) ThinSVG() template.HTML {
	return c.draw(frame{class: "thin", w: 340, h: 350, left: 32, right: 8, top: 72, bottom: 48}, "n")
}

func (c WeekChart) draw(f frame, size string) template.HTML {
	var b strings.Builder
	openSVG(&b, f, c.ID+size, c.Title, c.Description)
	c.drawKey(&b, f)
	top := c.drawGrid(&b, f)
	y := func(n int) float64 { return f.top + (1-float64(n)/float64(top))*(f.h-f.top-f.bottom) }
	each := (f.w - f.left - f.right) / float64(max(1, len(c.Weeks)))
	bar := each * .3
	var line strings.Builder
	for i := range c.Weeks {
		x := f.left + each*(float64(i)+.5)
		c.drawWeek(&b, f, i, x, bar, y)
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&line, "%s%.1f %.1f", verb, x, y(c.Weeks[i].Waiting))
	}
	if len(c.Weeks) > 0 {
		fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="var(--ink)" stroke-width="2"/>`, line.String())
	}
	for i := range c.Weeks {
		x, at := f.left+each*(float64(i)+.5), y(c.Weeks[i].Waiting)
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="4.5" fill="var(--sheet)" stroke="var(--ink)" stroke-width="2"/>`, x, at)
		if c.Weeks[i].Waiting > 0 {
			fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="12.5" font-weight="700" text-anchor="middle">%d</text>`, x, at-9, c.Weeks[i].Waiting)
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawKey names the shapes, in one line or on a phone in three.
func (c WeekChart) drawKey(b *strings.Builder, f frame) {
	x, y := f.left, 14.0
	next := func(wide float64) {
		if f.wide {
			x += wide
		} else {
			y += 19
		}
	}
	fmt.Fprintf(b, `<rect x="%g" y="%g" width="14" height="11" fill="var(--act)"/><text x="%g" y="%g" font-size="12">Become ready</text>`, x, y-10, x+20, y)
	next(130)
	fmt.Fprintf(b, `<rect x="%g" y="%g" width="14" height="11" fill="var(--sheet)" stroke="var(--ink)" stroke-width="1.5"/><text x="%g" y="%g" font-size="12">Free places (dashed: kept for repeats)</text>`, x, y-10, x+20, y)
	next(250)
	fmt.Fprintf(b, `<path d="M%g %gh18" stroke="var(--ink)" stroke-width="2"/><circle cx="%g" cy="%g" r="4.5" fill="var(--sheet)" stroke="var(--ink)" stroke-width="2"/><text x="%g" y="%g" font-size="12">Still wait at the week’s end</text>`, x-2, y-4, x+7, y-4, x+22, y)
}

// drawGrid draws lines at whole numbers and gives the number at the top.
func (c WeekChart) drawGrid(b *strings.Builder, f frame) int {
	most := 1
	for i := range c.Weeks {
		w := &c.Weeks[i]
		most = max(most, w.Ready, w.Free, w.Waiting)
	}
	step := wholeStep(most)
	top := (most + step - 1) / step * step
	for n := 0; n <= top; n += step {
		y := f.top + (1-float64(n)/float64(top))*(f.h-f.top-f.bottom)
		color := "var(--line)"
		if n == 0 {
			color = "var(--ink)"
		}
		fmt.Fprintf(b, `<path d="M%g %.1fH%g" stroke="%s"/><text class="fs" x="%g" y="%.1f" font-size="12" text-anchor="end">%d</text>`, f.left, y, f.w-f.right, color, f.left-6, y+4, n)
	}
	return top
}

// wholeStep is 1, 2 or 5 times a power of ten, so that there are at most six lines.
func wholeStep(most int) int {
	for p := 1; ; p *= 10 {
		for _, k := range []int{1, 2, 5} {
			if most <= 5*k*p || p >= math.MaxInt32/10 {
				return k * p
			}
		}
	}
}

func (c WeekChart) drawWeek(b *strings.Builder, f frame, i int, x, bar float64, y func(int) float64) {
	w, base := &c.Weeks[i], f.h-f.bottom
	rect(b, x-bar-1, y(w.Ready), bar, base-y(w.Ready), "var(--act)")
	if w.Free > 0 {
		fmt.Fprintf(b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="var(--sheet)" stroke="var(--ink)" stroke-width="1.5"/>`, x+2, y(w.Free-w.Kept), bar, base-y(w.Free-w.Kept))
	}
	if w.Kept > 0 {
		fmt.Fprintf(b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="var(--sheet)" stroke="var(--ink)" stroke-width="1.5" stroke-dasharray="3 2"/>`, x+2, y(w.Free), bar, y(w.Free-w.Kept)-y(w.Free))
	}
	if f.wide {
		if w.Ready > 0 {
			fmt.Fprintf(b, `<text class="fs" x="%.1f" y="%.1f" font-size="12" text-anchor="middle">%d</text>`, x-bar/2-1, base+15, w.Ready)
		}
		if w.Free > 0 {
			fmt.Fprintf(b, `<text class="fs" x="%.1f" y="%.1f" font-size="12" text-anchor="middle">%d</text>`, x+bar/2+2, base+15, w.Free)
		}
	}
	if f.wide || i%2 == 0 {
		fmt.Fprintf(b, `<path d="M%.1f %gv5" stroke="var(--ink)"/><text x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, x, base, x, base+33, template.HTMLEscapeString(w.Label))
	}
}
