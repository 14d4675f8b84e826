package letters

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"dunlin/cases"
)

// PrintRun is what is printed together: one PDF with a count sheet first.
type PrintRun struct {
	Name    string // of the run, such as "2026-03-12 a"
	On      cases.Day
	Program string
	Letters []Letter
	// SetAside are letters that belong to the day but are not in this PDF.
	SetAside []SetAside
}

// SetAside is a letter that was not made or not printed, with the reason in words.
type SetAside struct {
	Case      cases.ID
	Reference string
	Kind      string
	Occasion  string
	Number    string // of a letter that was made; "" when none was
	Reason    string
}

// Count is what the count sheet says.
type Count struct {
	Letters  int
	Sheets   int // without the count sheet
	SetAside []SetAside
}

// WritePDF sets the run. A letter that cannot be set is set aside with its reason, and
// the others are printed. The same run gives the same bytes.
func (r PrintRun) WritePDF(w io.Writer) (Count, error) {
	count := Count{SetAside: r.SetAside}
	env := No10()
	var laid [][]sheet
	var printed []Letter
	for _, l := range r.Letters {
		sheets, err := l.sheets()
		if err != nil {
			count.SetAside = append(count.SetAside, SetAside{Kind: l.Kind, Occasion: l.Occasion, Number: l.Number, Reason: err.Error()})
			continue
		}
		env = l.Envelope
		laid, printed = append(laid, sheets), append(printed, l)
		count.Letters++
		count.Sheets += len(sheets)
	}
	f, err := faces()
	if err != nil {
		return count, err
	}
	d := newDocument(env, r.On, "Print run "+r.Name, "en")
	c := countSheet{faces: &f, height: env.Height * inch}
	c.lay(r, printed, laid, count)
	d.add(c.out)
	for i, sheets := range laid {
		d.sheet.Wd, d.sheet.Ht = printed[i].Envelope.Width*inch, printed[i].Envelope.Height*inch
		d.add(sheets)
	}
	return count, d.write(w)
}

// countSheet lists the letters by number so that what was printed and what was put
// into envelopes can be counted against it. It names no infant and no family.
type countSheet struct {
	faces  *[2]face
	height float64
	out    []sheet
	y      float64
}

var countColumns = []float64{1.0 * inch, 1.6 * inch, 3.3 * inch, 6.9 * inch}

func (c *countSheet) lay(r PrintRun, letters []Letter, laid [][]sheet, n Count) {
	c.turn()
	c.line(16, true, "Count sheet")
	c.y += 6
	c.line(textSize, false, "Print run "+r.Name+", "+longDay(r.On))
	if r.Program != "" {
		c.line(textSize, false, r.Program)
	}
	c.y += 8
	c.line(textSize, true, fmt.Sprintf("%s on %s", plural(n.Letters, "letter", "letters"), plural(n.Sheets, "sheet", "sheets")))
	c.line(textSize, false, "Print on one side only: on two sides, one family would get a part of another's letter.")
	c.line(textSize, false, "Fold at the ticks. One family to an envelope. Twins get one envelope each.")
	c.y += 10
	c.row(true, "No.", "Letter", "What", "Sheets")
	for i, l := range letters {
		c.row(false, strconv.Itoa(i+1), l.Number, kindWords(l.Kind), strconv.Itoa(len(laid[i])))
	}
	c.y += 14
	if len(n.SetAside) > 0 {
		c.line(textSize, true, "Not in this run: "+plural(len(n.SetAside), "letter", "letters"))
		for _, s := range n.SetAside {
			which := s.Number
			if which == "" {
				which = s.Reference
			}
			c.line(textSize, false, fmt.Sprintf("%s, %s: %s.", which, kindWords(s.Kind), printable(&c.faces[0], s.Reason)))
		}
		c.y += 14
	}
	for _, what := range []string{"Printed and counted by", "Put into envelopes by", "Mailed on"} {
		c.line(textSize, false, what+" ______________________________")
		c.y += 10
	}
}

func (c *countSheet) turn() {
	c.out = append(c.out, sheet{})
	c.y = sideMargin
}

func (c *countSheet) put(x, size float64, bold bool, text string) {
	s := &c.out[len(c.out)-1]
	s.Marks = append(s.Marks, mark{x, c.y, size, bold, text})
}

func (c *countSheet) line(size float64, bold bool, text string) {
	f := &c.faces[0]
	if bold {
		f = &c.faces[1]
	}
	for _, part := range wrap(f, text, size, 6.5*inch) {
		c.next(size)
		c.put(sideMargin, size, bold, part)
	}
}

func (c *countSheet) row(bold bool, cells ...string) {
	c.next(textSize)
	for i, text := range cells {
		c.put(countColumns[i], textSize, bold, text)
	}
}

func (c *countSheet) next(size float64) {
	c.y += size + 4
	if c.y > c.height-textFoot {
		c.turn()
		c.y += size + 4
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// kindWords is the kind of a letter as people call it.
func kindWords(kind string) string {
	w := cases.LetterKindOf(kind).Word
	return strings.ToLower(w[:1]) + w[1:]
}

// printable replaces what the font lacks, in a reason that quotes it.
func printable(f *face, s string) string {
	out := []rune(s)
	for i, r := range out {
		if _, has := f.widths[r]; !has {
			out[i] = '?'
		}
	}
	return string(out)
}

// WriteTestSheet sets a sheet that shows the folds, the part that may show in the
// window and the band of the address, to be proofed with the program's own envelopes.
func (p Profile) WriteTestSheet(w io.Writer) error {
	if err := p.Check(); err != nil {
		return err
	}
	d := newDocument(p, 0, "Envelope test sheet", "en")
	s := sheet{}
	for _, f := range p.Folds {
		s.Folds = append(s.Folds, f*inch)
	}
	say := func(x, y, size float64, bold bool, text string) {
		s.Marks = append(s.Marks, mark{x, y, size, bold, text})
	}
	say(sideMargin, inch, 14, true, "Envelope test sheet: "+p.Name)
	say(sideMargin, 1.4*inch, textSize, false, "Fold at the ticks, put the sheet into the envelope and tap it to every side.")
	say(sideMargin, 1.65*inch, textSize, false, "Inner box: must always show whole. Outer box: nothing beyond it may ever show.")
	size, pitch := 10.0, addrPitch*10
	for i, line := range []string{"Parent or guardian", "1 Long Street Name Avenue North", "Apartment 1", "ALDER BAY"} {
		say(p.Band.Left*inch, p.Band.Top*inch+inkAbove*size+pitch*float64(i), size, false, line)
	}
	d.add([]sheet{s})
	for _, b := range []Box{p.Quiet, p.Band} {
		d.pdf.Rect(b.Left*inch, b.Top*inch, (b.Right-b.Left)*inch, (b.Bottom-b.Top)*inch, "D")
	}
	return d.write(w)
}
