package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/server/safekeeping"
)

// TestAnOldBackupSendsNothingTwice restores the demo's store of some days ago onto
// another disk, with only the folder of back-ups, and runs the outbox: what went out
// since waits for a person, and nothing goes out a second time.
func TestAnOldBackupSendsNothingTwice(t *testing.T) {
	dir := t.TempDir()
	cfg, err := demoConfig(filepath.Join(dir, "demo.db"))
	if err != nil {
		t.Fatal(err)
	}
	d, err := openDemo(t.Context(), cfg, "2026-11-25")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.fill(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := d.keepSafe(t.Context(), dir); err != nil { // the back-up, before the message
		t.Fatal(err)
	}
	send := func(s *site) string {
		t.Helper()
		w, err := s.outbox(d.now, nil)
		if err != nil {
			t.Fatal(err)
		}
		tally, err := w.Run(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return tally.String()
	}
	queue := func(s *site) {
		t.Helper()
		by := cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System}
		err := s.db.Update(t.Context(), by, func(w cases.Writer) error {
			_, err := w.PutOutgoing(cases.Outgoing{Kind: "clinic-list", Occasion: "alder-bay 2026-11-26 again", ToWhom: cases.ToClinic, By: cases.ByEmail, To: "clinic@alderbay.example",
				Subject: "The list of tomorrow", Body: "A list was made.", State: cases.OutQueued, Queued: w.Now(), Changed: w.Now()})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	queue(d.site)
	if said := send(d.site); !strings.HasPrefix(said, "1 sent") {
		t.Fatalf("at first: %s", said)
	}
	if err := d.site.keeper.SaveJournal(); err != nil { // as the job does after each run
		t.Fatal(err)
	}
	if err := d.site.close(); err != nil {
		t.Fatal(err)
	}
	key, err := os.Open(filepath.Join(dir, "private-key.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer key.Close()
	id, err := safekeeping.ReadIdentities(key, "key")
	if err != nil {
		t.Fatal(err)
	}
	again := *cfg
	again.Store = filepath.Join(t.TempDir(), "demo.db")
	done, err := safekeeping.Restore(t.Context(), safekeeping.Restoring{From: cfg.Backup.Folder, To: again.Store, Keys: id, Examine: again.examineForUse})
	if err != nil || done.Journal == 0 {
		t.Fatalf("%d lines, %v", done.Journal, err)
	}
	s, err := openSite(&again, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	queue(s) // the job makes it again
	if said := send(s); !strings.HasPrefix(said, "0 sent") || !strings.Contains(said, "uncertain") {
		t.Errorf("after the restore: %s", said)
	}
}
