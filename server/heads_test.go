package main

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// TestNotedHeads: the job notes the ends of both chains, and check finds that the store
// is not the one they were noted of, or a file that is none of heads.
func TestNotedHeads(t *testing.T) {
	dir := t.TempDir()
	c := defaultConfig()
	c.Store, c.HeadsFile = filepath.Join(dir, "a.dunlin"), filepath.Join(dir, "heads.txt")
	if err := c.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&c, false, longWait, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	note := func(text string) {
		t.Helper()
		err := s.db.Update(context.Background(), cases.Actor{ID: "test", Role: cases.System}, func(w cases.Writer) error {
			return w.Note(cases.Event{Kind: "noted", Text: text})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	note("one")
	early := filepath.Join(dir, "early.dunlin")
	if _, err := s.db.Backup(context.Background(), early); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		note("another")
		if said, err := s.noteHeads().Run(context.Background(), time.Time{}); err != nil || !strings.Contains(said, "noted audit") {
			t.Fatalf("%q, %v", said, err)
		}
	}
	if err := s.close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(c.HeadsFile)
	if err != nil || strings.Count(string(text), "\n") != 4 {
		t.Fatalf("%s, %v", text, err)
	}
	if code, out, errs := call(t, "", "check", "--store", c.Store, "--heads", c.HeadsFile); code != exitOK || !strings.Contains(out, "4 noted heads fit") {
		t.Errorf("check: %d, %s%s", code, out, errs)
	}
	// A store that ends earlier is sound by itself.
	if code, out, _ := call(t, "", "check", "--store", early); code != exitOK {
		t.Errorf("the earlier store: %d, %s", code, out)
	}
	if code, out, _ := call(t, "", "check", "--store", early, "--heads", c.HeadsFile); code != exitFailed || strings.Count(out, "its end was cut off, or the store was restored") != 2 {
		t.Errorf("a cut tail: %d, %s", code, out)
	}
	other := filepath.Join(dir, "other.txt")
	for name, lines := range map[string]string{"it holds no head": "\n", "line 1": "hello"} {
		if err := os.WriteFile(other, []byte(lines), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, errs := call(t, "", "check", "--store", c.Store, "--heads", other); code != exitUsage || !strings.Contains(errs, name) {
			t.Errorf("%q: %d, %s", lines, code, errs)
		}
	}
}
