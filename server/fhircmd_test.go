package main

import (
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// TestExportCase takes a laboratory message in and exports its case: what came as two
// CF-causing variants stands as observations, and no diagnosis is coded from it.
func TestExportCase(t *testing.T) {
	db := filepath.Join(t.TempDir(), "program.db")
	if code, out, errs := call(t, "", "import", "--store", db, "../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7"); code != exitOK {
		t.Fatalf("import: code %d, %s %s", code, out, errs)
	}
	_, list, _ := call(t, "", "overdue", "--store", db, "--json")
	var a struct{ Reference string }
	if err := json.Unmarshal([]byte(list), &a); err != nil || a.Reference == "" {
		t.Fatalf("%v %s", err, list)
	}
	for _, args := range [][]string{{a.Reference}, {"--reason", "x"}, {a.Reference, "--reason", "x", "--format", "pdf"}} {
		if code, _, errs := call(t, "", append([]string{"export", "case", "--store", db}, args...)...); code != exitUsage || errs == "" {
			t.Errorf("%v: code %d, %q", args, code, errs)
		}
	}
	if code, _, errs := call(t, "", "export", "case", "AB-1999-0001", "--store", db, "--reason", "x"); code != exitFailed || errs == "" {
		t.Errorf("a case that is not there: code %d, %q", code, errs)
	}
	code, out, errs := call(t, "", "export", "case", a.Reference, "--store", db, "--reason", "Handed over to the CF center")
	var b struct {
		ID    string
		Entry []struct {
			Resource struct {
				ResourceType string
				Identifier   []struct{ Value string }
				Code         struct {
					Coding []struct{ System, Code string }
				}
				Value struct{ Text string } `json:"valueCodeableConcept"`
			}
		}
	}
	if err := json.Unmarshal([]byte(out), &b); code != exitOK || err != nil || b.ID != "case-"+a.Reference {
		t.Fatalf("code %d, %v, %s", code, err, errs)
	}
	var variants []string
	for _, e := range b.Entry {
		r := e.Resource
		for _, k := range r.Code.Coding {
			if k.Code == "21654-9" && r.ResourceType == "Observation" {
				variants = append(variants, r.Value.Text)
			}
			if strings.HasPrefix(k.Code, "E84") || k.Code == "190905008" {
				t.Errorf("%s is coded %s, which nobody decided", r.ResourceType, k.Code)
			}
		}
		if len(r.Identifier) > 0 && r.ResourceType == "Patient" {
			for _, i := range r.Identifier {
				if strings.HasPrefix(i.Value, "MOM") {
					t.Errorf("the mother's number %s stands with the infant", i.Value)
				}
			}
		}
	}
	if strings.Join(variants, " ") != "F508del G551D" {
		t.Errorf("variants %q", variants)
	}
	if n := exportsLogged(t, db); n != 1 {
		t.Errorf("%d exports in the audit trail, want 1", n)
	}
}

func exportsLogged(t *testing.T, file string) (n int) {
	t.Helper()
	cfg := defaultConfig()
	cfg.Store = file
	if err := cfg.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&cfg, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	err = s.db.View(context.Background(), func(r cases.Reader) error {
		for e, err := range r.EntriesSince(time.Time{}) {
			if err != nil {
				return err
			}
			if e.Event.Kind == "exported" && e.Event.Reason == "Handed over to the CF center" && strings.Contains(e.Event.Text, "FHIR R4") {
				n++
			}
		}
		lines, _, err := r.Accesses(cases.AccessQuery{Act: cases.ActExport, Limit: 10})
		if len(lines) != n || n > 0 && (len(lines[0].Infants) != 1 || lines[0].Why != "Handed over to the CF center") {
			t.Errorf("the access log has %+v of %d exports", lines, n)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestCodesLeftOutAreKnown(t *testing.T) {
	cfg := defaultConfig()
	cfg.CodesLeftOut = []string{"snomed", "icd-9"}
	if err := cfg.settle(); err == nil || !strings.Contains(err.Error(), "icd-9") {
		t.Errorf("an unknown code system: %v", err)
	}
}
