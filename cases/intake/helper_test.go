package intake_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/store"
)

// today is the day of every test: after all made-up messages were sent.
var today = time.Date(2026, 3, 30, 9, 0, 0, 0, time.UTC)

var importer = cases.Actor{ID: "import", Name: "Import", Role: cases.System, Via: "import"}

type bench struct {
	t  testing.TB
	db *store.DB
	in *intake.Intake
}

// newBench opens an empty store in a temporary folder.
func newBench(t testing.TB, s intake.Settings) *bench {
	t.Helper()
	db, err := store.Open(filepath.Join(t.TempDir(), "test.db"), store.Options{Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return &bench{t: t, db: db, in: intake.New(db, nil, s, hl7.Format{}, csvfile.Format{})}
}

func (b *bench) receive(name string, raw []byte) intake.Result {
	b.t.Helper()
	r, err := b.in.Receive(context.Background(), importer, intake.Document{Source: "import", Name: name, At: today, Raw: raw})
	if err != nil {
		b.t.Fatalf("%s: %v", name, err)
	}
	if r.Total() != len(r.Items) || len(r.Items) == 0 {
		b.t.Fatalf("%s: counters %v for %d items", name, r.Counts, len(r.Items))
	}
	return r
}

func (b *bench) file(path string) intake.Result {
	b.t.Helper()
	raw, err := os.ReadFile(filepath.FromSlash(path))
	if err != nil {
		b.t.Fatal(err)
	}
	return b.receive(path, raw)
}

func (b *bench) view(f func(r cases.Reader) error) {
	b.t.Helper()
	if err := b.db.View(context.Background(), f); err != nil {
		b.t.Fatal(err)
	}
}

// all gives every case in the store.
func (b *bench) all() (out []cases.Case) {
	b.t.Helper()
	b.view(func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			out = append(out, c)
		}
		return nil
	})
	return out
}

func (b *bench) waiting() (out []cases.Item) {
	b.t.Helper()
	b.view(func(r cases.Reader) error {
		var err error
		out, err = r.ItemsWaiting()
		return err
	})
	return out
}

func (b *bench) of(ref string) (c cases.Case) {
	b.t.Helper()
	b.view(func(r cases.Reader) error {
		var err error
		c, err = r.ByReference(ref)
		return err
	})
	return c
}

func (b *bench) formats() []intake.Format { return []intake.Format{hl7.Format{}, csvfile.Format{}} }
