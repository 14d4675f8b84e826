package fhir

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

var update = flag.Bool("update", false, "rewrite the golden bundles")

// worked is one worked case of the case document, with the day on which it is read.
type worked struct {
	id string
	s  Source
	p  *cases.Protocol
}

// workedCases reads every worked case that is not refused.
func workedCases(t testing.TB) (out []worked) {
	t.Helper()
	files, err := filepath.Glob("../../testdata/worked-cases/*.json")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d files of worked cases, %v", len(files), err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var f struct {
			Cases []struct {
				ID, On         string
				Protocol, Case json.RawMessage
			}
		}
		if err := json.Unmarshal(data, &f); err != nil {
			t.Fatal(err)
		}
		for _, w := range f.Cases {
			on, err := cases.ParseDay(w.On)
			if err != nil {
				t.Fatal(err)
			}
			p := cases.DefaultProtocol()
			if len(w.Protocol) > 0 && string(w.Protocol) != "null" {
				if p, err = cases.ParseProtocol(w.Protocol); err != nil {
					t.Fatal(err)
				}
			}
			c, err := cases.ParseCase(w.Case, on, p)
			if err != nil {
				continue // one of those that must be refused
			}
			out = append(out, worked{w.ID, Source{Case: c, Today: on, Made: noon(on)}, p})
		}
	}
	return out
}

func noon(d cases.Day) time.Time { return d.Time().Add(17 * time.Hour) }

func newYork(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func options(t testing.TB, p *cases.Protocol) Options {
	return Options{Program: "Alder Bay follow-up", By: "Wren Castellano", Zone: newYork(t), Protocol: p,
		Site: func(key string) string {
			return map[string]string{"alder-bay": "Alder Bay sweat test clinic"}[key]
		}}
}

func written(t testing.TB, s Source, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Make(s, o).Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestWorkedCases sets every worked case out as a bundle that R4 allows.
func TestWorkedCases(t *testing.T) {
	all := workedCases(t)
	if len(all) < 300 {
		t.Fatalf("only %d worked cases", len(all))
	}
	for _, w := range all {
		for _, f := range checkBundle(written(t, w.s, options(t, w.p))) {
			t.Errorf("%s: %s", w.id, f)
		}
	}
}

// TestGolden compares the bundles of chosen worked cases, and of a dozen cases of the
// invented Alder Bay program, with the golden ones.
func TestGolden(t *testing.T) {
	chosen := map[string]bool{}
	for _, id := range strings.Fields(goldenWorked) {
		chosen[id] = true
	}
	for _, w := range workedCases(t) {
		if chosen[w.id] {
			delete(chosen, w.id)
			golden(t, "worked-"+w.id, written(t, w.s, options(t, w.p)))
		}
	}
	for id := range chosen {
		t.Errorf("there is no worked case %s", id)
	}
	files, err := filepath.Glob("testdata/demo/*.json")
	if err != nil || len(files) < 12 {
		t.Fatalf("%d demo cases, %v", len(files), err)
	}
	for _, name := range files {
		s := demoCase(t, name)
		golden(t, "demo-"+strings.ToLower(s.Case.Reference), written(t, s, options(t, cases.DefaultProtocol())))
	}
}

// demoCase reads a case of the invented program as the store had it on its day.
func demoCase(t testing.TB, name string) (s Source) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	s.Case.Prepare()
	return s
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	for _, f := range checkBundle(got) {
		t.Errorf("%s: %s", name, f)
	}
	file := filepath.Join("testdata/golden", name+".json")
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from what is made now; look at the difference, then use -update:\n%s", file, got)
	}
}

// goldenWorked names worked cases of each shape: tests of every outcome, closures of
// every kind, repeats, holds, variants in cis and trans, a death.
const goldenWorked = "sweat-01 sweat-06 sw2-10 ev-03 det-01 det-05 cl2-05 lo2-03 gt2-05 repeat-03 safe-03 st2-20 ready-06 sd2-07"
