package web_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// exportsOf are the entries of the audit trail about files that left.
func (s *site) exportsOf() (out []cases.Entry) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for e, err := range r.EntriesSince(time.Time{}) {
			if err != nil {
				return err
			}
			if e.Event.Kind == "exported" {
				out = append(out, e)
			}
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return out
}

//asvs:16.2.1
func TestLineListIsLoggedBeforeItLeaves(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	s.open(doc(docNew, "Sorrel-White", "=cmd|' /C calc'!A0"))
	s.open(doc(docNew, `"document":"dunlin-case/1"`, `"document":"dunlin-case/1","test_message":true`, "Ida", "Testy"))
	c := s.as("wren")
	f := c.get("/reports/exports").wants(200, "Line list, with names", "No file has left").form("/reports/exports/cases")
	f.set("l_format", "csv").send().wants(422, "Enter the reason for the export")
	if n := len(s.exportsOf()); n != 0 {
		t.Fatalf("%d entries for an export that was refused", n)
	}
	p := f.set("l_reason", "Handover to the night nurse").send()
	if p.status != 200 || !strings.HasPrefix(p.head.Get("Content-Disposition"), "attachment") || strings.Contains(p.head.Get("Content-Disposition"), "Oyelaran") {
		t.Fatalf("status %d, %v", p.status, p.head)
	}
	rows, err := csv.NewReader(strings.NewReader(p.body)).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows, %v: %s", len(rows), err, p.body)
	}
	for _, want := range []string{k.Reference, "Oyelaran", "Tobias", "no-voicemail", "555-0187", "2026-01-21", "'=cmd|"} {
		if !strings.Contains(p.body, want) {
			t.Errorf("the list lacks %q", want)
		}
	}
	if strings.Contains(p.body, "Testy") {
		t.Error("a test message is in the list")
	}
	log := s.exportsOf()
	if len(log) != 1 || log[0].Actor.Name != "Wren Castellano" || log[0].Event.Reason != "Handover to the night nurse" ||
		!strings.HasPrefix(log[0].Event.Text, "Line list of cases, with names as one CSV file, 2 rows. Open cases. SHA-256 ") {
		t.Errorf("log: %+v", log)
	}
	c.get("/reports/exports").wants(200, "1 file", "Handover to the night nurse", "2 rows")
}

func TestNoEntryNoFile(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	f := s.as("wren").get("/reports/exports").form("/reports/exports/cases").set("l_reason", "x").set("l_format", "csv")
	s.readOnly.Store(true)
	if p := f.send(); p.status != 503 || strings.Contains(p.body, "Tobias") {
		t.Errorf("a file left without an entry: %d", p.status)
	}
}

func TestWhoMayExport(t *testing.T) {
	s := newSite(t)
	for who, status := range map[string]int{"wren": 200, "ines": 200, "dagny": 403, "theo": 403} {
		c := s.as(who)
		p := c.get("/reports/exports")
		if p.status != status {
			t.Errorf("%s: %d", who, p.status)
		}
		if who == "ines" {
			if strings.Contains(p.body, "/reports/exports/cases") {
				t.Error("the manager is offered names")
			}
			f := p.form("/reports/exports/extract")
			f.action = "/reports/exports/cases"
			f.set("l_reason", "x").set("l_which", "all").set("l_format", "csv").send().wants(403, "Only a coordinator can do this")
		}
	}
	if n := len(s.exportsOf()); n != 0 {
		t.Errorf("%d entries", n)
	}
}

func TestExtractOfFew(t *testing.T) {
	s := newSite(t)
	s.now = time.Date(2027, 3, 5, 8, 41, 0, 0, s.now.Location())
	s.open(docQNS)
	c := s.as("ines")
	f := c.get("/reports/exports").form("/reports/exports/extract").set("x_format", "csv")
	if f.values.Get("from_year") != "2026" {
		t.Errorf("the year offered is %s", f.values.Get("from_year"))
	}
	f.send().wants(422, "Enter the reason for the export")
	f.set("x_reason", "State health department").send().wants(422, "fewer than 11 lines")
	f.set("to_year", "2027").send().wants(422, "2027 is not over")
	f.set("to_year", "soon").send().wants(422, "To year must be a year")
	f.set("from_year", "2020").set("to_year", "2021").send().wants(422, "No case was born in these years")
	p := f.set("from_year", "2026").set("to_year", "2026").set("x_answers", "I. Okafor-Lund").send()
	if p.status != 200 || !strings.Contains(p.head.Get("Content-Disposition"), `"extract-2026-2026.csv"`) {
		t.Fatalf("%d %v", p.status, p.head)
	}
	for _, secret := range []string{"Oyelaran", "Tobias", "Ruth", "AB-2026", "26-0431957", "555-0187", "2026-", "alder-bay", "F508del"} {
		if strings.Contains(p.body, secret) {
			t.Errorf("the extract holds %q", secret)
		}
	}
	if log := s.exportsOf(); len(log) != 1 || !strings.Contains(log[0].Event.Text, "So few lines, answered for by I. Okafor-Lund") {
		t.Errorf("log: %+v", log)
	}
	for i := range 12 {
		s.open(doc(docNew, "Ida", fmt.Sprint("Ida", i)))
	}
	p = f.set("x_answers", "").set("x_format", "zip").send()
	if p.status != 200 || p.head.Get("Content-Type") != "application/zip" {
		t.Errorf("%d %v", p.status, p.head)
	}
}

// TestFiguresAsFiles: the files of the other reports hide small numbers like their
// pages, are logged, and are given in full only to who may see that.
func TestFiguresAsFiles(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	s.open(docNew)
	dagny, ines := s.as("dagny"), s.as("ines")
	for path, table := range map[string]string{"/reports/qns": "rates.csv", "/reports/ages": "open_cases.csv"} {
		if !strings.Contains(dagny.get(path).body, `href="`+path+`.zip"`) {
			t.Errorf("%s offers no file", path)
		}
		before := len(s.exportsOf())
		files := unzip(t, dagny.get(path+".zip").body)
		if body := files[table]; !strings.Contains(body, `"hidden"`) || strings.Contains(body, ",1,") || strings.Contains(body, ",2,") || files["dictionary.csv"] == "" || files["about.csv"] == "" {
			t.Errorf("%s: %s", path, body)
		}
		dagny.get(path+".zip?figures=full").wants(403, "Only a coordinator or manager can do this")
		if body := unzip(t, ines.get(path+".zip?figures=full").body); strings.Contains(body[table], "hidden") || !strings.Contains(body["about.csv"], "Not for release") {
			t.Errorf("%s in full: %v", path, body)
		}
		if p := ines.get(path + ".xlsx"); p.status != 200 || !strings.HasPrefix(p.body, "PK") {
			t.Errorf("%s: %d", path, p.status)
		}
		log := s.exportsOf()[before:]
		if len(log) != 3 || !strings.Contains(log[0].Event.Text, "Small numbers hidden") || !strings.Contains(log[1].Event.Text, "Full figures") || log[2].Actor.Name != "Ines Okafor-Lund" {
			t.Errorf("%s: %+v", path, log)
		}
		for _, e := range log {
			if strings.Contains(e.Event.Text, "Oyelaran") {
				t.Errorf("the log names an infant: %s", e.Event.Text)
			}
		}
	}
	ines.get("/reports/qns.zip?from=nonsense").wants(422, "From must be a real date")
	ines.get("/reports/ages.zip?rows=late&columns=late").wants(422, "Rows and columns must be two different things")
}
