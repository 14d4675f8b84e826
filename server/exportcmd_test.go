package main

import (
	"archive/zip"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestExportCommand writes each kind of file from a store of one case, and refuses
// what it must.
func TestExportCommand(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "program.db")
	raw, err := os.ReadFile("../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7")
	if err != nil {
		t.Fatal(err)
	}
	message := filepath.Join(dir, "message.hl7")
	if err := os.WriteFile(message, []byte(strings.Replace(string(raw), "|T|2.5.1", "|P|2.5.1", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, errs := call(t, "", "import", "--store", db, message); code != exitOK {
		t.Fatalf("import: code %d, %s %s", code, out, errs)
	}
	file := func(name string) string { return filepath.Join(dir, name) }
	for name, args := range map[string][]string{
		"rows.csv":    {"rows", "--which", "all", "--reason", "Handover"},
		"rates.csv":   {"figures", "--report", "rates"},
		"closure.zip": {"figures", "--from-milestone", "referral", "--group", "language"},
		"full.csv":    {"figures", "--full"},
		"ages.xlsx":   {"figures", "--report", "ages"},
	} {
		args = append(append([]string{"export"}, args...), "--store", db, "--out", file(name))
		if code, out, errs := call(t, "", args...); code != exitOK || !strings.Contains(out, "SHA-256") {
			t.Errorf("%v: code %d, %s %s", args, code, out, errs)
		}
		if info, err := os.Stat(file(name)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v", name, info, err)
		}
		if code, _, errs := call(t, "", args...); code != exitFailed || !strings.Contains(errs, "there already") {
			t.Errorf("%v over a file: code %d, %s", args, code, errs)
		}
	}
	rows := readCSV(t, file("rows.csv"))
	if len(rows) != 2 || rows[0][0] != "reference" {
		t.Errorf("rows: %q", rows)
	}
	figures, full := readCSV(t, file("rates.csv")), readCSV(t, file("full.csv"))
	if len(figures) < 5 || !strings.Contains(strings.Join(figures[1], ","), "hidden") && !strings.Contains(strings.Join(figures[1], ","), ",0,") {
		t.Errorf("rates: %q", figures)
	}
	if len(full) < 2 || full[1][2] != "1" {
		t.Errorf("full figures of one case: %q", full)
	}
	z, err := zip.OpenReader(file("closure.zip"))
	if err != nil || len(z.File) != 8 {
		t.Errorf("closure.zip: %v", err)
	} else {
		z.Close()
	}
	for _, c := range []struct {
		code int
		args []string
		says string
	}{
		{exitUsage, []string{}, "say what to export"},
		{exitUsage, []string{"everything"}, "there is no export"},
		{exitUsage, []string{"rows", "--out", file("a.csv")}, "say with --reason"},
		{exitUsage, []string{"rows", "--reason", "x", "--out", file("a.pdf")}, "ending in .xlsx"},
		{exitUsage, []string{"rows", "--reason", "x", "--out", file("a.csv"), "--from", "2026-02-30"}, "not a day"},
		{exitUsage, []string{"figures", "--from-milestone", "closure", "--out", file("a.csv")}, "cannot be counted"},
		{exitUsage, []string{"extract", "--reason", "x", "--out", file("a.csv")}, "--from-year"},
		{exitFailed, []string{"extract", "--from-year", "2199", "--reason", "x", "--out", file("a.csv")}, "not over"},
		{exitFailed, []string{"extract", "--from-year", "2000", "--to-year", "2025", "--reason", "x", "--out", file("a.csv"), "--table", "none"}, ""},
	} {
		args := append([]string{"export"}, c.args...)
		if len(c.args) > 1 {
			args = append(args, "--store", db)
		}
		if code, _, errs := call(t, "", args...); code != c.code || !strings.Contains(errs, c.says) {
			t.Errorf("%v: code %d, %s", args, code, errs)
		}
	}
	left, err := filepath.Glob(filepath.Join(dir, ".dunlin-export-*"))
	if _, serr := os.Stat(file("a.csv")); err != nil || len(left) > 0 || serr == nil {
		t.Errorf("left behind: %v %v, %v", left, err, serr)
	}
	if code, out, _ := call(t, "", "check", "--store", db); code != exitOK {
		t.Errorf("check: %s", out)
	}
}

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}
