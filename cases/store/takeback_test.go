package store

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dunlin/cases"
)

// workedDocuments are the case documents of the worked cases, as a supply of
// different shapes.
func workedDocuments(t *testing.T) []cases.Case {
	t.Helper()
	files, err := filepath.Glob("../testdata/worked-cases/*.json")
	if err != nil || len(files) == 0 {
		t.Fatalf("no worked cases: %v", err)
	}
	var out []cases.Case
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var f struct {
			Cases []struct {
				Case json.RawMessage `json:"case"`
			} `json:"cases"`
		}
		if err := json.Unmarshal(data, &f); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, w := range f.Cases {
			on, _ := cases.ParseDay("2030-01-01")
			if c, err := cases.ParseCase(w.Case, on, cases.DefaultProtocol()); err == nil {
				out = append(out, c)
			}
		}
	}
	return out
}

func asJSON(t *testing.T, c *cases.Case) string {
	t.Helper()
	b, err := json.MarshalIndent(c, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestTakeBackRestores turns one document into another in the store, takes that
// change back by its entry of the audit trail, and must have the first again.
func TestTakeBackRestores(t *testing.T) {
	o := testOptions()
	o.Now = func() time.Time { return time.Date(2030, 1, 1, 12, 0, 0, 0, time.UTC) }
	o.Scratch = true
	db := openAt(t, t.TempDir()+"/dunlin.db", o)
	docs := workedDocuments(t)
	actor := cases.Actor{ID: "lin", Name: "Lin Heron", Role: cases.Coordinator}
	tried := 0
	err := db.Update(context.Background(), actor, func(w cases.Writer) error {
		for i := range docs {
			a, b := docs[i], docs[(i*7+3)%len(docs)]
			a.Reference = ""
			first, err := w.PutCase(a, cases.Event{Kind: "case-opened"})
			if err != nil {
				t.Logf("not stored: %v", err)
				continue
			}
			b.ID, b.Rev, b.Reference = first.ID, first.Rev, first.Reference
			second, err := w.PutCase(b, cases.Event{Kind: "changed"})
			if err != nil {
				return err
			}
			h, err := w.History(first.ID)
			if err != nil {
				return err
			}
			var fields []cases.FieldChange
			for _, e := range h {
				if e.ToRev == second.Rev {
					fields = e.Fields
				}
			}
			now, kept, off, err := second.TakeBack(fields)
			if err != nil {
				return err
			}
			tried++
			if len(kept)+len(off) > 0 {
				t.Errorf("%d: kept %v, off %v", i, kept, off)
			}
			if d := cmp.Diff(asJSON(t, &first), asJSON(t, &now)); d != "" {
				t.Fatalf("%d: %s", i, d)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if tried < 300 {
		t.Errorf("only %d documents were tried", tried)
	}
}
