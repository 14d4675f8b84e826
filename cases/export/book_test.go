package export

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"dunlin/cases"
)

func written(t testing.TB, b *Book, format, table string) []byte {
	t.Helper()
	var out bytes.Buffer
	if _, err := b.Write(&out, format, table); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func payloadBook() *Book {
	return &Book{Title: "=1+1", About: []Pair{{"=1+1", "@SUM(1)"}}, Tables: []Table{textTable("texts", append(append([]string{}, payloads...), harmless...)...)}}
}

// TestWorkbookReadsBack: every text comes back as text, letter by letter; numbers
// and days come back as such.
func TestWorkbookReadsBack(t *testing.T) {
	b := payloadBook()
	b.Tables = append(b.Tables, Table{Name: "kinds", Columns: make([]Column, 5), Rows: func(add func([]Value) error) error {
		return add([]Value{Int(-5), Num(0.25), Date(day(t, "2026-03-05")), Hidden, {}})
	}})
	for i := range b.Tables[1].Columns {
		b.Tables[1].Columns[i].Key = fmt.Sprint("k", i)
	}
	f, err := excelize.OpenReader(bytes.NewReader(written(t, b, XLSX, "")))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("texts")
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range append(append([]string{}, payloads...), harmless...) {
		cell := fmt.Sprint("A", i+2)
		if kind, err := f.GetCellType("texts", cell); err != nil || kind != excelize.CellTypeInlineString && kind != excelize.CellTypeSharedString {
			t.Errorf("%q is a cell of type %v, %v", s, kind, err)
		}
		if formula, err := f.GetCellFormula("texts", cell); err != nil || formula != "" {
			t.Errorf("%q is the formula %q, %v", s, formula, err)
		}
		if rows[i+1][0] != clean(s) {
			t.Errorf("%q came back as %q", clean(s), rows[i+1][0])
		}
	}
	kinds, err := f.GetRows("kinds")
	if err != nil || len(kinds) != 2 || strings.Join(kinds[1], "|") != "-5|0.25|2026-03-05|hidden" {
		t.Errorf("kinds came back as %q, %v", kinds, err)
	}
	if v, err := f.GetCellValue("kinds", "C2", excelize.Options{RawCellValue: true}); err != nil || v != "46086" { // days after 30 December 1899: 46023 for 1 January 2026, and 63 more
		t.Errorf("the day is kept as %q, %v", v, err)
	}
}

// TestCSVFiles: the ZIP holds one file for each table with the dictionary and the
// page about it, and each reads back.
func TestCSVFiles(t *testing.T) {
	b := payloadBook()
	data := written(t, b, ZIP, "")
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll(); err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows, %v", f.Name, len(rows), err)
		}
	}
	if got := strings.Join(names, " "); got != "texts.csv dictionary.csv about.csv" {
		t.Errorf("files: %s", got)
	}
	if !bytes.Equal(data, written(t, b, ZIP, "")) {
		t.Error("the same tables give other bytes")
	}
	if _, err := b.Write(io.Discard, CSV, "none"); cases.KindOf(err) != cases.Invalid {
		t.Errorf("an unknown table: %v", err)
	}
	if n, err := b.Write(io.Discard, ZIP, ""); err != nil || n != len(payloads)+len(harmless) {
		t.Errorf("%d rows are counted, %v", n, err)
	}
}

// calc finds LibreOffice with its spreadsheet part.
func calc() (string, error) {
	office, err := exec.LookPath("soffice")
	if err != nil {
		return "", err
	}
	if office, err = filepath.EvalSymlinks(office); err != nil {
		return "", err
	}
	_, err = os.Stat(filepath.Join(filepath.Dir(office), "libsclo.so"))
	return office, err
}

var formulaCell = regexp.MustCompile(`table:formula="[^"]*"`)

// TestLibreOfficeCalculatesNothing opens both formats as a person would, with the
// separators that people choose, and looks for a cell that became a formula.
//
//asvs:1.2.10
func TestLibreOfficeCalculatesNothing(t *testing.T) {
	office, err := calc()
	if err != nil {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("LibreOffice Calc is not installed, and this run must skip nothing")
		}
		t.Skip("LibreOffice Calc is not installed: how a spreadsheet reads the files is not tried")
	}
	dir := t.TempDir()
	b := payloadBook()
	put := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("book.xlsx", written(t, b, XLSX, ""))
	put("comma.csv", written(t, b, CSV, "texts"))
	put("bare.csv", []byte("a,b\r\n=1+1,x\r\n"))
	convert := func(filter, name string) string {
		args := []string{"-env:UserInstallation=file://" + dir + "/profile", "--headless", "--convert-to", "fods", "--outdir", dir}
		if filter != "" {
			args = append(args, "--infilter="+filter)
		}
		if out, err := exec.Command(office, append(args, filepath.Join(dir, name))...).CombinedOutput(); err != nil {
			t.Fatalf("%s: %v %s", name, err, out)
		}
		data, err := os.ReadFile(filepath.Join(dir, strings.TrimSuffix(name, filepath.Ext(name))+".fods"))
		if err != nil {
			t.Fatalf("LibreOffice opened nothing of it: %v", err)
		}
		return string(data)
	}
	const csvFilter = "Text - txt - csv (StarCalc):%s,34,76,1,,0,false,true,false,false,false,-1,true"
	if !formulaCell.MatchString(convert(fmt.Sprintf(csvFilter, "44"), "bare.csv")) {
		t.Error("a bare formula was not found either: this test sees nothing")
	}
	for _, c := range []struct{ filter, name string }{{"", "book.xlsx"}, {fmt.Sprintf(csvFilter, "44"), "comma.csv"}, {fmt.Sprintf(csvFilter, "59"), "comma.csv"}, {fmt.Sprintf(csvFilter, "44/59/9"), "comma.csv"}} {
		data := convert(c.filter, c.name)
		if found := formulaCell.FindAllString(data, -1); len(found) > 0 {
			t.Errorf("%s %s: formulas %q", c.name, c.filter, found)
		}
		if !strings.Contains(data, "SUM(1+1)") {
			t.Errorf("%s: the texts are not in it", c.name)
		}
	}
}

func day(t testing.TB, s string) cases.Day {
	t.Helper()
	d, err := cases.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
