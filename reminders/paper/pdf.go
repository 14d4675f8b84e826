package paper

import (
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Info is what a document says of itself.
type Info struct {
	Title    string
	Language string    // tag such as "es" or "en-US"; "en" counts as US English
	On       time.Time // the day it is about, which is also its date; zero: 1970-01-01
	Size     Size      // of its sheets; zero: US Letter
}

// filled puts in what was left out.
func (i Info) filled() Info {
	if i.Size == (Size{}) {
		i.Size = USLetter
	}
	if i.On.IsZero() {
		i.On = time.Unix(0, 0)
	}
	i.On, i.Language = i.On.UTC(), tagOf(i.Language)
	return i
}

// tagOf is the tag of a language: "en" counts as US English.
func tagOf(language string) string {
	if language == "en" {
		return "en-US"
	}
	return language
}

// Write writes the sheets as one PDF. The same sheets give the same bytes.
func Write(w io.Writer, info Info, sheets []Sheet) error {
	d := NewDocument(info)
	d.Add(d.size, sheets)
	return d.Write(w)
}

// Document is a PDF in the making: both dates fixed, objects in a fixed order, fonts
// cut to the characters in use.
type Document struct {
	pdf  *fpdf.Fpdf
	size Size
	line float64
}

// NewDocument begins a document.
func NewDocument(info Info) *Document {
	info = info.filled()
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: sizeOf(info.Size)})
	pdf.SetCreationDate(info.On)
	pdf.SetModificationDate(info.On)
	pdf.SetCatalogSort(true)
	pdf.SetProducer("Dunlin", true)
	pdf.SetTitle(info.Title, true)
	pdf.SetLang(info.Language)
	pdf.SetDisplayMode("fullpage", "SinglePage")
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetLineWidth(thin)
	pdf.AddUTF8FontFromBytes("noto", "", regularTTF)
	pdf.AddUTF8FontFromBytes("noto", "B", boldTTF)
	return &Document{pdf, info.Size, thin}
}

// thin is the width of lines that say nothing else.
const thin = 0.5

func lineWidth(w float64) float64 {
	if w == 0 {
		return thin
	}
	return w
}

func sizeOf(s Size) fpdf.SizeType { return fpdf.SizeType{Wd: s.Width, Ht: s.Height} }

// Add appends sheets of a size.
func (d *Document) Add(size Size, sheets []Sheet) {
	for i := range sheets {
		s := &sheets[i]
		d.pdf.AddPageFormat("P", sizeOf(size))
		d.rects(s.Rects)
		for _, l := range s.Lines {
			d.width(l.Width)
			d.pdf.Line(l.X1, l.Y1, l.X2, l.Y2)
		}
		for _, t := range s.Texts {
			style := ""
			if t.Bold {
				style = "B"
			}
			d.pdf.SetFont("noto", style, t.Size)
			d.pdf.Text(t.X, t.Y, t.Text)
		}
	}
}

func (d *Document) rects(rects []Rect) {
	for _, r := range rects {
		if r.Gray > 0 {
			level := int(255*(1-min(r.Gray, 1)) + 0.5)
			d.pdf.SetFillColor(level, level, level)
			d.pdf.Rect(r.X, r.Y, r.W, r.H, "F")
		}
		if r.Width > 0 {
			d.width(r.Width)
			d.pdf.Rect(r.X, r.Y, r.W, r.H, "D")
		}
	}
}

func (d *Document) width(w float64) {
	if w = lineWidth(w); w != d.line {
		d.pdf.SetLineWidth(w)
		d.line = w
	}
}

// Write finishes the document.
func (d *Document) Write(w io.Writer) error {
	if err := d.pdf.Output(w); err != nil {
		return fmt.Errorf("paper: %w", err)
	}
	return nil
}
