package paper

// Points in an inch and in a millimeter.
const (
	Inch = 72.0
	MM   = 72.0 / 25.4
)

// Size is the size of a sheet in points.
type Size struct{ Width, Height float64 }

// US Letter and ISO A4, upright.
var (
	USLetter = Size{8.5 * Inch, 11 * Inch}
	A4       = Size{210 * MM, 297 * MM}
)

// Style is how text is set: size in points, regular or bold.
type Style struct {
	Size float64
	Bold bool
}

// Text is a run of text in one line, at its left end and baseline.
type Text struct {
	X, Y float64
	Style
	Text string
}

// Line is a straight line of a width in points.
type Line struct{ X1, Y1, X2, Y2, Width float64 }

// Rect is a rectangle: its outline when Width is above 0, filled with gray when Gray
// is above 0 (1 is black).
type Rect struct{ X, Y, W, H, Width, Gray float64 }

// Sheet is one page: rectangles lie below lines, lines below text. Texts stand in
// reading order.
type Sheet struct {
	Rects []Rect
	Lines []Line
	Texts []Text
}

// Put adds a run of text at its left end and baseline.
func (s *Sheet) Put(x, baseline float64, style Style, text string) {
	s.Texts = append(s.Texts, Text{x, baseline, style, text})
}

// Line adds a straight line of a width in points.
func (s *Sheet) Line(x1, y1, x2, y2, width float64) {
	s.Lines = append(s.Lines, Line{x1, y1, x2, y2, width})
}

// Outline adds the outline of a rectangle, its line of a width in points.
func (s *Sheet) Outline(x, y, w, h, width float64) {
	s.Rects = append(s.Rects, Rect{X: x, Y: y, W: w, H: h, Width: width})
}

// Fill adds a rectangle filled with gray: 1 is black, 0.1 a light shade that a
// black-and-white printer keeps readable.
func (s *Sheet) Fill(x, y, w, h, gray float64) {
	s.Rects = append(s.Rects, Rect{X: x, Y: y, W: w, H: h, Gray: gray})
}

// TickBox adds an empty square of a side in points, standing on a baseline.
func (s *Sheet) TickBox(x, baseline, side float64) {
	s.Outline(x, baseline-side+1, side, side, 0.75)
}
