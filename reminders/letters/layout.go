package letters

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

const (
	inch       = paper.Inch
	textSize   = 12.0 // never below 12 pt for a family
	headSize   = 13.0
	smallSize  = 10.0
	leading    = 15.5
	sideMargin = 1.0 * inch
	footAt     = 0.5 * inch // from the bottom of the sheet
	textFoot   = 0.8 * inch
	maxSheets  = 4  // longer letters are a mistake in the text
	listSheets = 60 // of a list of the day, which grows with its infants
)

// sheets lays the letter out. It fails when a character cannot be set, or when the
// address does not fit the window.
func (l *Letter) sheets() ([]paper.Sheet, error) {
	if !slices.Equal(l.Source.Fonts, paper.Fonts()) {
		return nil, errors.New("the letter was made with other fonts than this release has")
	}
	if err := l.checkText(); err != nil {
		return nil, err
	}
	switch {
	case len(l.Blocks) == 0:
		return nil, errors.New("the letter has no text")
	case len(l.Address) < 2:
		return nil, errors.New("the letter has no address")
	}
	p := &page{l: l}
	if l.Format == firstFormat {
		p.head1()
	} else if err := l.Envelope.Check(); err != nil {
		return nil, err
	} else if err := p.head(); err != nil {
		return nil, err
	}
	if err := p.address(); err != nil {
		return nil, err
	}
	p.body()
	most := maxSheets
	if cases.LetterKindOf(l.Kind).To == cases.ToClinic {
		most = listSheets
	}
	if len(p.out) > most {
		return nil, fmt.Errorf("the letter runs to %d sheets; shorten its text", len(p.out))
	}
	if l.Format == firstFormat {
		p.feet1()
	} else {
		p.feet()
	}
	return p.out, nil
}

func (l *Letter) checkText() error {
	if found := l.checks(); len(found) > 0 {
		return found[0]
	}
	return nil
}

// checks lists what cannot be set, the address first.
func (l *Letter) checks() (found []error) {
	check := func(what, text string) {
		if err := paper.Check(text); err != nil {
			found = append(found, fmt.Errorf("%s cannot be set: %w", what, err))
		}
	}
	for _, line := range l.Address {
		check(fmt.Sprintf("the address line %q", line), line)
	}
	s := &l.Sender
	own := append([]string{s.Name, s.Contact, s.Phone, s.Hours, l.Title, l.Words.Date, l.Words.Call, l.Words.Foot, l.Words.Pages}, s.Return...)
	for _, line := range own {
		check("the program's own line "+fmt.Sprintf("%q", line), line)
	}
	for _, b := range l.Blocks {
		check(fmt.Sprintf("the text %q", shorten(b.Text)), b.Text)
	}
	return found
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "..."
	}
	return s
}

// page sets one letter; y is where the next line's top lies.
type page struct {
	l   *Letter
	out []paper.Sheet
	y   float64
}

func (p *page) put(x, baseline, size float64, bold bool, text string) {
	p.out[len(p.out)-1].Put(x, baseline, paper.Style{Size: size, Bold: bold}, text)
}

// Ink of capitals with accents and of descenders, in parts of the size.
const (
	inkAbove  = 0.93
	inkBelow  = 0.24
	addrPitch = 1.1
)

// addressSizes are tried from the largest. The postal service reads 10 to 12 pt best.
var addressSizes = []float64{11, 10.5, 10}

// address puts the lines into the band that shows, as large as they fit; where whole
// lines fit at no size, long ones go on in a further line.
func (p *page) address() error {
	env := &p.l.Envelope
	for _, parted := range []bool{false, true} {
		for _, band := range []Box{env.in(env.Band), env.highest()} {
			for _, size := range addressSizes {
				if p.addressIn(band, size, parted) {
					return nil
				}
			}
		}
	}
	if n := p.l.Envelope.AddressLines(); len(p.l.Address) > n {
		return fmt.Errorf("the address has %d lines; the window holds fewer, namely %d", len(p.l.Address), n)
	}
	return fmt.Errorf("the address line %q is too long for the window of the envelope; shorten it or split it", widest(p.l.Address))
}

// addressIn puts the address into a band at a size, if it fits: from the top of the
// envelope's own band on, or above it so that the last line stands at its foot.
func (p *page) addressIn(band Box, size float64, parted bool) bool {
	lines, width := p.l.Address, band.Right-band.Left
	if parted {
		lines = atBlanks(lines, size, width)
	}
	high := addressHeight(len(lines), size)
	if high > band.Bottom-band.Top || paper.Width(widest(lines), paper.Style{Size: size}) > width {
		return false
	}
	top := min(p.l.Envelope.in(p.l.Envelope.Band).Top, band.Bottom-high)
	for i, line := range lines {
		p.put(band.Left, top+inkAbove*size+addrPitch*size*float64(i), size, false, line)
	}
	return true
}

func addressHeight(lines int, size float64) float64 {
	return size*(inkAbove+inkBelow) + addrPitch*size*float64(lines-1)
}

// atBlanks parts lines that are too long at their blanks only: a word or a number is
// never cut in an address.
func atBlanks(lines []string, size, width float64) []string {
	style := paper.Style{Size: size}
	var out []string
	for _, line := range lines {
		if paper.Width(widest(strings.Fields(line)), style) > width {
			out = append(out, line)
			continue
		}
		out = append(out, paper.Wrap(line, style, width)...)
	}
	return out
}

func widest(lines []string) string {
	one, best := paper.Style{Size: 1}, ""
	for _, l := range lines {
		if paper.Width(l, one) > paper.Width(best, one) {
			best = l
		}
	}
	return best
}

// body sets the blocks, going on to further sheets as needed.
func (p *page) body() {
	blocks := p.l.Blocks
	width := p.l.Envelope.sheet().Width - 2*sideMargin
	for i, b := range blocks {
		size, bold, indent, before := textSize, false, 0.0, 7.0
		text := b.Text
		switch b.Mark {
		case templates.LetterHeading:
			size, bold, before = headSize, true, 12
		case templates.LetterStrong:
			bold = true
		case templates.LetterItem:
			indent, before = 14, 1
		case templates.LetterLine:
			before = 0
		}
		if i > 0 && blocks[i-1].Mark != b.Mark && before < 4 {
			before = 4
		}
		if b.Mark == templates.LetterLine && i > 0 && blocks[i-1].Mark == templates.LetterParagraph {
			before = 14 // the name under the letter
		}
		lines := paper.Wrap(text, paper.Style{Size: size, Bold: bold}, width-indent)
		p.room(before, len(lines), p.follow(i))
		for n, line := range lines {
			if p.y+leading > p.foot() {
				p.turn()
			}
			if n == 0 && b.Mark == templates.LetterItem {
				p.put(sideMargin, p.y+size, size, bold, "•")
			}
			p.put(sideMargin+indent, p.y+size, size, bold, line)
			p.y += leading
		}
	}
}

// follow is how many lines of the next block must stand on the sheet of block i: a
// heading is never left alone at the foot, nor the lead of a list.
func (p *page) follow(i int) int {
	b := p.l.Blocks
	switch {
	case i+1 == len(b):
		return 0
	case b[i].Mark == templates.LetterHeading && p.leadsList(i+1):
		return p.linesOf(i+1) + 3
	case b[i].Mark == templates.LetterHeading && p.l.Format == firstFormat:
		return 3
	case b[i].Mark == templates.LetterHeading:
		return min(p.linesOf(i+1), 3) + 1 // for the space between
	case b[i].Mark == templates.LetterStrong && b[i+1].Mark == templates.LetterLine && p.l.Format != firstFormat:
		n := 0
		for j := i + 1; j < len(b) && b[j].Mark == templates.LetterLine; j++ {
			n += p.linesOf(j)
		}
		return min(n, 8)
	case b[i+1].Mark == templates.LetterItem && b[i].Mark != templates.LetterItem:
		return 2
	case b[i].Mark == templates.LetterLine && b[i+1].Mark == templates.LetterLine:
		return 2
	}
	return 0
}

// leadsList tells that block i leads a list, which a heading above it must not lose.
// The first format did not know of it.
func (p *page) leadsList(i int) bool {
	b := p.l.Blocks
	return p.l.Format != firstFormat && i+1 < len(b) && b[i+1].Mark == templates.LetterItem && b[i].Mark != templates.LetterItem
}

// linesOf is how many lines block i takes.
func (p *page) linesOf(i int) int {
	b := &p.l.Blocks[i]
	style := paper.Style{Size: textSize, Bold: b.Mark == templates.LetterStrong}
	return len(paper.Wrap(b.Text, style, p.l.Envelope.sheet().Width-2*sideMargin))
}

// room leaves the space before a block, or turns the sheet when its first lines and
// what must follow them do not fit.
func (p *page) room(before float64, lines, follow int) {
	if p.y > sideMargin { // not at the top of a further sheet
		p.y += before
	}
	need := min(lines, 3)
	if follow > 0 {
		need = lines + follow
	}
	if p.y+float64(need)*leading > p.foot() {
		p.turn()
	}
}

func (p *page) foot() float64 { return p.l.Envelope.sheet().Height - textFoot }

func (p *page) turn() {
	p.out = append(p.out, paper.Sheet{})
	p.y = sideMargin
}

// ticks are short lines at the left edge that show where to fold.
func ticks(env *Profile) []paper.Line {
	var out []paper.Line
	for _, f := range env.Folds {
		y := f * env.unit()
		out = append(out, paper.Line{X1: 0.15 * inch, Y1: y, X2: 0.35 * inch, Y2: y})
	}
	return out
}

// WritePDF sets the letter as a PDF of its own. The same letter gives the same bytes.
func (l *Letter) WritePDF(w io.Writer) error {
	sheets, err := l.sheets()
	if err != nil {
		return err
	}
	return paper.Write(w, paper.Info{Title: l.Title + ", letter " + l.Number, Language: l.Language, On: dayTime(l.MadeOn), Size: l.Envelope.sheet()}, sheets)
}

// dayTime is a day as a date of a document; the zero day has none.
func dayTime(d cases.Day) time.Time {
	if d == 0 {
		return time.Time{}
	}
	return d.Time()
}
