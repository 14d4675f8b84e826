package templates

import (
	"fmt"
	"html/template"
	"strings"
)

// AgeDots is how many infants had an age in days.
type AgeDots struct{ Age, N int }

// AgesRow is one group of infants: a dot for each, where single infants may be shown,
// and a box for the middle half with a thick line at the median, in days. A bound that
// is not reached is nil.
type AgesRow struct {
	Name                          string
	Dots                          []AgeDots
	Quarter, Median, ThreeQuarter *float64
}

// AgesChart draws ages on one axis, a row for each group. WideSVG and ThinSVG are pure
// functions of it. Ages past the axis stand at its end.
type AgesChart struct {
	ID          string
	Title       string // the finding in words
	Description string
	Axis        string // like "Age at first test, days"
	Mark        int    // the day line
	WindowFrom  int    // shaded window up to Mark; none when 0
	Rows        []AgesRow
}

// First and last day of the axis of ages.
const (
	agesFrom = 8
	agesTo   = 50
)

// WideSVG draws the ages 620 units wide, for screens over 760 px and paper.
func (c AgesChart) WideSVG() template.HTML {
	return c.draw(frame{class: "wide", w: 620, h: 60 + 66*float64(len(c.Rows)), left: 122, right: 18, top: 20, bottom: 40, wide: true}, "w")
}

// ThinSVG draws the ages 340 units wide, for phones, names above the rows.
func (c AgesChart) ThinSVG() template.HTML {
	return c.draw(frame{class: "thin", w: 340, h: 74 + 82*float64(len(c.Rows)), left: 12, right: 16, top: 34, bottom: 40}, "n")
}

func (c AgesChart) draw(f frame, size string) template.HTML {
	x := func(age float64) float64 {
		age = min(max(age, agesFrom), agesTo)
		return f.left + (age-agesFrom)/(agesTo-agesFrom)*(f.w-f.left-f.right)
	}
	base := f.h - f.bottom
	var b strings.Builder
	openSVG(&b, f, c.ID+size, c.Title, c.Description)
	if c.WindowFrom > 0 && c.Mark > c.WindowFrom {
		fmt.Fprintf(&b, `<rect x="%.1f" y="%g" width="%.1f" height="%g" fill="var(--window)" opacity=".6"/>`, x(float64(c.WindowFrom)), f.top, x(float64(c.Mark))-x(float64(c.WindowFrom)), base-f.top)
	}
	for age := 14; age < agesTo-1; age += 7 { // the last has the end's label
		at := x(float64(age))
		fmt.Fprintf(&b, `<path d="M%.1f %gV%g" stroke="var(--line)"/><text x="%.1f" y="%g" font-size="12" text-anchor="middle">%d</text>`, at, f.top, base, at, base+18, age)
	}
	fmt.Fprintf(&b, `<path d="M%.1f %gV%g" stroke="var(--ink)" stroke-width="2"/><text x="%.1f" y="14" font-size="12" text-anchor="middle" font-weight="700">Day %d</text>`,
		x(float64(c.Mark)), f.top, base, x(float64(c.Mark)), c.Mark)
	for i := range c.Rows {
		high := (base - f.top) / float64(len(c.Rows))
		c.drawRow(&b, f, &c.Rows[i], f.top+high*(float64(i)+.5), high, x)
	}
	fmt.Fprintf(&b, `<text x="%g" y="%g" font-size="12" text-anchor="end">%d+</text>`, f.w-4, base+18, agesTo)
	fmt.Fprintf(&b, `<text class="fs" x="%.1f" y="%g" font-size="12" text-anchor="middle">%s</text>`, (f.left+f.w-f.right)/2, f.h-6, template.HTMLEscapeString(c.Axis))
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawRow draws one group about a height: dots stacked evenly to both sides, nearer to
// each other where many share a day.
func (c AgesChart) drawRow(b *strings.Builder, f frame, r *AgesRow, mid, high float64, x func(float64) float64) {
	if f.wide {
		fmt.Fprintf(b, `<text x="4" y="%.1f" font-size="12">%s</text>`, mid+4, template.HTMLEscapeString(r.Name))
	} else {
		fmt.Fprintf(b, `<text x="%g" y="%.1f" font-size="12">%s</text>`, f.left, mid-high/2+11, template.HTMLEscapeString(r.Name))
		mid += 7
		high -= 16
	}
	at, most := map[int]int{}, 1
	for _, d := range r.Dots {
		age := min(max(d.Age, agesFrom), agesTo)
		at[age] += d.N
		most = max(most, at[age])
	}
	step := min(5, (high-8)/float64(most))
	for age := agesFrom; age <= agesTo; age++ {
		for k := range at[age] {
			off := float64((k+1)/2) * step
			if k%2 == 1 {
				off = -off
			}
			fmt.Fprintf(b, `<circle cx="%.1f" cy="%.1f" r="2.3" fill="var(--soft)" opacity=".75"/>`, x(float64(age)), mid+off)
		}
	}
	if r.Quarter == nil {
		return
	}
	to := x(agesTo) + 6 // open to the right
	if r.ThreeQuarter != nil {
		to = x(*r.ThreeQuarter)
		fmt.Fprintf(b, `<path d="M%.1f %.1fv28" stroke="var(--act)" stroke-width="1.8"/>`, to, mid-14)
	}
	from := x(*r.Quarter)
	fmt.Fprintf(b, `<path d="M%.1f %.1fH%.1fv28H%.1f" fill="none" stroke="var(--act)" stroke-width="1.8"/>`, to, mid-14, from, to)
	if r.Median != nil {
		fmt.Fprintf(b, `<path d="M%.1f %.1fv28" stroke="var(--act)" stroke-width="3.5"/>`, x(*r.Median), mid-14)
	}
}
