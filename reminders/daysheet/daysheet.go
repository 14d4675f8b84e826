// Package daysheet sets the sheet of a clinic day as PDF: what the nurse takes along,
// fills in by hand and enters afterwards. It holds the layout only; the words come from
// the page of the same day, so that paper and screen say the same.
package daysheet

import (
	"io"
	"time"

	"dunlin/reminders/paper"
	"dunlin/templates"
)

// Type of the sheet, in points. It is read at arm's length beside a cot.
var (
	titleType = paper.Style{Size: 13, Bold: true}
	nameType  = paper.Style{Size: 11, Bold: true}
	boldType  = paper.Style{Size: 8.5, Bold: true}
	textType  = paper.Style{Size: 8.5}
	smallType = paper.Style{Size: 7.5}
)

const (
	margin    = 0.5 * paper.Inch
	footRoom  = 16.0 // for the line at the foot of each page
	rowHeight = 19.5 // to write in by hand
	boxPad    = 5.0
)

// Write sets a day sheet on US Letter, on as many pages as it takes; an infant's box is
// never parted. The same sheet gives the same bytes. on is the day of the session.
func Write(w io.Writer, s *templates.DaySheet, on time.Time) error {
	return paper.Write(w, paper.Info{Title: s.Title, Language: "en", On: on}, sheets(s))
}

func sheets(s *templates.DaySheet) []paper.Sheet {
	f := paper.NewFlow(paper.USLetter, margin)
	f.Bottom -= footRoom
	f.Head = func(f *paper.Flow) {
		f.Para(boldType, s.Title+", continued")
		f.Skip(3)
	}
	f.Para(titleType, s.Title)
	f.Para(textType, s.Where+" "+s.Count+".")
	f.Para(smallType, s.Made)
	if s.Warning != "" {
		f.Para(nameType, s.Warning)
	}
	f.Skip(3)
	care(f, s.Care)
	for i := range s.Infants {
		f.Skip(4)
		f.Boxed(boxPad, 0.9, 0, func(f *paper.Flow) { infant(f, &s.Infants[i]) })
	}
	if len(s.Infants) == 0 {
		f.Skip(6)
		f.Para(textType, s.None)
	}
	f.Skip(5)
	signature(f, s.Enter)
	f.Foot(smallType, paper.USLetter.Height-margin+4, func(page, of int) string {
		return paper.PageOf(page, of) + ". " + s.Made + ". " + s.Keep
	})
	return f.Sheets()
}

// signature says where to enter what was written, with a line to sign beside it.
func signature(f *paper.Flow, enter string) {
	const wide = 200
	f.Need(textType.Pitch())
	top, left := f.Y, f.Left
	f.Right -= wide
	f.Para(smallType, enter)
	f.Right += wide
	low := f.Y
	f.Y, f.Left = top, f.Right-wide+10
	fill(f, textType, "Signed", wide)
	f.Y, f.Left = max(low, f.Y), left
}

// care is the box of the cautions, in two columns.
func care(f *paper.Flow, list []string) {
	if len(list) == 0 {
		return
	}
	f.Boxed(boxPad, 1.5, 0, func(f *paper.Flow) {
		f.Para(boldType, "Before and during every collection")
		f.Skip(2)
		top, left, right := f.Y, f.Left, f.Right
		half := (right-left)/2 - 6
		low := top
		cut := even(list, half)
		for column, part := range [][]string{list[:cut], list[cut:]} {
			f.Y, f.Left = top, left+float64(column)*(half+12)
			f.Right = f.Left + half
			for _, t := range part {
				f.Item(smallType, "•", t)
			}
			low = max(low, f.Y)
		}
		f.Y, f.Left, f.Right = low, left, right
	})
}

// even is how many of the list stand in the first of two columns so that the higher one
// is lowest.
func even(list []string, width float64) (cut int) {
	lines := make([]int, len(list))
	all, left, best := 0, 0, 0
	for i, t := range list {
		lines[i] = len(paper.Wrap(t, smallType, width-1.2*smallType.Size))
		all += lines[i]
	}
	for i, n := range lines {
		left += n
		if high := max(left, all-left); best == 0 || high < best {
			best, cut = high, i+1
		}
	}
	return cut
}

func infant(f *paper.Flow, k *templates.SheetInfant) {
	head(f, k)
	why := k.Why + ". " + k.Weight + "."
	if k.Projected != "" {
		why += " " + k.Projected + "."
	}
	f.Para(textType, why)
	for _, t := range []string{k.Interpreter, unreadable(k.Name)} {
		if t != "" {
			f.Para(boldType, t+".")
		}
	}
	for _, t := range k.Stop {
		f.Para(boldType, "Not ready as far as is known: "+t+".")
	}
	if k.Override != "" {
		f.Para(textType, k.Override)
	}
	for _, t := range k.Holds {
		f.Para(boldType, "On hold: "+t+". Ask first.")
	}
	f.Skip(2)
	ticks(f, textType, "", k.Identity())
	f.Y -= textType.Pitch()
	right := f.Left
	f.Left += 300
	fill(f, textType, "Weight today, kg", 90)
	f.Left = right
	ticks(f, textType, "Postpone or ask first:", k.Postpone...)
	ticks(f, textType, "Site:", k.Checks...)
	f.Skip(3)
	arms(f, k)
	f.Skip(3)
	ticks(f, textType, "", "Not done today, because")
	f.Y -= textType.Pitch()
	f.Left += 125
	fill(f, textType, "", 170)
	f.Y -= textType.Pitch()
	f.Left += 185
	fill(f, textType, "Collected by", 140)
	f.Left = right
}

// head is the line that says who it is.
func head(f *paper.Flow, k *templates.SheetInfant) {
	first := k.Time + "  " + k.Name
	if k.Twin != "" {
		first += "  [" + k.Twin + "]"
	}
	who := "Born " + k.Born + " (" + k.Age
	if k.Corrected != "" {
		who += "; " + k.Corrected
	}
	who += ")  Case " + k.Reference
	if paper.Width(paper.Printable(first), nameType)+paper.Width(who, boldType)+12 > f.Width() {
		f.Para(nameType, first)
		f.Para(boldType, who)
		return
	}
	f.Para(nameType, first)
	f.Sheet().Put(f.Right-paper.Width(who, boldType), f.Y-0.28*nameType.Pitch(), boldType, who)
}

// unreadable says that the name could not be set as it is written: a name with question
// marks identifies nobody.
func unreadable(name string) string {
	if paper.Check(name) == nil {
		return ""
	}
	return "The name holds letters that this print cannot set; print the sheet from the browser, or write the name here by hand"
}

// ticks sets boxes to be ticked, one behind the other, after a word in bold.
func ticks(f *paper.Flow, style paper.Style, label string, list ...string) {
	x := f.Left
	base := func() float64 { return f.Y + style.Size*1.02 }
	if label != "" {
		bold := paper.Style{Size: style.Size, Bold: true}
		f.Sheet().Put(x, base(), bold, label)
		x += paper.Width(label, bold) + 6
	}
	for _, t := range list {
		wide := style.Size + 3 + paper.Width(t, style)
		if x+wide > f.Right && x > f.Left {
			f.Y += style.Pitch()
			x = f.Left
		}
		f.Sheet().TickBox(x, base(), style.Size-1)
		f.Sheet().Put(x+style.Size+2, base(), style, t)
		x += wide + 9
	}
	f.Y += style.Pitch()
}

// fill sets a word with a line behind it to write on.
func fill(f *paper.Flow, style paper.Style, word string, length float64) {
	f.Need(style.Pitch())
	base, x := f.Y+style.Size*1.02, f.Left
	if word != "" {
		f.Sheet().Put(x, base, style, word)
		x += paper.Width(word, style) + 4
	}
	f.Sheet().Line(x, base+1.5, min(x+length, f.Right), base+1.5, 0.75)
	f.Y += style.Pitch()
}

// arms is the table of the collection, a row an arm, with ticks for the skin.
func arms(f *paper.Flow, k *templates.SheetInfant) {
	heads := k.Columns()
	t := paper.Table{Style: smallType, Grid: 0.6, Pad: 2, RowHeight: rowHeight, Columns: []paper.Column{{Head: "Arm", Width: 32}}, Rows: [][]string{{"Left"}, {"Right"}}}
	for i, h := range heads {
		c := paper.Column{Head: h}
		if i == len(heads)-1 {
			c.Width = skinWidth
		}
		t.Columns = append(t.Columns, c)
	}
	f.Table(t)
	for row := range t.Rows {
		x := f.Right - skinWidth + 3
		base := f.Y - float64(len(t.Rows)-row)*rowHeight + rowHeight/2 + 3
		for _, word := range k.Skin() {
			f.Sheet().TickBox(x, base, smallType.Size)
			x += smallType.Size + 2
			f.Sheet().Put(x, base, smallType, word)
			x += paper.Width(word, smallType) + 5
		}
	}
}

// skinWidth is the width of the column of ticks for the skin.
const skinWidth = 128
