package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

// yearStore has so many infants born in January 2025, and gives its file.
func yearStore(t *testing.T, n int) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "year.db")
	p := cases.DefaultProtocol()
	db, err := store.Open(file, store.Options{Protocol: p, Zone: time.UTC, Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(context.Background(), cases.Actor{ID: "test", Name: "Test", Role: cases.System}, func(w cases.Writer) error {
		for i := range n {
			c, err := cases.ParseCase([]byte(fmt.Sprintf(`{"document":"dunlin-case/1","reference":"YR-2025-%04d","infant":{"family":"QUILLON","given":"Sabine","sex":"female","born":"2025-01-%02d"},"referral":{"on":"2025-01-28","route":"screen"}}`, i+1, i%20+1)), w.Today(), p)
			if err == nil {
				_, err = cases.OpenCase(w, p, c, cases.Event{Kind: "case-opened"})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return file
}

// noted are the entries of the audit trail of a kind.
func noted(t *testing.T, file, kind string) (out []string) {
	t.Helper()
	db, err := store.Open(file, store.Options{Protocol: cases.DefaultProtocol(), Zone: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.View(context.Background(), func(r cases.Reader) error {
		for e, err := range r.EntriesSince(time.Time{}) {
			if err != nil {
				return err
			}
			if e.Event.Kind == kind {
				out = append(out, e.Event.Text)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestReportOfAYear(t *testing.T) {
	db := yearStore(t, 14)
	code, out, errs := call(t, "", "report", "--store", db, "--year", "2025")
	if code != exitOK || !strings.Contains(out, "14 infants born in 2025 were referred") || !strings.Contains(out, "Counts from 1 to 10 are hidden") || strings.Contains(out, "QUILLON") {
		t.Fatalf("code %d, %s%s", code, out, errs)
	}
	if n := noted(t, db, "figures-seen"); len(n) != 0 {
		t.Errorf("noted %q", n)
	}
	code, out, _ = call(t, "", "report", "--store", db, "--year", "2025", "--full", "--json")
	if code != exitOK || !strings.Contains(out, `"full": true`) {
		t.Errorf("in full: code %d, %.200s", code, out)
	}
	if n := noted(t, db, "figures-seen"); len(n) != 1 || !strings.Contains(n[0], "full figures. Infants born in 2025") {
		t.Errorf("noted %q", n)
	}
	pdf := filepath.Join(t.TempDir(), "2025.pdf")
	code, out, errs = call(t, "", "report", "--store", db, "--year", "2025", "--pdf", pdf, "--paper", "a4")
	raw, err := os.ReadFile(pdf)
	if code != exitOK || err != nil || !strings.HasPrefix(string(raw), "%PDF-") {
		t.Fatalf("code %d, %v, %s%s", code, err, out, errs)
	}
	if n := noted(t, db, "exported"); len(n) != 1 || !strings.Contains(n[0], "Figures for the year as PDF") || !strings.Contains(n[0], "SHA-256") {
		t.Errorf("noted %q", n)
	}
	code, _, errs = call(t, "", "report", "--store", db, "--year", "2025", "--pdf", pdf)
	if again, _ := os.ReadFile(pdf); code == exitOK || !strings.Contains(errs, "is there already") || string(again) != string(raw) {
		t.Errorf("over a file: code %d, %s", code, errs)
	}
}

func TestReportOfAYearAskedWrongly(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--year 12", "from 1990 on"}, {"--year 2025 --from 2025-01-01", "does not go with --year"}, {"--year 2025 --rates", "does not go with --year"},
		{"--pdf x.pdf", "--pdf goes with --year"}, {"--full", "--full goes with --year"}, {"--year 2025 --paper a5", "letter or a4"},
		{"--year 2025 --paper a4", "--paper goes with --pdf"}, {"--year 2025 --pdf x.pdf --json", "choose one"},
	} {
		code, _, errs := call(t, "", append([]string{"report"}, strings.Fields(c.args)...)...)
		if code != exitUsage || !strings.Contains(errs, c.want) {
			t.Errorf("%s: code %d, %s", c.args, code, errs)
		}
	}
}
