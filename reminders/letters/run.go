package letters

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/paper"
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
	var laid [][]paper.Sheet
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
	d := paper.NewDocument(paper.Info{Title: "Print run " + r.Name, Language: "en", On: dayTime(r.On), Size: env.sheet()})
	d.Add(env.sheet(), r.countSheet(env.sheet(), printed, laid, count))
	for i, sheets := range laid {
		d.Add(printed[i].Envelope.sheet(), sheets)
	}
	return count, d.Write(w)
}

// countSheet lists the letters by number so that what was printed and what was put
// into envelopes can be counted against it. It names no infant and no family.
func (r *PrintRun) countSheet(size paper.Size, letters []Letter, laid [][]paper.Sheet, n Count) []paper.Sheet {
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
	f.Skip(10)
	table := paper.Table{Style: text, Columns: []paper.Column{{Head: "No.", Width: 0.6 * inch}, {Head: "Letter", Width: 1.7 * inch}, {Head: "What"}, {Head: "Sheets", Width: 0.8 * inch}}}
	for i, l := range letters {
		table.Rows = append(table.Rows, []string{strconv.Itoa(i + 1), l.Number, kindWords(l.Kind), strconv.Itoa(len(laid[i]))})
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
	return f.Sheets()
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

// WriteTestSheet sets a sheet that shows the folds, the part that may show in the
// window and the band of the address, to be proofed with the program's own envelopes.
func (p Profile) WriteTestSheet(w io.Writer) error {
	if err := p.Check(); err != nil {
		return err
	}
	s := paper.Sheet{Lines: ticks(&p)}
	band := p.in(p.Band)
	for _, b := range []Box{p.in(p.Quiet), band} {
		s.Outline(b.Left, b.Top, b.Right-b.Left, b.Bottom-b.Top, 0.5)
	}
	say := func(x, y, size float64, bold bool, text string) {
		s.Put(x, y, paper.Style{Size: size, Bold: bold}, text)
	}
	say(sideMargin, inch, 14, true, "Envelope test sheet: "+p.Name)
	say(sideMargin, 1.4*inch, textSize, false, "Fold at the ticks, put the sheet into the envelope and tap it to every side.")
	say(sideMargin, 1.65*inch, textSize, false, "Inner box: must always show whole. Outer box: nothing beyond it may ever show.")
	size, pitch := 10.0, addrPitch*10
	for i, line := range []string{"Parent or guardian", "1 Long Street Name Avenue North", "Apartment 1", "ALDER BAY"} {
		say(band.Left, band.Top+inkAbove*size+pitch*float64(i), size, false, line)
	}
	return paper.Write(w, paper.Info{Title: "Envelope test sheet", Language: "en", Size: p.sheet()}, []paper.Sheet{s})
}
