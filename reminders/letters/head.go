package letters

import (
	"fmt"
	"strconv"
	"strings"

	"dunlin/reminders/paper"
)

// Words are what a sheet says besides the letter's text, in the letter's language.
type Words struct {
	Date string `json:"date"` // the day on which the letter was made
	Call string `json:"call"` // above whom to call
	// Foot and Pages stand at the foot of a letter on one sheet and on several; their
	// fields are {number}, {page} and {pages}.
	Foot  string `json:"foot"`
	Pages string `json:"pages"`
}

const (
	headTop   = 0.6 * inch // baseline of the first line of the head
	headPitch = 14.0
	headGap   = 0.2 * inch // between what may show in the window and what may not
)

// head prints the sender at the left and whom to call at the right, above and beside
// the part that may show in the window, and the letter's code below it.
func (p *page) head() error {
	env, s := &p.l.Envelope, &p.l.Sender
	quiet, width := env.in(env.Quiet), env.sheet().Width
	p.out = []paper.Sheet{{Lines: ticks(env)}}
	column := quiet.Right + headGap
	bottom := p.lines(sideMargin, headTop, column-sideMargin-headGap, append([]string{s.Name}, s.Return...), 0)
	if bottom > quiet.Top-4 {
		return fmt.Errorf("the program's name and return address need %d lines; there is no room for so many above the window of the envelope",
			int((bottom-headTop)/headPitch+0.5))
	}
	room := width - column - 0.5*inch
	p.lines(column, headTop, room, []string{p.l.Words.Date}, -1)
	bottom = p.lines(column, headTop+24, room, []string{p.l.Words.Call, s.Contact, s.Phone, s.Hours}, 0, 2)
	top := quiet.Bottom + 0.08*inch
	if err := p.code(top); err != nil {
		return err
	}
	p.y = max(top+codeHeight+0.15*inch, bottom-headPitch+0.2*inch)
	return nil
}

// lines prints lines one below the other, those at the places given in bold, and
// returns the baseline after them.
func (p *page) lines(x, y, width float64, lines []string, bold ...int) float64 {
	for i, line := range lines {
		strong := false
		for _, b := range bold {
			strong = strong || b == i
		}
		for _, part := range paper.Wrap(line, paper.Style{Size: smallSize + 1, Bold: strong}, width) {
			p.put(x, y, smallSize+1, strong, part)
			y += headPitch
		}
	}
	return y
}

const codeHeight = 20.0 // points

// code prints the letter's code for returned mail: bars, and the same in signs.
func (p *page) code(top float64) error {
	text := CodeOf(p.l.Number)
	wide, err := p.out[0].Code(sideMargin, top, codeHeight, text)
	if err != nil {
		return fmt.Errorf("the letter's number %q cannot be printed as a code: %w", p.l.Number, err)
	}
	sign := text[:len(text)-1] + "-" + text[len(text)-1:]
	p.put(sideMargin+wide+10, top+codeHeight/2+3.5, smallSize, false, sign)
	return nil
}

// feet prints the letter's number, and the sheet's, at the foot of each sheet.
func (p *page) feet() {
	n, line := len(p.out), p.l.Words.Foot
	if n > 1 {
		line = p.l.Words.Pages
	}
	for i := range p.out {
		text := strings.NewReplacer("{number}", p.l.Number, "{page}", strconv.Itoa(i+1), "{pages}", strconv.Itoa(n)).Replace(line)
		p.out[i].Put(sideMargin, p.l.Envelope.sheet().Height-footAt, paper.Style{Size: smallSize}, text)
	}
}
