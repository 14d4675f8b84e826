package paper

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// run runs a tool on a PDF; without the tool the test is skipped, and fails where
// everything must be there.
func run(t *testing.T, pdf []byte, tool string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		if os.Getenv("DUNLIN_CI") == "1" {
			t.Fatalf("%s is missing: install poppler-utils and qpdf", tool)
		}
		t.Skipf("%s is missing", tool)
	}
	file := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	args = append(args, file)
	if tool == "pdftotext" {
		args = append(args, "-")
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", tool, err, out)
	}
	return out
}

// alphabets are sheets with each alphabet that can be set, accents on letters, rulings
// and bars.
func alphabets(t testing.TB) []Sheet {
	f := NewFlow(A4, 50)
	for _, text := range []string{"Parent or guardian, O’Brien-Müller", "Đặng Thị Hương, Nguyễn", "Юлия Щукина, Їжакевич", "Ελένη Ξένου, Ϊων", "Łukasz Żółć", "µL, mg, ½, №, €, …"} {
		f.Para(Style{12, false}, text)
		f.Para(Style{13, true}, text)
	}
	if _, err := f.Sheet().Code(50, 500, 20, "7KQ294XFQ"); err != nil {
		t.Fatal(err)
	}
	f.Sheet().Fill(50, 550, 100, 30, 0.2)
	return append(f.Sheets(), sample().Sheets()...)
}

func streamed(t testing.TB, sheets []Sheet) []byte {
	t.Helper()
	var b bytes.Buffer
	s := NewStream(&b, Info{Title: "Carta nº 1", Language: "es", On: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)})
	for i := range sheets {
		if err := s.Add(A4, "es", sheets[i:i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Two writers that know nothing of each other print the same: the one for documents of
// any length, and the PDF library.
func TestStreamPrintsAsTheLibraryDoes(t *testing.T) {
	sheets := alphabets(t)
	ours := streamed(t, sheets)
	var theirs bytes.Buffer
	if err := Write(&theirs, Info{Title: "Carta nº 1", Language: "es", Size: A4}, sheets); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-raw", "-enc", "UTF-8"}, {"-layout", "-enc", "UTF-8"}} {
		a, b := run(t, ours, "pdftotext", args...), run(t, theirs.Bytes(), "pdftotext", args...)
		if !bytes.Equal(a, b) || !strings.Contains(string(a), "Đặng Thị Hương") {
			t.Errorf("%v: the texts differ:\n%s\n%s", args, a, b)
		}
	}
	for page := range sheets {
		n := fmt.Sprint(page + 1)
		a := run(t, ours, "pdftoppm", "-r", "60", "-gray", "-f", n, "-l", n, "-singlefile")
		b := run(t, theirs.Bytes(), "pdftoppm", "-r", "60", "-gray", "-f", n, "-l", n, "-singlefile")
		if len(a) != len(b) {
			t.Fatalf("sheet %s: pictures of %d and %d bytes", n, len(a), len(b))
		}
		far := 0
		for i := range a {
			if d := int(a[i]) - int(b[i]); d > 60 || d < -60 {
				far++
			}
		}
		if far > len(a)/2000 { // rounding of coordinates moves edges a little
			t.Errorf("sheet %s: %d of %d dots differ", n, far, len(a))
		}
	}
}

func TestStreamIsWellFormedAndTheSameAgain(t *testing.T) {
	pdf := streamed(t, alphabets(t))
	if !bytes.Equal(pdf, streamed(t, alphabets(t))) {
		t.Error("other bytes the second time")
	}
	if info := string(run(t, pdf, "pdftotext", "-bbox")); !strings.Contains(info, "<title>Carta nº 1</title>") {
		t.Errorf("no title: %.200s", info)
	}
	if fonts := string(run(t, pdf, "pdffonts")); strings.Count(fonts, "CID TrueType") != 2 || strings.Count(fonts, "yes yes yes") != 2 {
		t.Errorf("fonts must be embedded, cut down and with their characters:\n%s", fonts)
	}
	if out := string(run(t, pdf, "qpdf", "--check")); !strings.Contains(out, "No syntax or stream encoding errors") {
		t.Error(out)
	}
}

func TestStreamOfNothingIsADocument(t *testing.T) {
	if out := string(run(t, streamed(t, nil), "pdfinfo")); !strings.Contains(out, "Pages:           1") {
		t.Error(out)
	}
}

type failing struct{ after int }

func (f *failing) Write(b []byte) (int, error) {
	if f.after -= len(b); f.after < 0 {
		return 0, errors.New("the disk is full")
	}
	return len(b), nil
}

func TestStreamReportsAWriteThatFails(t *testing.T) {
	for _, after := range []int{0, 100, 5000} {
		s := NewStream(&failing{after}, Info{Title: "x"})
		s.Add(A4, "", sample().Sheets())
		if err := s.Close(); err == nil || !strings.Contains(err.Error(), "disk is full") {
			t.Errorf("after %d bytes: %v", after, err)
		}
	}
}

func TestSubsetHoldsWhatGlyphsAreMadeOf(t *testing.T) {
	f := faceOf(Style{})
	file, err := subset(regularTTF, []int{int(f.glyphs['Ế'])})
	if err != nil {
		t.Fatal(err)
	}
	if len(file) > 60_000 {
		t.Errorf("a subset of one letter has %d bytes", len(file))
	}
	loca := tableOf(file, "loca")
	for _, r := range "Ế" {
		if g := int(f.glyphs[r]); u32(loca, 4*g) == u32(loca, 4*g+4) {
			t.Errorf("%q has no outline", r)
		}
	}
	if g := int(f.glyphs['x']); u32(loca, 4*g) != u32(loca, 4*g+4) {
		t.Error("x was kept, and nobody wants it")
	}
	if _, err := subset(regularTTF[:3000], []int{40}); err == nil {
		t.Error("a font cut off was taken")
	}
}

// BenchmarkStream measures what stays in memory: the figure must not grow with sheets.
func BenchmarkStream(b *testing.B) {
	sheets := sample().Sheets()
	for _, n := range []int{100, 1000, 10000} {
		b.Run(fmt.Sprint(n, " sheets"), func(b *testing.B) {
			for b.Loop() {
				s := NewStream(io.Discard, Info{})
				for i := range n {
					s.Add(USLetter, "", sheets[i%len(sheets):i%len(sheets)+1])
				}
				runtime.GC()
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				b.ReportMetric(float64(m.HeapAlloc)/1e6, "MB-live")
				s.Close()
			}
		})
	}
}
