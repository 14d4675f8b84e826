package main

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// notes gives the texts of the audit entries of one kind.
func notes(t *testing.T, s *site, kind string) (out []string) {
	t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for e, err := range r.EntriesSince(time.Time{}) {
			if err != nil {
				return err
			}
			if e.Event.Kind == kind {
				out = append(out, e.Event.Text)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestADamagedStoreNamesTheWayBack: the program ends with a message that names the
// newest verified back-up, and the commands of the message work as they stand.
func TestADamagedStoreNamesTheWayBack(t *testing.T) {
	b := newBackedUp(t)
	if code, out, errs := call(t, "", "backup", "--config", b.config); code != exitOK {
		t.Fatal(out, errs)
	}
	text, err := os.ReadFile(b.store)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(b.store, text[:9000], 0o600); err != nil {
		t.Fatal(err)
	}
	for _, command := range []string{"serve", "overdue", "compact", "check"} {
		code, _, errs := call(t, "", command, "--config", b.config)
		if code != exitFailed || !strings.Contains(errs, "is damaged") || !strings.Contains(errs, "The newest verified back-up is of") {
			t.Errorf("%s: %d %s", command, code, errs)
		}
		_, rest, _ := strings.Cut(errs, "To go back to it:\n")
		lines := strings.Split(rest, "\n")
		move := strings.Fields(lines[0])
		if command != "check" {
			continue
		}
		if move[0] != "mv" || os.Rename(move[1], move[2]) != nil {
			t.Fatalf("move %q", move)
		}
		restore := strings.Fields(strings.Replace(lines[1], "KEYFILE", b.key, 1))
		if code, out, errs := call(t, "", restore[1:]...); code != exitOK {
			t.Errorf("%q: %d %s %s", restore, code, out, errs)
		}
	}
	if code, out, errs := call(t, "", "check", "--config", b.config); code != exitOK {
		t.Errorf("after the way back: %d %s %s", code, out, errs)
	}
	for _, without := range []string{b.store} {
		if err := os.WriteFile(without, text[:9000], 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, errs := call(t, "", "overdue", "--store", without); code != exitFailed || !strings.Contains(errs, "No folder of back-ups is set") {
			t.Errorf("without a folder: %d %s", code, errs)
		}
	}
}
