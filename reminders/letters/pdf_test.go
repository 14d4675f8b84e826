package letters

import (
	"bytes"
	"encoding/xml"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/paper"
)

var kinds = []string{cases.LetterFirstNotice, cases.LetterBooking}

func TestSameLetterGivesTheSameBytesAgain(t *testing.T) {
	for _, kind := range kinds {
		l := mustCompose(t, ada(), kind, adaToday)
		first := pdfOf(t, l)
		rec, err := l.Record("01J00000000000000000000ADA")
		if err != nil {
			t.Fatal(err)
		}
		rec.Number = l.Number
		for range 3 { // as years later: from the kept data alone
			again, err := Decode(rec)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(pdfOf(t, again), first) {
				t.Fatalf("%s: other bytes than before", kind)
			}
		}
	}
}

func TestDecodeRefusesAnotherFormatAndOtherFonts(t *testing.T) {
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	l.Source.Fonts = []string{"a", "b"}
	if err := l.WritePDF(io.Discard); err == nil || !strings.Contains(err.Error(), "other fonts") {
		t.Errorf("err = %v", err)
	}
	for _, data := range []string{`{"format":"dunlin-letter/9"}`, `{`} {
		if _, err := Decode(cases.Letter{Number: "7KQ294XF", Data: []byte(data)}); err == nil || !strings.Contains(err.Error(), "7KQ294XF") {
			t.Errorf("%s: err = %v", data, err)
		}
	}
}

func TestPDFSaysItsLanguageAndTitle(t *testing.T) {
	pdf := pdfOf(t, mustCompose(t, ada(), cases.LetterBooking, adaToday))
	if !bytes.Contains(pdf, []byte("/Lang (en-US)")) {
		t.Error("the document has no language")
	}
	info := string(poppler(t, pdf, "pdftotext", "-bbox"))
	if !strings.Contains(info, "<title>Your baby’s sweat test, letter 7KQ294XF</title>") {
		t.Errorf("title not found in %.300s", info)
	}
	if !bytes.Contains(pdf, []byte("/CreationDate (D:20260310000000)")) || !bytes.Contains(pdf, []byte("/ModDate (D:20260310000000)")) {
		t.Error("the dates are not the letter's")
	}
}

// What a screen reader or a search finds: every block, in order.
func TestTextCanBeTakenOutInReadingOrder(t *testing.T) {
	for _, kind := range kinds {
		l := mustCompose(t, ada(), kind, adaToday)
		text := flat(string(poppler(t, pdfOf(t, l), "pdftotext", "-raw", "-enc", "UTF-8")))
		at := 0
		for _, b := range l.Blocks {
			i := strings.Index(text[at:], flat(b.Text))
			if i < 0 {
				// A block may run over the foot of a sheet.
				first, rest, _ := strings.Cut(text[at:], flat("Letter "+l.Number))
				if !strings.Contains(flat(first+rest), flat(b.Text)) {
					t.Errorf("%s: %q is not in the text, or out of order", kind, b.Text)
				}
				continue
			}
			at += i
		}
	}
}

// Names are text and nothing else: no markup, no PDF syntax, no field.
func TestOddNamesAreSetAsTheyAre(t *testing.T) {
	for _, name := range []string{`<script>alert(1)</script>`, `O'Br(ien) \)`, "Ċač Čeňa", "{phone}", "## Ada", "%PDF-1.3", "endstream endobj"} {
		c := ada()
		c.Infant.Given = name
		l := mustCompose(t, c, cases.LetterFirstNotice, adaToday)
		text := flat(string(poppler(t, pdfOf(t, l), "pdftotext", "-raw", "-enc", "UTF-8")))
		if want := "Dear parent or guardian of " + flat(name) + " Wren,"; !strings.Contains(text, want) {
			t.Errorf("%q is not in %.500s", want, text)
		}
	}
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// word is a word of pdftotext -bbox, in points.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

func firstPageWords(t *testing.T, pdf []byte) []word {
	t.Helper()
	var doc struct {
		Pages []struct {
			Words []word `xml:"word"`
		} `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(bytes.NewReader(poppler(t, pdf, "pdftotext", "-bbox")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&doc); err != nil || len(doc.Pages) == 0 {
		t.Fatalf("%d pages, %v", len(doc.Pages), err)
	}
	return doc.Pages[0].Words
}

// addresses that are hard to fit: long, accented, four lines.
func hardAddresses() map[string]cases.Guardian {
	return map[string]cases.Guardian{
		"short":    {Family: "Wu", Address: address("1 A St")},
		"accented": {Family: "Ångström-Øvrebø", Address: &cases.Address{Lines: []string{"Ça Ñuñoa Ếcole Ÿ 14", "Ånden ǼÉÈ gjpqy"}, City: "Žďár ǗỆ", Region: "WA", Postal: "98999"}},
		"long": {Family: "Featheringstonehaugh-Montgomery", Address: &cases.Address{
			Lines: []string{"12345 Old Lighthouse Keeper Road Northwest", "Building 12, Apartment 3B, Rear Entrance"}, City: "Upper Alder Bay Junction", Region: "WA", Postal: "98999-0123"}},
		"three streets": {Family: "Wren", Address: address("c/o Heron", "14 Curlew Lane", "Unit 7")},
	}
}

func TestFoldTicksAreWhereTheProfileSays(t *testing.T) {
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	sheets, err := l.sheets()
	if err != nil {
		t.Fatal(err)
	}
	var folds []float64
	for _, l := range sheets[0].Lines {
		folds = append(folds, l.Y1)
	}
	if want := []float64{4.0 * inch, 7.5 * inch}; !slices.Equal(folds, want) {
		t.Errorf("folds at %v, want %v", folds, want)
	}
	for _, s := range sheets[1:] {
		if len(s.Lines) > 0 {
			t.Error("ticks on a further sheet")
		}
	}
}

func TestLinesStayOnTheSheet(t *testing.T) {
	c := ada()
	c.Infant.Given, c.Infant.Family = "Maximiliana-Theodora", "Featheringstonehaugh-Montgomery"
	p := alderBay()
	p.Hours = strings.Repeat("Mondayandtuesdayandwednesday", 6)
	l, err := compose(t, c, cases.LetterBooking, adaToday, p)
	if err != nil {
		t.Fatal(err)
	}
	sheets, err := l.sheets()
	if err != nil {
		t.Fatal(err)
	}
	for n, s := range sheets {
		for _, m := range s.Texts {
			if right := m.X + paper.Width(m.Text, m.Style); right > 8.1*inch || m.Y > 10.6*inch || m.Y < 0.5*inch || m.X < 0.5*inch {
				t.Errorf("sheet %d: %q at %.0f,%.0f runs to %.0f", n+1, m.Text, m.X, m.Y, right)
			}
		}
	}
}

func TestPrintRunSetsAsideWhatCannotBeSet(t *testing.T) {
	good, twin := mustCompose(t, ada(), cases.LetterBooking, adaToday), mustCompose(t, ada(), cases.LetterFirstNotice, adaToday)
	twin.Number = "3MN25ABC"
	bad := good
	bad.Number, bad.Address = "BAD22222", []string{"Parent or guardian", "عائشة", "Alder Bay"}
	run := PrintRun{Name: "2026-03-10 a", On: adaToday, Program: "Alder Bay Screening Follow-up", Letters: []Letter{good, bad, twin},
		SetAside: []SetAside{{Reference: "AB-2026-0077", Kind: cases.LetterBooking, Reason: "no address is on record"}}}
	var b, again bytes.Buffer
	count, err := run.WritePDF(&b)
	if err != nil {
		t.Fatal(err)
	}
	if count.Letters != 2 || count.Sheets != 4 || len(count.SetAside) != 2 {
		t.Errorf("count %+v", count)
	}
	if _, err := run.WritePDF(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("other bytes the second time, err %v", err)
	}
	pages := strings.Split(string(poppler(t, b.Bytes(), "pdftotext", "-layout", "-enc", "UTF-8")), "\f")
	if len(pages) != 1+4+1 { // count sheet, four sheets, and the end
		t.Fatalf("%d pages", len(pages)-1)
	}
	sheet := flat(pages[0])
	for _, want := range []string{"2 letters on 4 sheets", "Print on one side only", "1 7KQ294XF appointment 2", "2 3MN25ABC first notice 2",
		"Not in this run: 2 letters", "AB-2026-0077, appointment: no address is on record.", "BAD22222, appointment: the address line"} {
		if !strings.Contains(sheet, want) {
			t.Errorf("the count sheet does not say %q: %s", want, sheet)
		}
	}
	// The count sheet lies about in the office: it names no family.
	for _, never := range []string{"Wren", "Ada", "Curlew"} {
		if regexp.MustCompile(`\b` + never + `\b`).MatchString(sheet) {
			t.Errorf("the count sheet names %q", never)
		}
	}
	if !strings.Contains(pages[1], "Letter 7KQ294XF, page 1 of 2") || !strings.Contains(pages[3], "Letter 3MN25ABC, page 1 of 2") {
		t.Error("the letters do not stand in the order of the run")
	}
}

func TestEmptyRunIsACountSheet(t *testing.T) {
	var b bytes.Buffer
	count, err := PrintRun{Name: "x", On: adaToday}.WritePDF(&b)
	if err != nil || count.Letters != 0 || b.Len() == 0 {
		t.Errorf("count %+v, %d bytes, err %v", count, b.Len(), err)
	}
}

func TestEnvelopeTestSheet(t *testing.T) {
	var b bytes.Buffer
	if err := No10().WriteTestSheet(&b); err != nil {
		t.Fatal(err)
	}
	if text := string(poppler(t, b.Bytes(), "pdftotext")); !strings.Contains(text, "Fold at the ticks") {
		t.Errorf("the sheet says %q", text)
	}
	p := No10()
	p.Folds = []float64{3.0}
	if err := p.WriteTestSheet(io.Discard); err == nil {
		t.Error("a fold through the window was taken")
	}
}

func BenchmarkLetterPDF(b *testing.B) {
	l := mustCompose(b, ada(), cases.LetterBooking, adaToday)
	b.ReportAllocs()
	for b.Loop() {
		if err := l.WritePDF(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompose(b *testing.B) {
	c, p, texts := ada(), alderBay(), allTexts(b)
	a := cases.DefaultProtocol().Assess(c, adaToday)
	for b.Loop() {
		if _, err := Compose(c, &a, a.LettersDue[0], texts, p); err != nil {
			b.Fatal(err)
		}
	}
}

// Two people may print at once: the embedded fonts are shared and never written to.
func TestManyMayPrintAtOnce(t *testing.T) {
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	want := pdfOf(t, l)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			var b bytes.Buffer
			if err := l.WritePDF(&b); err != nil || !bytes.Equal(b.Bytes(), want) {
				t.Errorf("other bytes, err %v", err)
			}
		})
	}
	all.Wait()
}
