package main

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// TestSafeJobs runs the work of the jobs on a store, and what a person asks for.
func TestSafeJobs(t *testing.T) {
	b := newBackedUp(t)
	cfg := settingsOf(t, b.config)
	s, err := openSite(cfg, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	clock := time.Date(2026, 11, 25, 8, 0, 0, 0, cfg.zone)
	s.now = func() time.Time { return clock }
	if note, err := s.backUp().Run(t.Context(), clock); err != nil || !strings.Contains(note, "1 cases, 0 older dropped") {
		t.Errorf("back-up: %q, %v", note, err)
	}
	clock = clock.Add(time.Hour)
	if note, err := s.scrub().Run(t.Context(), clock); err != nil || !strings.Contains(note, "1 cases and") || !strings.HasSuffix(note, "1 of 1 back-ups have their bytes") {
		t.Errorf("scrub: %q, %v", note, err)
	}
	log := slog.New(slog.DiscardHandler)
	w := &working{site: s, log: log}
	theo := cases.Actor{ID: "theo", Name: "Theo Marsh", Role: cases.Administrator}
	if err := w.BackUp(t.Context(), theo); err != nil {
		t.Fatal(err)
	}
	w.hand.running.Wait()
	state, err := w.Safe(t.Context())
	if err != nil || !state.SetUp || !state.Encrypted || state.Busy || state.Failed != "" || len(state.Made) != 2 || state.Made[0].By != "Theo Marsh" || len(state.Keys) != 1 {
		t.Fatalf("%+v, %v", state, err)
	}
	if n := notes(t, s, "backup-asked"); len(n) != 1 {
		t.Errorf("entries %q", n)
	}
	// The newest back-up rots: the scrub says which, and a restore would take the other.
	path := filepath.Join(b.folder, state.Made[0].File)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text[len(text)/2] ^= 1
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	if note, err := s.scrub().Run(t.Context(), clock); err == nil || !strings.Contains(err.Error(), state.Made[0].File) || !strings.HasSuffix(note, "1 of 2 back-ups have their bytes") {
		t.Errorf("scrub: %q, %v", note, err)
	}
	// What a person asks for fails in words that the page shows.
	if err := os.Rename(b.folder, b.folder+".gone"); err != nil {
		t.Fatal(err)
	}
	if err := w.BackUp(t.Context(), theo); err != nil {
		t.Fatal(err)
	}
	w.hand.running.Wait()
	state, err = w.Safe(t.Context())
	if err != nil || !strings.Contains(state.Failed, "is not there. Make the folder") || state.Trouble == "" {
		t.Errorf("%+v, %v", state, err)
	}
	w.hand.stop()
}

// A back-up of an older release is brought up to date on a copy, to be checked; what is
// restored keeps its bytes.
func TestABackupOfAnOlderReleaseIsRestored(t *testing.T) {
	olds, err := filepath.Glob("../cases/store/testdata/*.db")
	if err != nil || len(olds) == 0 {
		t.Fatalf("no old stores: %v", err)
	}
	for _, old := range olds {
		to := filepath.Join(t.TempDir(), "again.db")
		code, out, errs := call(t, "", "restore", old, "--to", to)
		if code != exitOK || !strings.Contains(out, "It was checked in full all the same") {
			t.Errorf("%s: %d %s %s", old, code, out, errs)
			continue
		}
		want, _ := os.ReadFile(old)
		got, _ := os.ReadFile(to)
		left, _ := filepath.Glob(to + ".*")
		if string(got) != string(want) || len(left) != 1 { // the word of the restore
			t.Errorf("%s: other bytes, or left %v", old, left)
		}
	}
}
