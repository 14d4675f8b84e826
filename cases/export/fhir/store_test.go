package fhir

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
	"dunlin/server/demo"
)

// demoRead holds the cases of the demo once they were read: filling its store is slow.
var demoRead []Source

// demoSources reads every case of the invented Alder Bay program out of its store.
func demoSources(t *testing.T) (out []Source) {
	t.Helper()
	if demoRead != nil {
		return demoRead
	}
	p, clock, today := cases.DefaultProtocol(), &demo.Clock{}, cases.MakeDay(2026, 11, 25)
	db, err := store.Open(filepath.Join(t.TempDir(), "demo.db"), store.Options{Now: clock.Now, Scratch: true, Protocol: p, Rand: rand.NewChaCha8([32]byte{1})})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	_, err = demo.Fill(t.Context(), demo.Deps{Store: db, Desk: cases.NewDesk(db, p), Clock: clock,
		Intake: intake.New(db, func() *cases.Protocol { return p }, intake.Settings{}, hl7.Format{}).OpenMail(mail.Reader{})}, today)
	if err != nil {
		t.Fatal(err)
	}
	clock.Set(noon(today))
	err = db.View(t.Context(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			s, err := Read(r, c.Reference)
			if err != nil {
				return err
			}
			out = append(out, s)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	demoRead = out
	return out
}

// TestEveryDemoCase sets every case of the demo out as a bundle that R4 allows; no two
// cases share an address.
func TestEveryDemoCase(t *testing.T) {
	all := demoSources(t)
	if len(all) < 100 {
		t.Fatalf("%d cases", len(all))
	}
	seen := map[string]string{}
	for _, s := range all {
		for _, f := range checkBundle(written(t, s, options(t, cases.DefaultProtocol()))) {
			t.Errorf("%s: %s", s.Case.Reference, f)
		}
		for _, e := range Make(s, options(t, cases.DefaultProtocol())).Entry {
			if other := seen[e.FullURL]; other != "" {
				t.Errorf("%s and %s share %s", other, s.Case.Reference, e.FullURL)
			}
			seen[e.FullURL] = s.Case.Reference
		}
	}
}

// TestCorrectedInTheStore: a value that is changed in the store is exported as
// corrected, one that is only filled in is final; the addresses stay as they were.
func TestCorrectedInTheStore(t *testing.T) {
	p, on := cases.DefaultProtocol(), cases.MakeDay(2026, 5, 1)
	db, err := store.Open(filepath.Join(t.TempDir(), "case.db"), store.Options{Now: func() time.Time { return noon(on) }, Scratch: true, Protocol: p})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	c := infant(func(c *cases.Case) {
		c.SweatTests = []cases.SweatTest{{On: cases.MakeDay(2026, 3, 20), Collector: "tubing", Arms: []cases.Arm{arm("left", ptr(20), ptr(71)), arm("right", ptr(20), nil)}}}
	}).Case
	by := cases.Actor{ID: "test", Name: "Test", Role: cases.System}
	var before, after Source
	step := func(f func(w cases.Writer) error) {
		t.Helper()
		if err := db.Update(context.Background(), by, f); err != nil {
			t.Fatal(err)
		}
	}
	step(func(w cases.Writer) (err error) {
		c, err = cases.OpenCase(w, p, c, cases.Event{Kind: "case-opened"})
		return err
	})
	step(func(w cases.Writer) (err error) { before, err = Read(w, c.Reference); return err })
	step(func(w cases.Writer) error {
		_, err := cases.ChangeIn(w, p, c.ID, c.Rev, cases.Event{Kind: "test-changed"}, func(c *cases.Case, _ cases.Day) error {
			c.SweatTests[0].Arms[0].Chloride, c.SweatTests[0].Arms[1].Chloride = ptr(17), ptr(19)
			return nil
		})
		return err
	})
	step(func(w cases.Writer) (err error) { after, err = Read(w, c.Reference); return err })
	states := func(s Source) (out []string) {
		for _, o := range resources[Observation](t, s) {
			if o.Code.Text == "Sweat chloride" {
				out = append(out, o.Status)
			}
		}
		return out
	}
	if got := states(before); len(got) != 2 || got[0] != "final" || got[1] != "registered" {
		t.Errorf("before: %v", got)
	}
	if got := states(after); len(got) != 2 || got[0] != "corrected" || got[1] != "final" {
		t.Errorf("after: %v", got)
	}
	was, is := Make(before, options(t, p)).Entry, Make(after, options(t, p)).Entry
	if len(was) != len(is) {
		t.Fatalf("%d entries, then %d", len(was), len(is))
	}
	for i := range was {
		if was[i].FullURL != is[i].FullURL {
			t.Errorf("entry %d moved from %s to %s", i, was[i].FullURL, is[i].FullURL)
		}
	}
}
