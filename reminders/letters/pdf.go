package letters

import (
	"fmt"
	"io"
	"time"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"

	"dunlin/cases"
)

// WritePDF sets the letter as a PDF of its own. The same letter gives the same bytes.
func (l *Letter) WritePDF(w io.Writer) error {
	sheets, err := l.sheets()
	if err != nil {
		return err
	}
	d := newDocument(l.Envelope, l.MadeOn, l.Title+", letter "+l.Number, l.Language)
	d.add(sheets)
	return d.write(w)
}

// document is a PDF in the making: US English unless a letter says otherwise, both
// dates fixed, objects in a fixed order, fonts cut to what is used.
type document struct {
	pdf   *fpdf.Fpdf
	sheet fpdf.SizeType
}

func newDocument(env Profile, on cases.Day, title, language string) *document {
	size := fpdf.SizeType{Wd: env.Width * inch, Ht: env.Height * inch}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: size})
	day := on.Time()
	if on == 0 {
		day = time.Unix(0, 0).UTC()
	}
	pdf.SetCreationDate(day)
	pdf.SetModificationDate(day)
	pdf.SetCatalogSort(true)
	pdf.SetProducer("Dunlin", true)
	pdf.SetTitle(title, true)
	if language == "en" {
		language = "en-US"
	}
	pdf.SetLang(language)
	pdf.SetDisplayMode("fullpage", "SinglePage")
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetLineWidth(0.5)
	pdf.AddUTF8FontFromBytes("noto", "", regularTTF)
	pdf.AddUTF8FontFromBytes("noto", "B", boldTTF)
	return &document{pdf, size}
}

func (d *document) add(sheets []sheet) {
	for _, s := range sheets {
		d.pdf.AddPageFormat("P", d.sheet)
		for _, y := range s.Folds {
			d.pdf.Line(0.15*inch, y, 0.35*inch, y)
		}
		for _, m := range s.Marks {
			style := ""
			if m.Bold {
				style = "B"
			}
			d.pdf.SetFont("noto", style, m.Size)
			d.pdf.Text(m.X, m.Y, m.Text)
		}
	}
}

func (d *document) write(w io.Writer) error {
	if err := d.pdf.Output(w); err != nil {
		return fmt.Errorf("letters: %w", err)
	}
	return nil
}

func lastRune(s string) (rune, int) { return utf8.DecodeLastRuneInString(s) }
