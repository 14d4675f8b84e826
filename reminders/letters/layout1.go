package letters

import (
	"fmt"

	"dunlin/reminders/paper"
)

// The layout of letters of the format dunlin-letter/1. It stays as it is: letters that
// were made with it give the same bytes as then (see testdata/format-1).

// head1 prints the sender at the left and whom to call at the right, above the part
// that may show in the window.
func (p *page) head1() {
	env, s := &p.l.Envelope, &p.l.Sender
	p.out = []paper.Sheet{{Lines: ticks(env)}}
	column := env.Quiet.Right*inch + 0.2*inch
	width := env.Width*inch - column - 0.5*inch
	y := 0.75 * inch
	for i, line := range append([]string{s.Name}, s.Return...) {
		bold := i == 0
		for _, part := range paper.Wrap(line, paper.Style{Size: smallSize + 1, Bold: bold}, column-sideMargin-0.3*inch) {
			p.put(sideMargin, y, smallSize+1, bold, part)
			y += 14
		}
	}
	y = 0.75 * inch
	p.put(column, y, smallSize+1, false, p.l.MadeOn.Time().Format("January 2, 2006"))
	y += 24
	for i, line := range []string{"Questions? Call", s.Contact, s.Phone, s.Hours} {
		bold := i == 0 || i == 2
		for _, part := range paper.Wrap(line, paper.Style{Size: smallSize + 1, Bold: bold}, width) {
			p.put(column, y, smallSize+1, bold, part)
			y += 14
		}
	}
	p.y = env.Quiet.Bottom*inch + 0.2*inch
}

// feet1 prints the letter's number, and the sheet's, at the foot of each sheet.
func (p *page) feet1() {
	n := len(p.out)
	for i := range p.out {
		text := "Letter " + p.l.Number
		if n > 1 {
			text += fmt.Sprintf(", page %d of %d", i+1, n)
		}
		y := p.l.Envelope.Height*inch - footAt
		p.out[i].Put(sideMargin, y, paper.Style{Size: smallSize}, text)
	}
}
