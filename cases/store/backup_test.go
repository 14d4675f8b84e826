package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

func TestBackupWhileWriting(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	dir := t.TempDir()
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				if err := db.Update(ctx, clerk, func(w cases.Writer) error {
					_, err := w.PutCase(newCase(10+i%50, "Ada"+strconv.Itoa(i), "Wren"), cases.Event{Kind: "opened"})
					return err
				}); err != nil {
					t.Error(err)
					return
				}
			}
		}
	})
	var last Summary
	for i := range 5 {
		s, err := db.Backup(ctx, filepath.Join(dir, "backup.db"))
		if err != nil {
			t.Fatal(err)
		}
		if s.Counts["cases"] < 3 || s.Schema != latestSchema(steps) || s.Seq < uint64(s.Counts["cases"]) || i > 0 && s.Seq < last.Seq {
			t.Errorf("summary %+v after %+v", s, last)
		}
		last = s
	}
	close(stop)
	wg.Wait()
	if _, err := os.Stat(filepath.Join(dir, "backup.db.part")); !errors.Is(err, os.ErrNotExist) {
		t.Error("the part file stayed")
	}
	// Restoring is opening the copy.
	o := testOptions()
	o.Rand = nil // the seeded one would make the same identifiers again
	restored := openAt(t, filepath.Join(dir, "backup.db"), o)
	if ok, err := restored.HasEntry(last.Seq, last.Hash); !ok || err != nil {
		t.Errorf("the head of the summary is not in the copy: %v", err)
	}
	if n := count(t, restored, cases.Reader.All); n != last.Counts["cases"] {
		t.Errorf("%d cases, the summary says %d", n, last.Counts["cases"])
	}
	put(t, restored, newCase(19, "Zoe", "Wren"), "opened")
	if ok, _ := db.HasEntry(last.Seq, last.Hash); !ok {
		t.Error("the store lost its own entry")
	}
}

func TestBackupRefuses(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	if _, err := db.Backup(ctx, db.Path()); err == nil {
		t.Error("the store itself was taken as the target")
	}
	if _, err := db.Backup(ctx, filepath.Join(t.TempDir(), "none", "backup.db")); err == nil {
		t.Error("a missing folder was not noticed")
	}
	done, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := db.Backup(done, filepath.Join(t.TempDir(), "backup.db")); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestBackupOfADamagedStoreIsNotKept(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	target := filepath.Join(t.TempDir(), "backup.db")
	if _, err := db.Backup(ctx, target); err != nil {
		t.Fatal(err)
	}
	good, _ := os.ReadFile(target)
	if err := db.bolt.Update(func(tx *bbolt.Tx) error { return flip(tx, "cases") }); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Backup(ctx, target); err == nil {
		t.Fatal("a damaged copy was kept")
	}
	if now, _ := os.ReadFile(target); string(now) != string(good) {
		t.Error("the older good backup was lost")
	}
	db.Close()
}
