package letters

import (
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/paper"
)

// PrintRun is what is printed together: one PDF with a count sheet first, then the
// letters in their order.
type PrintRun struct {
	Name    string // of the run, such as "2026-03-12 a"
	On      cases.Day
	Program string
	Letters []Letter
	// Each gives the letters one by one, instead of Letters, so that they are never all
	// in memory. It is asked twice and gives the same both times. With an error comes
	// what is known of a letter that cannot be read.
	Each iter.Seq2[Letter, error]
	// SetAside are letters that belong to the day but are not in this PDF.
	SetAside []SetAside
}

// SetAside is a letter that was not made or not printed, with the reason in words.
type SetAside struct {
	Case      cases.ID
	Reference string
	Kind      string
	Occasion  string
	By        string // channel of a message; "" of a letter
	Number    string // of a letter that was made; "" when none was
	Reason    string
}

// Count is what the count sheet says.
type Count struct {
	Letters  int
	Sheets   int // without the count sheet
	SetAside []SetAside
}

// counted is a letter's line on the count sheet.
type counted struct {
	number, kind string
	sheets       int
}

// each yields the letters that can be set, with their sheets; the others go to aside.
func (r *PrintRun) each(aside func(SetAside)) iter.Seq2[*Letter, []paper.Sheet] {
	return func(yield func(*Letter, []paper.Sheet) bool) {
		all := r.Each
		if all == nil {
			all = func(yield func(Letter, error) bool) {
				for _, l := range r.Letters {
					if !yield(l, nil) {
						return
					}
				}
			}
		}
		for l, err := range all {
			var sheets []paper.Sheet
			if err == nil {
				sheets, err = l.sheets()
			}
			if err != nil {
				aside(SetAside{Kind: l.Kind, Occasion: l.Occasion, Number: l.Number, Reason: err.Error()})
			} else if !yield(&l, sheets) {
				return
			}
		}
	}
}

// WritePDF sets the run. A letter that cannot be set is set aside with its reason, and
// the others are printed. The same run gives the same bytes. Nothing is written before
// all letters have been laid out once; then they are written one by one.
func (r PrintRun) WritePDF(w io.Writer) (Count, error) {
	count := Count{SetAside: r.SetAside}
	var list []counted
	size := paper.USLetter
	for l, sheets := range r.each(func(s SetAside) { count.SetAside = append(count.SetAside, s) }) {
		list = append(list, counted{l.Number, l.Kind, len(sheets)})
		count.Letters++
		count.Sheets += len(sheets)
		size = l.Envelope.sheet()
	}
	front := r.countSheet(size, list, count)
	d := paper.NewStream(w, paper.Info{Title: "Print run " + r.Name, Language: "en", On: dayTime(r.On), Size: size})
	if err := d.Add(size, "", front); err != nil {
		return count, fmt.Errorf("letters: print run: %w", err)
	}
	n := 0
	for l, sheets := range r.each(func(SetAside) {}) {
		if n == len(list) || list[n] != (counted{l.Number, l.Kind, len(sheets)}) {
			return count, fmt.Errorf("letters: print run: letter %s was changed while it was printed; print again", l.Number)
		}
		if err := d.Add(l.Envelope.sheet(), l.Language, sheets); err != nil {
			return count, fmt.Errorf("letters: print run: %w", err)
		}
		n++
	}
	if n < len(list) {
		return count, fmt.Errorf("letters: print run: letter %s was taken away while it was printed; print again", list[n].number)
	}
	if err := d.Close(); err != nil {
		return count, fmt.Errorf("letters: print run: %w", err)
	}
	return count, nil
}

// countSheet lists the letters by number so that what was printed and what was put
// into envelopes can be counted against it. It names no infant and no family.
func (r *PrintRun) countSheet(size paper.Size, list []counted, n Count) []paper.Sheet {
	f := paper.NewFlow(size, sideMargin)
	text, strong := paper.Style{Size: textSize}, paper.Style{Size: textSize, Bold: true}
	f.Para(paper.Style{Size: 16, Bold: true}, "Count sheet")
	f.Skip(6)
	f.Para(text, "Print run "+r.Name+", "+longDay(r.On))
	if r.Program != "" {
		f.Para(text, r.Program)
	}
	f.Skip(8)
	f.Para(strong, fmt.Sprintf("%s on %s", plural(n.Letters, "letter", "letters"), plural(n.Sheets, "sheet", "sheets")))
	f.Para(text, "Print on one side only: on two sides, one family would get a part of another's letter.")
	f.Para(text, "Fold at the ticks. One family to an envelope. Twins get one envelope each.")
	if certified := certifiedOf(list); certified > 0 {
		f.Para(strong, plural(certified, "letter goes", "letters go")+" by certified mail.")
	}
	f.Skip(10)
	table := paper.Table{Style: text, Columns: []paper.Column{{Head: "No.", Width: 0.6 * inch}, {Head: "Letter", Width: 1.4 * inch}, {Head: "What"}, {Head: "Sheets", Width: 0.8 * inch}}}
	for i, l := range list {
		table.Rows = append(table.Rows, []string{strconv.Itoa(i + 1), l.number, mailWords(l.kind), strconv.Itoa(l.sheets)})
	}
	f.Table(table)
	f.Skip(14)
	if len(n.SetAside) > 0 {
		f.Para(strong, "Not in this run: "+plural(len(n.SetAside), "letter", "letters"))
		for _, s := range n.SetAside {
			which := s.Number
			if which == "" {
				which = s.Reference
			}
			f.Para(text, fmt.Sprintf("%s, %s: %s.", which, kindWords(s.Kind), s.Reason))
		}
		f.Skip(14)
	}
	for _, what := range []string{"Printed and counted by", "Put into envelopes by", "Mailed on"} {
		f.Para(text, what+" ______________________________")
		f.Skip(10)
	}
	if n := len(f.Sheets()); n > 1 {
		f.Foot(paper.Style{Size: smallSize}, size.Height-footAt, func(page, of int) string {
			return "Print run " + r.Name + ", count sheet, " + strings.ToLower(paper.PageOf(page, of))
		})
	}
	return f.Sheets()
}

func certifiedOf(list []counted) int {
	n := 0
	for _, l := range list {
		if cases.LetterKindOf(l.kind).Certified {
			n++
		}
	}
	return n
}

// mailWords is a kind with how it is mailed where that is not the usual way.
func mailWords(kind string) string {
	if cases.LetterKindOf(kind).Certified {
		return kindWords(kind) + " (certified)"
	}
	return kindWords(kind)
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
	if w == "" {
		return "of no kind" // a damaged record
	}
	return strings.ToLower(w[:1]) + w[1:]
}

// WriteTestSheet sets a sheet that shows the folds, the part that may show in the
// window and the band of the address, to be proofed with the program's own envelopes.
func (p Profile) WriteTestSheet(w io.Writer) error {
	if err := p.Check(); err != nil {
		return err
	}
	s := paper.Sheet{Lines: ticks(&p)}
	band, boxes := p.in(p.Band), []Box{p.in(p.Quiet), p.in(p.Band)}
	if p.Upper > 0 {
		boxes = append(boxes, p.highest())
	}
	for _, b := range boxes {
		s.Outline(b.Left, b.Top, b.Right-b.Left, b.Bottom-b.Top, 0.5)
	}
	say := func(x, y, size float64, bold bool, text string) {
		s.Put(x, y, paper.Style{Size: size, Bold: bold}, text)
	}
	say(sideMargin, inch, 14, true, "Envelope test sheet: "+p.Name)
	say(sideMargin, 1.4*inch, textSize, false, "Fold at the ticks, put the sheet into the envelope and tap it to every side.")
	say(sideMargin, 1.65*inch, textSize, false, "Inner boxes: must always show whole. Outer box: nothing beyond it may ever show.")
	size, pitch := 10.0, addrPitch*10
	for i, line := range []string{"Parent or guardian", "1 Long Street Name Avenue North", "Apartment 1", "ALDER BAY"} {
		say(band.Left, band.Top+inkAbove*size+pitch*float64(i), size, false, line)
	}
	return paper.Write(w, paper.Info{Title: "Envelope test sheet", Language: "en", Size: p.sheet()}, []paper.Sheet{s})
}
