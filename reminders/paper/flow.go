package paper

import "fmt"

// Flow sets paragraphs, lines and tables one below the other and turns to a further
// sheet where the room ends. Text that cannot be set is set by its Printable form, so
// that a sheet for the office is never lost; check beforehand where that matters.
type Flow struct {
	// Left, Right, Top and Bottom bound the text: distances from the left and the top
	// edge of the sheet.
	Left, Right, Top, Bottom float64
	// Y is the top of what comes next.
	Y float64
	// Head, when set, is called at the top of each further sheet.
	Head   func(*Flow)
	sheets []Sheet
}

// NewFlow begins at the first sheet, with the same margin on all sides.
func NewFlow(size Size, margin float64) *Flow {
	f := &Flow{Left: margin, Right: size.Width - margin, Top: margin, Bottom: size.Height - margin}
	f.sheets, f.Y = []Sheet{{}}, f.Top
	return f
}

// Sheet is the sheet that is being filled, to put other things on it.
func (f *Flow) Sheet() *Sheet { return &f.sheets[len(f.sheets)-1] }

// Sheets are the sheets filled so far.
func (f *Flow) Sheets() []Sheet { return f.sheets }

// Width is the width of the text in points.
func (f *Flow) Width() float64 { return f.Right - f.Left }

// Turn goes on at the top of a further sheet.
func (f *Flow) Turn() {
	f.sheets = append(f.sheets, Sheet{})
	f.Y = f.Top
	if f.Head != nil {
		f.Head(f)
	}
}

// Need turns the sheet unless so many points are left on it: it keeps together what
// belongs together.
func (f *Flow) Need(height float64) {
	if f.Y > f.Top && f.Y+height > f.Bottom {
		f.Turn()
	}
}

// Skip leaves room.
func (f *Flow) Skip(height float64) { f.Y += height }

// Pitch is the distance of two lines.
func (s Style) Pitch() float64 { return s.Size * 1.3 }

// rise is where the baseline lies below the top of a line.
func (s Style) rise() float64 { return s.Size * 1.02 }

// Para sets a text in the full width, broken into lines.
func (f *Flow) Para(style Style, text string) { f.Indented(style, 0, "", text) }

// Item sets a text behind a mark such as "•" or "1.".
func (f *Flow) Item(style Style, mark, text string) {
	f.Indented(style, max(1.2*style.Size, Width(mark, style)+0.5*style.Size), mark, text)
}

// Tick sets a text behind an empty box to be ticked by hand.
func (f *Flow) Tick(style Style, text string) {
	indent := 1.7 * style.Size
	f.Need(style.Pitch())
	f.Sheet().TickBox(f.Left, f.Y+style.rise(), style.Size)
	f.Indented(style, indent, "", text)
}

// Indented sets a text from an indent on, with a mark at the left edge of its first
// line.
func (f *Flow) Indented(style Style, indent float64, mark, text string) {
	for i, line := range Wrap(Printable(text), style, f.Width()-indent) {
		f.Need(style.Pitch())
		if i == 0 && mark != "" {
			f.Sheet().Put(f.Left, f.Y+style.rise(), style, mark)
		}
		f.Sheet().Put(f.Left+indent, f.Y+style.rise(), style, line)
		f.Y += style.Pitch()
	}
}

// Rule draws a line across the text.
func (f *Flow) Rule(width float64) {
	f.Need(3)
	f.Sheet().Line(f.Left, f.Y+1, f.Right, f.Y+1, width)
	f.Y += 3
}

// Boxed draws a box around what fill sets, on one sheet. A box higher than a sheet
// runs over its foot: keep boxes short.
func (f *Flow) Boxed(pad, line, gray float64, fill func(*Flow)) {
	trial := *f
	trial.Left, trial.Right, trial.Head = f.Left+pad, f.Right-pad, nil
	trial.sheets, trial.Y, trial.Bottom = []Sheet{{}}, 0, 1e9
	fill(&trial)
	f.Need(trial.Y + 2*pad)
	top := f.Y
	if gray > 0 {
		f.Sheet().Fill(f.Left, top, f.Width(), trial.Y+2*pad, gray)
	}
	f.Sheet().Outline(f.Left, top, f.Width(), trial.Y+2*pad, line)
	f.Sheet().shift(&trial.sheets[0], top+pad)
	f.Y = top + trial.Y + 2*pad
}

// shift adds what stands on another sheet, moved down.
func (s *Sheet) shift(from *Sheet, down float64) {
	for _, r := range from.Rects {
		r.Y += down
		s.Rects = append(s.Rects, r)
	}
	for _, l := range from.Lines {
		l.Y1, l.Y2 = l.Y1+down, l.Y2+down
		s.Lines = append(s.Lines, l)
	}
	for _, t := range from.Texts {
		t.Y += down
		s.Texts = append(s.Texts, t)
	}
}

// Foot prints a line at the foot of each sheet, at a baseline, when all is set. The
// text is given the sheet's number and how many there are.
func (f *Flow) Foot(style Style, baseline float64, text func(page, of int) string) {
	for i := range f.sheets {
		f.sheets[i].Put(f.Left, baseline, style, Printable(text(i+1, len(f.sheets))))
	}
}

// PageOf is "Page 1 of 3".
func PageOf(page, of int) string { return fmt.Sprintf("Page %d of %d", page, of) }
