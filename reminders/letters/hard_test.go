package letters

import (
	"encoding/json"
	"io"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/reminders/paper"
)

// signs are what names and addresses are made of in the tests: alphabets that can be
// set and that cannot, markup, fields, marks of PDF, controls, marks of direction,
// separate accents, and bytes that are no text.
var signs = []string{"a", "Be", "ñ", "Ế", "ữ", "Щ", "ї", "Ω", "ΐ", "e\u0301", "q\u0308", "'", "’", "-", "‑", " ", "  ", "\u00a0", "\n", "\t", "\r", "\x00", "\x7f",
	"<b>", "&amp;", "{infant}", "{{.Name}}", "## ", "! ", "- ", "> ", "%PDF", "(", ")", "\\", "endstream", "\u200e", "\u200f", "\u202e", "\u2066", "\u2069", "\u200b", "\u00ad",
	"\ufeff", "\ufffd", "\xff", "ع", "ש", "王", "न", "\U0001F426", "\U0001F468\u200d\U0001F469", "ﬁ", "№", "½", strings.Repeat("W", 30)}

func hardText(most int) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		if rapid.IntRange(0, 2).Draw(t, "plain") > 0 { // most values are what people write
			return rapid.SampledFrom([]string{"Ada", "María José", "García Núñez", "O'Brien-Müller", "14 Curlew Lane", "Apt. 3", "PO Box 118", "c/o Heron", "Łódź"}).Draw(t, "plain text")
		}
		return strings.Join(rapid.SliceOfN(rapid.SampledFrom(signs), 0, most).Draw(t, "signs"), "")
	})
}

// Whatever stands in the names and addresses: the letter is right, or it is refused in
// words; never blank, never broken, never beside the window.
func TestAnyNameAndAddressIsSetRightOrRefused(t *testing.T) {
	envelopes, texts := everyProfile(), allTexts(t)
	made, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c, p := full(), complete()
		p.Envelope = envelopes[rapid.SampledFrom(ProfileNames()).Draw(t, "envelope")]
		c.Infant.Given, c.Infant.Family = hardText(20).Draw(t, "given"), hardText(20).Draw(t, "family")
		c.Family.Language = rapid.SampledFrom([]string{"en", "es", "es-MX", "vi", "xx", "", "\x00"}).Draw(t, "language")
		g := &c.Family.Guardians[0]
		g.Family = hardText(10).Draw(t, "surname")
		g.Address = &cases.Address{Lines: rapid.SliceOfN(hardText(8), 0, 7).Draw(t, "lines"), City: hardText(5).Draw(t, "city"), Region: "WA", Postal: "98999"}
		a := cases.DefaultProtocol().Assess(c, adaToday)
		l, err := Compose(c, &a, cases.LetterDue{Kind: cases.LetterBooking, Occasion: "2026-03-18 09:30"}, texts, p)
		if err != nil {
			refused++
			if text := err.Error(); len(text) < 15 || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
				t.Fatalf("refused with %q", text)
			}
			return
		}
		made++
		checkLaidOut(t, &l)
		sheets, _ := l.sheets()
		var all strings.Builder
		for _, s := range sheets {
			for _, m := range s.Texts {
				all.WriteString(m.Text)
			}
		}
		bare := func(s string) string { return strings.Join(strings.Fields(paper.Tidy(s)), "") }
		if name := c.Infant.Given; bare(name) != "" && !strings.Contains(bare(all.String()), bare(name+c.Infant.Family)) {
			t.Fatalf("the name %q is not in %q", name, all.String())
		}
		if want, got := bare(strings.Join(g.Address.Lines, "")), bare(strings.ReplaceAll(strings.Join(l.Address, ""), ", ", "")); !strings.Contains(got, strings.ReplaceAll(want, ", ", "")) {
			t.Fatalf("the street %q is not in %q", want, l.Address)
		}
	})
	if made == 0 || refused == 0 {
		t.Errorf("%d made, %d refused: the test does not try both", made, refused)
	}
}

// Names and addresses by their trouble, with what must happen.
func TestHardNamesOneByOne(t *testing.T) {
	for _, tt := range []struct{ name, given, family, refused string }{
		{"apostrophe and hyphen", "D’Arcy-Lou", "O'Brien-Müller", ""},
		{"two surnames", "María José", "García Núñez", ""},
		{"sixty characters", "Maximiliana-Theodora Alexandrina", "Featheringstonehaugh-Montgomery", ""},
		{"sixty without a blank", strings.Repeat("Mw", 30), "", ""},
		{"accents written apart", "Zoe\u0308 Hu\u031bo\u031bng", "Nguye\u0302\u0303n", ""},
		{"marks of direction", "\u200fAda\u200e", "\u2066Wren\u2069", ""},
		{"turned around", "Ada\u202etrow", "Wren", "invisible character"},
		{"emoji", "Ada \U0001F426", "Wren", "has no"},
		{"joined emoji", "Ada \U0001F468\u200d\U0001F469", "Wren", "has no"},
		{"markup", "<script>alert(1)</script>", "&lt;", ""},
		{"template syntax", "{{.Secret}} {phone} {%raw%}", "${x}", ""},
		{"controls", "Ada\x07", "Wren", "invisible character"},
		{"Arabic", "عائشة", "", "(Arabic)"},
		{"Chinese", "王", "", "(Han)"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := ada()
			c.Infant.Given, c.Infant.Family = tt.given, tt.family
			l, err := compose(t, c, cases.LetterBooking, adaToday, alderBay())
			if tt.refused != "" {
				if err == nil || !strings.Contains(err.Error(), tt.refused) {
					t.Errorf("err = %v, want %q", err, tt.refused)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			l.Number = "7KQ294XF"
			text := strings.Join(strings.Fields(string(poppler(t, pdfOf(t, l), "pdftotext", "-raw", "-enc", "UTF-8"))), "")
			if want := strings.Join(strings.Fields(paper.Tidy(tt.given+tt.family)), ""); !strings.Contains(text, want) {
				t.Errorf("%q is not in the PDF", want)
			}
		})
	}
}

func TestSevenLinesOfAddress(t *testing.T) {
	g := cases.Guardian{Family: "Wren", Address: address("c/o Heron", "House 3", "Stair B", "Floor 2", "Door 14", "14 Curlew Lane", "Rear")}
	for name, env := range everyProfile() {
		c, p := ada(), alderBay()
		c.Family.Guardians[0], p.Envelope = g, env
		l, err := compose(t, c, cases.LetterBooking, adaToday, p)
		if name == "no10" {
			if err == nil || !strings.Contains(err.Error(), "too long for the window") {
				t.Errorf("%s: err = %v", name, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		checkLaidOut(t, &l)
	}
}

// FuzzKeptLetter: a kept letter that was damaged is refused or set, and never stops the
// program.
func FuzzKeptLetter(f *testing.F) {
	l := mustCompose(f, ada(), cases.LetterBooking, adaToday)
	f.Add([]byte(asJSON(f, l)))
	l.Envelope = DINC5()
	f.Add([]byte(asJSON(f, l)))
	l.Format = firstFormat
	f.Add([]byte(asJSON(f, l)))
	f.Fuzz(func(t *testing.T, data []byte) {
		if !json.Valid(data) || len(data) > 20_000 {
			return
		}
		l, err := Decode(cases.Letter{Number: "7KQ294XF", Data: data})
		if err != nil {
			return
		}
		count, err := PrintRun{Name: "x", Letters: []Letter{l}}.WritePDF(io.Discard)
		if err != nil || count.Letters+len(count.SetAside) != 1 {
			t.Errorf("%+v, %v", count, err)
		}
	})
}

func FuzzNumberOf(f *testing.F) {
	for _, s := range []string{"7KQ294XF", "7KQ294XFQ", "7kq2-94xf q", "", "ſſſſſſſſ", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		number, err := NumberOf(typed)
		if err != nil {
			return
		}
		if again, err := NumberOf(CodeOf(number)); err != nil || again != number {
			t.Errorf("%q gave %q, and its code %q, %v", typed, number, again, err)
		}
	})
}
