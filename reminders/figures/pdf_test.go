package figures

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/reminders/paper"
	"dunlin/templates"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew")

var on = time.Date(2026, 10, 27, 0, 0, 0, 0, time.UTC)

func pdf(t *testing.T, r *templates.YearReport, size Paper) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, r, "Printed 27 Oct 2026, 08:52, by Ines Okafor-Lund", on, size); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// read gives the text of each page.
func read(t *testing.T, file []byte) []string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("pdftotext is missing")
		}
		t.Skip("pdftotext is missing")
	}
	name := filepath.Join(t.TempDir(), "year.pdf")
	if err := os.WriteFile(name, file, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-enc", "UTF-8", name, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

// The text of the PDF is looked at as a golden file, small numbers hidden and in full,
// on both sizes of paper.
func TestThePDFReadsAsBefore(t *testing.T) {
	for _, x := range []struct {
		name  string
		below int
		size  Paper
	}{{"hidden-letter", 11, Papers[0]}, {"full-a4", 0, Papers[1]}} {
		r := Words(published(t, 240, x.below), about())
		got := strings.Join(read(t, pdf(t, r, x.size)), "\n=====\n")
		file := filepath.Join("testdata", x.name+".txt")
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
			t.Errorf("%s (-want +got; -update writes it anew):\n%s", x.name, d)
		}
	}
}

func TestTheSameReportGivesTheSameBytes(t *testing.T) {
	a, b := Words(published(t, 60, 11), about()), Words(published(t, 60, 11), about())
	if !bytes.Equal(pdf(t, a, Papers[0]), pdf(t, b, Papers[0])) {
		t.Error("two prints differ")
	}
}

// Everything that the report says stands on paper, and nothing runs over the edge.
func TestAllOfTheReportIsPrinted(t *testing.T) {
	r := Words(published(t, 240, 0), about())
	squeeze := func(s string) string { return strings.Join(strings.Fields(s), "") }
	text := ""
	for _, s := range sheets(r, "Printed today", paper.A4) {
		for _, x := range s.Texts {
			text += x.Text
			if right := x.X + paper.Width(x.Text, x.Style); right > paper.A4.Width-margin+1 {
				t.Errorf("%q ends at %.0f", x.Text, right)
			}
			if x.Y > paper.A4.Height-margin/2 {
				t.Errorf("%q stands at %.0f", x.Text, x.Y)
			}
		}
	}
	text = squeeze(text)
	// A sentence can be parted by a turn of the sheet, so that words are looked for.
	for _, says := range [][]string{r.Says, r.Cautions, r.How} {
		for _, sentence := range says {
			for _, word := range strings.Fields(sentence) {
				if !strings.Contains(text, word) {
					t.Errorf("%q is missing of %q", word, sentence)
				}
			}
		}
	}
	for _, s := range r.Sections {
		for _, tab := range s.Tables {
			for _, row := range tab.Rows {
				for _, cell := range row {
					for _, word := range strings.Fields(cell) {
						if !strings.Contains(text, word) {
							t.Errorf("%s, %s: %q is missing", s.Name, tab.Name, cell)
						}
					}
				}
			}
		}
	}
}

func TestFullFiguresAreMarkedOnEverySheet(t *testing.T) {
	full := Words(published(t, 240, 0), about())
	for i, page := range read(t, pdf(t, full, Papers[0])) {
		if strings.Count(page, "Not for release.") != 2 {
			t.Errorf("page %d is not marked on top and at its foot", i+1)
		}
	}
	for i, page := range read(t, pdf(t, Words(published(t, 240, 11), about()), Papers[0])) {
		if strings.Contains(page, "Not for release") || !strings.Contains(page, "Counts from 1 to 10 are hidden") {
			t.Errorf("page %d", i+1)
		}
	}
}

func TestAYearWithoutInfants(t *testing.T) {
	for n, want := range map[int]string{0: "No infant born in 2025 was referred", 3: "Fewer than 11 infants born in 2025"} {
		r := Words(published(t, n, 11), about())
		pages := read(t, pdf(t, r, Papers[0]))
		if !strings.Contains(pages[0], want) {
			t.Errorf("%d infants: %s", n, pages[0])
		}
	}
	if r := Words(published(t, 1, 0), about()); !strings.HasPrefix(r.Says[0], "1 infant born in 2025 was referred") {
		t.Error(r.Says)
	}
}
