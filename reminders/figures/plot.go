package figures

import (
	"math"

	"dunlin/reminders/paper"
)

// plot is the frame of a drawing on a sheet: a horizontal axis from 0 to Most and a
// vertical one from 0 to Top.
type plot struct {
	sheet                    *paper.Sheet
	left, right, top, bottom float64
	most, high               float64
}

// newPlot keeps room for a drawing of a height below what was set before; the flow
// goes on beneath it.
func newPlot(f *paper.Flow, height, most, high float64) *plot {
	f.Need(height)
	p := &plot{sheet: f.Sheet(), left: f.Left + 34, right: f.Right - 6, top: f.Y + 12, bottom: f.Y + height - 30, most: most, high: high}
	f.Y += height
	return p
}

func (p *plot) x(v float64) float64 { return p.left + min(v, p.most)/p.most*(p.right-p.left) }

func (p *plot) y(v float64) float64 {
	return p.bottom - min(v, p.high)/p.high*(p.bottom-p.top)
}

// gray is the shade of lines that only help the eye.
const gray = 0.25

// grid draws the axes with their numbers: across at the values of ys as percentages,
// along the foot at the values of xs, and the name of the foot.
func (p *plot) grid(xs, ys []float64, axis string) {
	for _, v := range ys {
		p.sheet.Fill(p.left, p.y(v)-0.2, p.right-p.left, 0.4, gray)
		label := percent(v)
		p.sheet.Put(p.left-4-paper.Width(label, smallType), p.y(v)+2.5, smallType, label)
	}
	p.sheet.Line(p.left, p.bottom, p.right, p.bottom, 0.8)
	for _, v := range xs {
		label := number(v)
		p.sheet.Line(p.x(v), p.bottom, p.x(v), p.bottom+3, 0.8)
		p.sheet.Put(p.x(v)-paper.Width(label, smallType)/2, p.bottom+11, smallType, label)
	}
	p.sheet.Put((p.left+p.right-paper.Width(axis, smallType))/2, p.bottom+22, smallType, axis)
}

// path draws straight lines from point to point in the drawing's own values.
func (p *plot) path(width float64, dash float64, points ...[2]float64) {
	run := 0.0
	for i := 1; i < len(points); i++ {
		x1, y1, x2, y2 := p.x(points[i-1][0]), p.y(points[i-1][1]), p.x(points[i][0]), p.y(points[i][1])
		if dash == 0 {
			p.sheet.Line(x1, y1, x2, y2, width)
			continue
		}
		long := math.Hypot(x2-x1, y2-y1)
		for at := 0.0; at < long; {
			left := dash - math.Mod(run, dash)
			end := min(at+left, long)
			if int(run/dash)%2 == 0 {
				a, b := at/long, end/long
				p.sheet.Line(x1+a*(x2-x1), y1+a*(y2-y1), x1+b*(x2-x1), y1+b*(y2-y1), width)
			}
			run += end - at
			at = end + 1e-9
		}
	}
}

// ring draws a circle of a radius in points about a place on the sheet.
func ring(s *paper.Sheet, x, y, r float64) { polygon(s, x, y, r, 16, 0) }

// diamond draws a square on its corner.
func diamond(s *paper.Sheet, x, y, r float64) { polygon(s, x, y, r, 4, 0) }

func polygon(s *paper.Sheet, x, y, r float64, corners int, turn float64) {
	at := func(i int) (float64, float64) {
		a := turn + 2*math.Pi*float64(i)/float64(corners)
		return x + r*math.Cos(a), y + r*math.Sin(a)
	}
	for i := range corners {
		x1, y1 := at(i)
		x2, y2 := at(i + 1)
		s.Line(x1, y1, x2, y2, 1)
	}
}

// steps are round numbers from 0 to most, at most so many.
func steps(most float64, atMost int) []float64 {
	for _, by := range []float64{1, 2, 5, 10, 14, 20, 25, 28, 50, 100, 200, 250, 500, 1000, 2500, 5000, 10000, 50000, 100000} {
		if most/by < float64(atMost) {
			var out []float64
			for v := 0.0; v <= most; v += by {
				out = append(out, v)
			}
			return out
		}
	}
	return []float64{0, most}
}
