package templates

import (
	"fmt"
	"html/template"
	"strings"
	"unicode/utf8"
)

// box is a part of a drawing that is taken.
type box struct{ left, top, right, bottom float64 }

func (a box) meets(b box) bool {
	return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

// labels writes names beside points so that they do not cover one another.
type labels struct {
	left, top, right, bottom float64 // where names may stand
	taken                    []box
}

// letterWide is the usual width of a letter of 12 units' height.
const letterWide = 6.6

// write puts a name beside, above or below a point, where there is room; a name that
// has no room is left to the table.
func (l *labels) write(b *strings.Builder, x, y float64, name string, bold bool) {
	wide := float64(utf8.RuneCountInString(name)) * letterWide
	weight := ""
	if bold {
		wide *= 1.06
		weight = ` font-weight="700"`
	}
	for _, at := range []struct {
		dx, dy, from float64
		anchor       string
	}{{11, 4, 0, "start"}, {-11, 4, 1, "end"}, {0, -12, .5, "middle"}, {0, 21, .5, "middle"}, {9, -9, 0, "start"}, {9, 17, 0, "start"}, {-9, -9, 1, "end"}, {-9, 17, 1, "end"}} {
		left := x + at.dx - at.from*wide
		place := box{left, y + at.dy - 11, left + wide, y + at.dy + 3}
		if !l.free(place) {
			continue
		}
		l.taken = append(l.taken, place)
		fmt.Fprintf(b, `<text x="%.1f" y="%.1f" font-size="12" text-anchor="%s"%s>%s</text>`, x+at.dx, y+at.dy, at.anchor, weight, template.HTMLEscapeString(name))
		return
	}
}

func (l *labels) free(p box) bool {
	if p.left < l.left || p.right > l.right || p.top < l.top || p.bottom > l.bottom {
		return false
	}
	for _, t := range l.taken {
		if p.meets(t) {
			return false
		}
	}
	return true
}
