package paper

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"strconv"
	"unicode/utf16"
)

// Stream writes a PDF sheet by sheet, for documents of any length: in memory are one
// sheet, the fonts, and sixteen bytes for each sheet that was written. The same sheets
// give the same bytes. Layout of the file: ISO 32000-1.
type Stream struct {
	w       io.Writer
	at      int64
	offsets []int64 // of each object, by number
	info    Info
	used    [2]map[rune]bool // characters set in regular and in bold
	content bytes.Buffer
	packed  bytes.Buffer
	zip     *zlib.Writer
	err     error
}

// Numbers of the objects that are the same in each document; sheets follow, two
// objects each.
const (
	objCatalog = iota + 1
	objPages
	objInfo
	objFonts                         // six for each font
	objSheets = objFonts + 2*perFont // the first
	perFont   = 6
)

// NewStream begins a document on w.
func NewStream(w io.Writer, info Info) *Stream {
	s := &Stream{w: w, info: info.filled(), offsets: make([]int64, objSheets), used: [2]map[rune]bool{{}, {}}}
	s.zip, _ = zlib.NewWriterLevel(&s.packed, zlib.BestSpeed)
	s.print("%%PDF-1.5\n%%\xe2\xe3\xcf\xd3\n")
	return s
}

func (s *Stream) print(format string, a ...any) { s.bytes(fmt.Appendf(nil, format, a...)) }

func (s *Stream) bytes(b []byte) {
	if s.err != nil {
		return
	}
	n, err := s.w.Write(b)
	s.at, s.err = s.at+int64(n), err
}

// object writes one object by its number.
func (s *Stream) object(number int, format string, a ...any) {
	s.offsets[number] = s.at
	s.print("%d 0 obj\n", number)
	s.print(format, a...)
	s.print("\nendobj\n")
}

// packedObject writes a stream object, compressed.
func (s *Stream) packedObject(number int, data []byte, more string) {
	s.packed.Reset()
	s.zip.Reset(&s.packed)
	if _, err := s.zip.Write(data); err != nil && s.err == nil {
		s.err = err
	}
	if err := s.zip.Close(); err != nil && s.err == nil {
		s.err = err
	}
	s.offsets[number] = s.at
	s.print("%d 0 obj\n<</Filter /FlateDecode /Length %d%s>>\nstream\n", number, s.packed.Len(), more)
	s.bytes(s.packed.Bytes())
	s.print("\nendstream\nendobj\n")
}

// Add writes sheets of a size in a language; "" is the document's.
func (s *Stream) Add(size Size, language string, sheets []Sheet) error {
	for i := range sheets {
		number := len(s.offsets)
		s.offsets = append(s.offsets, 0, 0)
		s.draw(size, tagOf(language), &sheets[i])
		s.object(number, "<</Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /Resources <</Font <</F0 %d 0 R /F1 %d 0 R>>>> /Contents %d 0 R>>",
			objPages, decimal(size.Width), decimal(size.Height), objFonts, objFonts+perFont, number+1)
		s.packedObject(number+1, s.content.Bytes(), "")
	}
	return s.err
}

// draw makes the content of a sheet.
func (s *Stream) draw(size Size, language string, sheet *Sheet) {
	c := &s.content
	c.Reset()
	marked := language != "" && language != s.info.Language
	if marked {
		fmt.Fprintf(c, "/Span <</Lang %s>> BDC\n", textString(language))
	}
	for _, r := range sheet.Rects {
		box := decimal(r.X) + " " + decimal(size.Height-r.Y-r.H) + " " + decimal(r.W) + " " + decimal(r.H) + " re "
		if r.Gray > 0 {
			c.WriteString(decimal(1-min(r.Gray, 1)) + " g " + box + "f 0 g\n")
		}
		if r.Width > 0 {
			c.WriteString(decimal(r.Width) + " w " + box + "S\n")
		}
	}
	for _, l := range sheet.Lines {
		fmt.Fprintf(c, "%s w %s %s m %s %s l S\n", decimal(lineWidth(l.Width)), decimal(l.X1), decimal(size.Height-l.Y1), decimal(l.X2), decimal(size.Height-l.Y2))
	}
	for _, t := range sheet.Texts {
		face := 0
		if t.Bold {
			face = 1
		}
		c.WriteString("BT /F" + strconv.Itoa(face) + " " + decimal(t.Size) + " Tf " + decimal(t.X) + " " + decimal(size.Height-t.Y) + " Td <")
		for _, unit := range utf16.Encode([]rune(t.Text)) {
			s.used[face][rune(unit)] = true
			hex4(c, unit)
		}
		c.WriteString("> Tj ET\n")
	}
	if marked {
		c.WriteString("EMC\n")
	}
}

// Close finishes the document; one without sheets gets an empty one, as a PDF must have
// one. The writer beneath stays open.
func (s *Stream) Close() error {
	if len(s.offsets) == objSheets {
		s.Add(s.info.Size, "", []Sheet{{}})
	}
	for i, ttf := range [][]byte{regularTTF, boldTTF} {
		s.font(objFonts+i*perFont, ttf, i == 1)
	}
	sheets := (len(s.offsets) - objSheets) / 2
	s.object(objCatalog, "<</Type /Catalog /Pages %d 0 R /Lang %s /PageMode /UseNone /ViewerPreferences <</DisplayDocTitle true>>>>", objPages, textString(s.info.Language))
	day := s.info.On.Format("20060102150405") + "Z"
	s.object(objInfo, "<</Title %s /Producer (Dunlin) /CreationDate (D:%s) /ModDate (D:%s)>>", textString(s.info.Title), day, day)
	s.offsets[objPages] = s.at
	s.print("%d 0 obj\n<</Type /Pages /Count %d /Kids [", objPages, sheets)
	for i := range sheets {
		s.print("%d 0 R\n", objSheets+2*i)
	}
	s.print("]>>\nendobj\n")
	xref := s.at
	s.print("xref\n0 %d\n0000000000 65535 f \n", len(s.offsets))
	for _, at := range s.offsets[1:] {
		s.print("%010d 00000 n \n", at)
	}
	s.print("trailer\n<</Size %d /Root %d 0 R /Info %d 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(s.offsets), objCatalog, objInfo, xref)
	return s.err
}
