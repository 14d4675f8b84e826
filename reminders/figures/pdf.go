package figures

import (
	"fmt"
	"io"
	"time"

	"dunlin/reminders/paper"
	"dunlin/templates"
)

// Type of the report, in points.
var (
	titleType = paper.Style{Size: 18, Bold: true}
	headType  = paper.Style{Size: 12.5, Bold: true}
	nameType  = paper.Style{Size: 9.5, Bold: true}
	boldType  = paper.Style{Size: 9, Bold: true}
	textType  = paper.Style{Size: 9.5}
	cellType  = paper.Style{Size: 8.5}
	smallType = paper.Style{Size: 7.5}
	factType  = paper.Style{Size: 14, Bold: true}
)

const (
	margin   = 0.7 * paper.Inch
	footRoom = 24.0 // for the lines at the foot of each sheet
	gap      = 6.0
)

// Paper is a size of sheets to print on.
type Paper struct {
	Key, Name string
	paper.Size
}

// Papers are the sizes of sheets, the usual one first.
var Papers = []Paper{{"letter", "US Letter", paper.USLetter}, {"a4", "A4", paper.A4}}

// PaperOf finds a size by its key; without one, and with one that does not exist, the
// first, ok then false.
func PaperOf(key string) (p Paper, ok bool) {
	for _, p := range Papers {
		if p.Key == key {
			return p, true
		}
	}
	return Papers[0], key == ""
}

// Write sets a report as PDF on sheets of a size: US Letter or A4. made says when and
// by whom it was printed; on is the day of the figures, which dates the document. The
// same report gives the same bytes.
func Write(w io.Writer, r *templates.YearReport, made string, on time.Time, size Paper) error {
	return paper.Write(w, paper.Info{Title: r.Title, Language: "en", On: on, Size: size.Size}, sheets(r, made, size.Size))
}

func sheets(r *templates.YearReport, made string, size paper.Size) []paper.Sheet {
	f := paper.NewFlow(size, margin)
	f.Bottom -= footRoom
	f.Head = func(f *paper.Flow) {
		mark(f, r)
		f.Para(boldType, r.Title+", continued")
		f.Skip(gap)
	}
	mark(f, r)
	first(f, r)
	for i := range r.Sections {
		section(f, &r.Sections[i])
	}
	if len(r.Terms) > 0 {
		heading(f, "What is counted", 3*textType.Pitch())
		for _, t := range r.Terms {
			f.Need(3 * cellType.Pitch())
			f.Para(boldType, t.Name)
			f.Para(cellType, t.Text)
			f.Skip(3)
		}
	}
	list(f, "How these figures are made", r.How)
	f.Foot(smallType, size.Height-margin-8, func(page, of int) string {
		return paper.PageOf(page, of) + ". " + r.Title + ", records of " + r.AsOf + "."
	})
	f.Foot(smallType, size.Height-margin+2, func(int, int) string { return made + ". " + released(r) })
	return f.Sheets()
}

// released says at the foot of each sheet whether it may leave the program.
func released(r *templates.YearReport) string {
	if m := r.Mark(); m != "" {
		return m
	}
	if r.Below > 1 {
		return fmt.Sprintf("Counts from 1 to %d are hidden, and others that they could be worked out from.", r.Below-1)
	}
	return ""
}

// mark stands on top of each sheet of full figures.
func mark(f *paper.Flow, r *templates.YearReport) {
	m := r.Mark()
	if m == "" {
		return
	}
	f.Boxed(4, 1.5, 0.15, func(f *paper.Flow) { f.Para(boldType, m) })
	f.Skip(gap)
}

// first sets what stands before the sections.
func first(f *paper.Flow, r *templates.YearReport) {
	f.Para(titleType, r.Title)
	f.Para(headType, r.Program)
	f.Skip(2)
	f.Para(textType, r.Lead)
	f.Skip(gap)
	factBox(f, r.Facts)
	if len(r.Says) > 0 {
		heading(f, "What the figures say", 2*textType.Pitch())
		for _, t := range r.Says {
			f.Item(textType, "•", t)
		}
	}
	if len(r.Cautions) > 0 {
		f.Skip(gap)
		f.Boxed(6, 1, 0, func(f *paper.Flow) {
			for _, t := range r.Cautions {
				f.Para(cellType, t)
			}
		})
	}
}

// factBox sets the few figures that stand first, side by side in a box.
func factBox(f *paper.Flow, list []templates.BigFact) {
	if len(list) == 0 {
		return
	}
	const pad = 6.0
	wide := f.Width() / float64(len(list))
	value := func(t string) paper.Style { // a long value is set smaller
		if paper.Width(t, factType) > wide-2*pad {
			return nameType
		}
		return factType
	}
	high := 0.0
	for _, x := range list {
		lines := len(paper.Wrap(paper.Printable(x.Name), smallType, wide-2*pad)) + len(paper.Wrap(paper.Printable(x.Note), smallType, wide-2*pad))
		values := float64(len(paper.Wrap(paper.Printable(x.Value), value(x.Value), wide-2*pad)))
		high = max(high, float64(lines)*smallType.Pitch()+values*factType.Pitch()+2*pad)
	}
	f.Need(high)
	top, left, right := f.Y, f.Left, f.Right
	f.Sheet().Outline(left, top, right-left, high, 0.8)
	for i, x := range list {
		if i > 0 {
			f.Sheet().Line(left+float64(i)*wide, top, left+float64(i)*wide, top+high, 0.4)
		}
		f.Left, f.Right, f.Y = left+float64(i)*wide+pad, left+float64(i+1)*wide-pad, top+pad
		f.Para(smallType, x.Name)
		f.Para(value(x.Value), x.Value)
		if x.Note != "" {
			f.Para(smallType, x.Note)
		}
	}
	f.Left, f.Right, f.Y = left, right, top+high+gap
}

// heading begins a part, with so much of it on the same sheet.
func heading(f *paper.Flow, name string, with float64) {
	f.Skip(2 * gap)
	f.Need(headType.Pitch() + gap + with)
	f.Para(headType, name)
	f.Skip(3)
}

func list(f *paper.Flow, name string, items []string) {
	if len(items) == 0 {
		return
	}
	heading(f, name, 2*textType.Pitch())
	for _, t := range items {
		f.Item(cellType, "•", t)
	}
}

func section(f *paper.Flow, s *templates.YearSection) {
	heading(f, s.Name, 90)
	if s.Lead != "" {
		f.Para(textType, s.Lead)
		f.Skip(3)
	}
	for i := range s.Curves {
		curve(f, &s.Curves[i])
	}
	if s.Funnel != nil {
		funnel(f, s.Funnel)
	}
	for i := range s.Tables {
		table(f, &s.Tables[i])
	}
	for _, t := range s.Notes {
		f.Para(smallType, t)
	}
}

// table sets a table with its name above it.
func table(f *paper.Flow, t *templates.YearTable) {
	out := paper.Table{Style: cellType, Grid: 0.4, Pad: 2.5, Rows: t.Rows}
	sum := 0.0
	share := func(c templates.YearColumn) float64 { return max(c.Share, 0.1) }
	for _, c := range t.Columns {
		if c.Share == 0 {
			c.Share = 1
		}
		sum += share(c)
	}
	for _, c := range t.Columns {
		if c.Share == 0 {
			c.Share = 1
		}
		out.Columns = append(out.Columns, paper.Column{Head: c.Head, Width: share(c) / sum * f.Width()})
	}
	if t.Name != "" {
		f.Skip(3)
		f.Need(nameType.Pitch() + 5*cellType.Pitch())
		f.Para(nameType, t.Name)
		f.Skip(2)
	}
	f.Table(out)
	f.Skip(gap)
}
