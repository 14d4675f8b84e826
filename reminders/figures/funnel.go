package figures

import (
	"math"

	"dunlin/reminders/paper"
	"dunlin/templates"
)

// funnel draws the rates of sites within the limits about a benchmark.
func funnel(f *paper.Flow, n *templates.YearFunnel) {
	f.Skip(3)
	f.Need(nameType.Pitch() + funnelHeight)
	f.Para(nameType, n.Title)
	if len(n.Sites) == 0 {
		f.Para(textType, n.Description)
		return
	}
	most, high := 0.0, 0.30
	for _, s := range n.Sites {
		most, high = max(most, float64(s.Of)), max(high, s.Rate)
	}
	high = math.Min(1, math.Ceil(high*10)/10)
	most *= 1.1
	p := newPlot(f, funnelHeight, most, high)
	var ys []float64
	for v := 0.0; v <= high+1e-9; v += 0.1 {
		ys = append(ys, v)
	}
	p.grid(steps(most, 9), ys, "Infants with a first test up to 3 months")
	p.sheet.Line(p.left, p.y(n.Benchmark), p.right, p.y(n.Benchmark), 1)
	for _, line := range []struct {
		dash float64
		of   func(templates.YearLimits) float64
	}{
		{0, func(l templates.YearLimits) float64 { return l.High }}, {0, func(l templates.YearLimits) float64 { return l.Low }},
		{3, func(l templates.YearLimits) float64 { return l.Highest }}, {3, func(l templates.YearLimits) float64 { return l.Lowest }},
	} {
		var points [][2]float64
		for _, l := range n.Limits {
			if v := line.of(l); v < high && float64(l.Of) <= most {
				points = append(points, [2]float64{float64(l.Of), v})
			}
		}
		p.path(0.7, line.dash, points...)
	}
	p.sites(n.Sites)
	f.Para(smallType, n.Description)
	f.Skip(3)
}

const funnelHeight = 210.0

// box is a rectangle on a sheet that a label takes.
type box struct{ x, y, w, h float64 }

func (a box) meets(b box) bool {
	return a.x < b.x+b.w && b.x < a.x+a.w && a.y < b.y+b.h && b.y < a.y+a.h
}

// sites draws a circle for each site within the limits and a diamond for each outside,
// and names them where there is room.
func (p *plot) sites(list []templates.YearFunnelDot) {
	const r = 3.0
	var taken []box
	for _, s := range list {
		x, y := p.x(float64(s.Of)), p.y(s.Rate)
		if s.Out == "" {
			ring(p.sheet, x, y, r)
		} else {
			diamond(p.sheet, x, y, r+1.2)
		}
		taken = append(taken, box{x - r - 1, y - r - 1, 2*r + 2, 2*r + 2})
	}
	for _, s := range list {
		name := paper.Printable(s.Name)
		x, y, w := p.x(float64(s.Of)), p.y(s.Rate), paper.Width(name, smallType)
		for _, at := range []box{{x + r + 3, y - 4, w, 8}, {x - r - 3 - w, y - 4, w, 8}, {x - w/2, y - r - 11, w, 8}, {x - w/2, y + r + 3, w, 8},
			{x + r + 3, y - 13, w, 8}, {x + r + 3, y + 5, w, 8}} {
			free := at.x >= p.left && at.x+at.w <= p.right+6 && at.y >= p.top-12 && at.y+at.h <= p.bottom
			for _, b := range taken {
				free = free && !at.meets(b)
			}
			if free {
				p.sheet.Put(at.x, at.y+6.5, smallType, name)
				taken = append(taken, at)
				break
			}
		}
	}
}
