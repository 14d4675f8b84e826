package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

var mutations = flag.Int("mutations", 60, "damaged files that TestDamagedFilesEndNothing opens")

// everything reads every case and every audit entry of a store.
func everything(t *testing.T, s *site) string {
	t.Helper()
	var all bytes.Buffer
	enc := json.NewEncoder(&all)
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err = errors.Join(err, enc.Encode(&c)); err != nil {
				return err
			}
		}
		for e, err := range r.EntriesSince(time.Time{}) {
			if err = errors.Join(err, enc.Encode(&e)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

// manyCases fills a new store through the store itself and closes it.
func manyCases(t testing.TB, cfg *config, n int) {
	t.Helper()
	db, err := store.Open(cfg.Store, store.Options{Zone: cfg.zone, Protocol: cfg.protocol, Program: cfg.Code, Release: release, Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	list := func(yield func(cases.Case) bool) {
		for i := range n {
			born := cases.MakeDay(2026, 1, 1) + cases.Day(i%300)
			if !yield(cases.Case{Reference: fmt.Sprintf("AB-2026-%06d", i+1),
				Infant: cases.Infant{Given: "Marigold", Family: fmt.Sprintf("Wren%d", i%977), Sex: "female", Born: born, Plurality: 1, BirthOrder: 1, Gestation: 273, BirthWeightG: 3200,
					Weights: []cases.Weight{{On: born + 10, G: 3290}}, Records: []cases.RecordNo{{Authority: "Alder Bay Hospital", Number: fmt.Sprintf("H%07d", i)}}},
				Referral: cases.Referral{On: born + 7, Route: "screen", Screen: &cases.Screen{Collected: born + 1, Reported: born + 6, Accession: fmt.Sprintf("AB26-%06d", i), Laboratory: "Alder Bay Laboratory"}},
				Contacts: []cases.Contact{{On: born + 8, With: "family", By: "phone", Reached: true, Outcome: "talked, understood"}}}) {
				return
			}
		}
	}
	_, err = db.Load(context.Background(), cases.Actor{ID: "wren", Name: "Wren", Role: cases.Coordinator}, list, cases.Event{Kind: "opened"})
	if err = errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestDamagedFilesEndNothing cuts, zeroes, overwrites and flips a store at random places
// and opens it as the serving program does, in this process: a death would end the test.
// What is damaged is named with the way back; what passes must hold what it held.
func TestDamagedFilesEndNothing(t *testing.T) {
	b := newBackedUp(t)
	cfg := settingsOf(t, b.config)
	cfg.Store += ".big"
	manyCases(t, cfg, 300)
	if code, out, errs := call(t, "", "backup", "--config", b.config, "--store", cfg.Store); code != exitOK {
		t.Fatal(out, errs)
	}
	whole, err := os.ReadFile(cfg.Store)
	if err != nil {
		t.Fatal(err)
	}
	s, err := openSite(cfg, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := everything(t, s)
	if err := s.close(); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(11, 26))
	page := func(b []byte) []byte {
		at := rng.IntN(len(b)) &^ 4095
		return b[at:min(at+4096, len(b))]
	}
	kinds := []struct {
		name string
		hurt func([]byte) []byte
	}{
		{"cut", func(b []byte) []byte { return b[:rng.IntN(len(b))] }},
		{"zeroed", func(b []byte) []byte { clear(page(b)); return b }},
		{"garbage", func(b []byte) []byte {
			p := page(b)
			for i := range p {
				p[i] = byte(rng.Uint32())
			}
			return b
		}},
		{"flipped", func(b []byte) []byte { b[rng.IntN(len(b))] ^= 1 << rng.IntN(8); return b }},
	}
	named, harmless := map[string]int{}, map[string]int{}
	if raceOn { // each is opened by a process of its own, which the detector slows
		*mutations = min(*mutations, 20)
	}
	for i := range *mutations {
		k := kinds[i%len(kinds)]
		if err := os.WriteFile(cfg.Store, k.hurt(bytes.Clone(whole)), 0o600); err != nil {
			t.Fatal(err)
		}
		began := time.Now()
		if why := openDamaged(t, cfg, want); why != nil {
			named[k.name]++
			if !errors.Is(why, store.ErrIndexes) && !strings.Contains(why.Error(), "dunlin restore ") { // indexes are built anew
				t.Errorf("%s %d: %v does not name the way back", k.name, i, why)
			}
		} else {
			harmless[k.name]++
		}
		if took := time.Since(began); took > examineLimit(int64(len(whole))) {
			t.Errorf("%s %d took %s", k.name, i, took)
		}
	}
	t.Logf("%d files, named %v, harmless %v, no death and no hang", *mutations, named, harmless)
	if len(named) < len(kinds) {
		t.Errorf("of some kind none was noticed: %v", named)
	}
}

// openDamaged opens a file as serve does, and reads all of it as the scrub does.
func openDamaged(t *testing.T, cfg *config, want string) error {
	os.Remove(cfg.Store + ".open")
	s, err := openSite(cfg, true, longWait, nil)
	if err != nil {
		return notStore(cfg, err)
	}
	defer s.close()
	if err := s.db.Snapshot(context.Background(), cfg.Store+".copy"); err != nil {
		return cfg.wayBack(err)
	}
	if _, err := cfg.examine(context.Background(), cfg.Store+".copy"); err != nil {
		return cfg.wayBack(err)
	}
	if got := everything(t, s); got != want {
		t.Error("a file passed every check and holds something else")
	}
	return nil
}

// notStore lets pass that a file cut to nothing, or without a readable beginning, is said
// to be no store: that names the file and harms nothing, but knows of no way back.
func notStore(cfg *config, err error) error {
	if errors.Is(err, store.ErrNotStore) {
		return cfg.wayBack(&store.Fault{Why: store.ErrDamaged, Path: cfg.Store, Text: err.Error()})
	}
	return err
}

// settingsOf reads a settings file as a command does.
func settingsOf(t testing.TB, path string) *config {
	t.Helper()
	fs := flag.NewFlagSet("test", flag.ContinueOnError)
	get := configFlags(fs)
	if err := fs.Parse([]string{"--config", path}); err != nil {
		t.Fatal(err)
	}
	cfg, err := get()
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}
