package paper

import (
	"math"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
)

// Letters that were made before can be set again only with the same fonts.
func TestFontsAreTheOnesOnRecord(t *testing.T) {
	for name, want := range map[string]string{
		sumOf(regularTTF): "fe8c022f48d8dd29f17b744d16f9346f4357e16f7d4f7be58b000ae7c291b614",
		sumOf(boldTTF):    "13a813c49624ae3ba3c5c6e72c5ebffc4b9e1e6ea32f421c04069b037c6ad431",
	} {
		if name != want {
			t.Errorf("SHA-256 of a font is %s, want %s", name, want)
		}
	}
}

// Our widths against the PDF library's own reading of the same file.
func TestWidthsAgreeWithThePDFLibrary(t *testing.T) {
	f, err := faces()
	if err != nil {
		t.Fatal(err)
	}
	pdf := fpdf.New("P", "pt", "Letter", "")
	pdf.AddUTF8FontFromBytes("noto", "", regularTTF)
	pdf.AddUTF8FontFromBytes("noto", "B", boldTTF)
	for i, style := range []string{"", "B"} {
		pdf.SetFont("noto", style, 12)
		for _, text := range []string{"Parent or guardian", "Ångström Øvrebø-Ťažký", "Đặng Thị Hương", "Юлия Щукина", "Νίκος", "• “ ” ’ – 0123456789"} {
			if got, want := f[i].width(text, 12), pdf.GetStringWidth(text); math.Abs(got-want) > 0.15 {
				t.Errorf("%q %q: %.2f pt, the library says %.2f", style, text, got, want)
			}
		}
	}
	n := 0
	for r := range rune(plane) {
		if f[0].has(r) {
			n++
		}
	}
	if n < 2500 {
		t.Errorf("only %d characters read from the font", n)
	}
}

func TestCheckRefusesWhatCannotBeSet(t *testing.T) {
	f, err := faces()
	if err != nil {
		t.Fatal(err)
	}
	for _, ok := range []string{"", "O’Brien-Müller", "Đặng Thị Hương", "Nguyễn", "Łukasz Żółć", "Юлия", "Ελένη", "Jean‑Luc", "N.º 5 ½"} {
		if err := f[0].check(ok); err != nil {
			t.Errorf("%q refused: %v", ok, err)
		}
	}
	for text, want := range map[string]string{
		"Zoe\u0308":       "accent stands apart",
		"A\u200bda":       "invisible character",
		"Ada\u202egnirt":  "invisible character",
		"Ada\x00":         "invisible character",
		"A\nB":            "invisible character",
		"عائشة":           "(Arabic)",
		"王":               "(Han)",
		"\u0928":          "(Devanagari)",
		"שרה":             "(Hebrew)",
		"ნინო":            "(Georgian)",
		"አበበ":             "(Ethiopic)",
		"A\ufffdda":       "was lost",
		"Ada \U0001F426":  "has no",
		"\u20bf is money": "", // in the font: refused only if it is not
	} {
		err := f[0].check(text)
		if want == "" {
			if has := f[0].has('\u20bf'); has != (err == nil) {
				t.Errorf("%q: err = %v, in the font: %v", text, err, has)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: err = %v, want %q", text, err, want)
		}
	}
}

func TestReadFaceRefusesACutFile(t *testing.T) {
	for _, n := range []int{0, 3, 12, 400, 20000} {
		if _, err := readFace(regularTTF[:n]); err == nil {
			t.Errorf("a font of %d bytes was read", n)
		}
	}
}
