package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// closedStore makes a sound store with n cases and closes it.
func closedStore(t *testing.T, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "dunlin.db")
	o := testOptions()
	o.Scratch = true
	db, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		put(t, db, newCase(10+i%60, "Ada"+strconv.Itoa(i), "Wren"), "opened")
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	other := filepath.Join(dir, "other.db")
	b, err := bbolt.Open(other, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Update(func(tx *bbolt.Tx) error { _, err := tx.CreateBucket([]byte("things")); return err }); err != nil {
		t.Fatal(err)
	}
	b.Close()
	for name, x := range map[string]struct {
		path string
		opt  Options
		why  error
		says string
	}{
		"text":        {write("notes.txt", bytes.Repeat([]byte("notes of the day\n"), 900)), Options{}, ErrNotStore, "not a Dunlin store"},
		"short text":  {write("short.txt", []byte("hello")), Options{}, ErrNotStore, "not a Dunlin store"},
		"other kind":  {other, Options{}, ErrNotStore, "not a Dunlin store"},
		"folder":      {dir, Options{}, ErrNotStore, "not a file"},
		"no folder":   {filepath.Join(dir, "none", "dunlin.db"), Options{}, ErrMissing, "does not exist"},
		"must exist":  {filepath.Join(dir, "none.db"), Options{MustExist: true}, ErrMissing, "does not exist"},
		"read none":   {filepath.Join(dir, "none.db"), Options{ReadOnly: true}, ErrMissing, "does not exist"},
		"read empty":  {write("empty.db", nil), Options{ReadOnly: true}, ErrNotStore, "not"},
		"limit of 9k": {filepath.Join(dir, "limited.db"), Options{MaxSize: 9 << 10}, ErrFull, "no space left"},
	} {
		t.Run(name, func(t *testing.T) {
			db, err := Open(x.path, x.opt)
			if err == nil {
				db.Close()
			}
			wantFault(t, err, x.why)
			if !strings.Contains(err.Error(), x.says) || !strings.Contains(err.Error(), x.path) {
				t.Errorf("says %q", err)
			}
		})
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "short.txt")); string(b) != "hello" {
		t.Error("the file that is not a store was changed")
	}
}

// TestReadOnlyFileIsRefusedForWriting runs a child that gives up the rights of
// root, for whom no file is read-only.
func TestReadOnlyFileIsRefusedForWriting(t *testing.T) {
	path := closedStore(t, 1)
	for dir := filepath.Dir(path); strings.HasPrefix(dir, os.TempDir()+"/"); dir = filepath.Dir(dir) {
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(path, 0o444); err != nil {
		t.Fatal(err)
	}
	out, err := childOf("open without rights", path).CombinedOutput()
	if err != nil || !strings.Contains(string(out), "refused: "+path+" cannot be written") {
		t.Fatalf("child: %v\n%s", err, out)
	}
}

func TestReadOnlyOpenWritesNothing(t *testing.T) {
	path := closedStore(t, 3)
	before, _ := os.ReadFile(path)
	o := testOptions()
	o.ReadOnly = true
	db, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	if n := count(t, db, cases.Reader.All); n != 3 {
		t.Errorf("%d cases", n)
	}
	err = db.Update(ctx, clerk, func(cases.Writer) error { return nil })
	wantFault(t, err, ErrReadOnly)
	checkSound(t, db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the file changed")
	}
}

func TestSecondProcessIsRefused(t *testing.T) {
	path := closedStore(t, 1)
	cmd := childOf("hold", path)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Wait()
	defer in.Close()
	ready := make([]byte, 5)
	if _, err := io.ReadFull(out, ready); err != nil || string(ready) != "ready" {
		t.Fatalf("child: %q %v", ready, err)
	}
	_, err = Open(path, testOptions())
	wantFault(t, err, ErrLocked)
	if !strings.Contains(err.Error(), "process "+strconv.Itoa(cmd.Process.Pid)) {
		t.Errorf("the holder is not named: %v", err)
	}
	o := testOptions()
	o.ReadOnly = true
	_, err = Open(path, o)
	wantFault(t, err, ErrLocked)
}

func TestNewerSchemaIsRefused(t *testing.T) {
	path := closedStore(t, 1)
	o := testOptions()
	db, err := openWith(path, o, append(slices.Clone(steps), step{number: latestSchema(steps) + 1, name: "next", run: func(*bbolt.Tx) error { return nil }}))
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = Open(path, o)
	wantFault(t, err, ErrNewer)
	if s := err.Error(); !strings.Contains(s, fmt.Sprint("schema is ", latestSchema(steps)+1)) || !strings.Contains(s, fmt.Sprint("reads up to ", latestSchema(steps))) {
		t.Errorf("says %q", s)
	}
	if _, err := os.Stat(path + ".before-" + fmt.Sprint(latestSchema(steps)+1)); err != nil {
		t.Error(err)
	}
}

func TestUncleanStopIsChecked(t *testing.T) {
	path := closedStore(t, 5)
	if err := os.WriteFile(markerPath(path), []byte("1\n2026-03-20T12:00:00Z\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	db := openAt(t, path, testOptions())
	if db.CleanStart() {
		t.Error("the unclean stop was not noticed")
	}
	db.Close()
	if _, err := os.Stat(markerPath(path)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the marker stayed: %v", err)
	}
	if db = openAt(t, path, testOptions()); !db.CleanStart() {
		t.Error("a clean stop was taken for an unclean one")
	}
}

func TestIndexDriftAfterUncleanStopIsMended(t *testing.T) {
	path := closedStore(t, 5)
	rawly(t, path, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("cases.born")).Put([]byte("2026-01-01zzz"), nil) })
	os.WriteFile(markerPath(path), []byte("1\nx\n"), 0o600)
	openAt(t, path, testOptions()) // its clean-up checks again
}

func TestDamageAfterUncleanStopKeepsTheStoreShut(t *testing.T) {
	path := closedStore(t, 5)
	rawly(t, path, func(tx *bbolt.Tx) error { return flip(tx, "cases") })
	os.WriteFile(markerPath(path), []byte("1\nx\n"), 0o600)
	_, err := Open(path, testOptions())
	wantFault(t, err, ErrDamaged)
	if !strings.Contains(err.Error(), "verified backup") {
		t.Errorf("says %q", err)
	}
	if _, err := os.Stat(markerPath(path)); err != nil {
		t.Error("the marker must stay until the store is sound")
	}
}

// rawly changes the file behind the store's back.
func rawly(t *testing.T, path string, f func(tx *bbolt.Tx) error) {
	t.Helper()
	b, err := bbolt.Open(path, 0o600, &bbolt.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.Update(f); err != nil {
		t.Fatal(err)
	}
}

// flip turns one bit in the last value of a bucket.
func flip(tx *bbolt.Tx, bucket string) error {
	b := tx.Bucket([]byte(bucket))
	k, v := b.Cursor().Last()
	k, v = bytes.Clone(k), bytes.Clone(v)
	v[len(v)-20] ^= 1
	return b.Put(k, v)
}

func TestFailedOpenKeepsTheMarker(t *testing.T) {
	path := closedStore(t, 1)
	rawly(t, path, func(tx *bbolt.Tx) error { return metaPut(tx, metaSchema, "99") })
	os.WriteFile(markerPath(path), []byte("1\nx\n"), 0o600)
	_, err := Open(path, testOptions())
	wantFault(t, err, ErrNewer)
	if _, err := os.Stat(markerPath(path)); err != nil {
		t.Error("the marker of an unclean stop was removed by a failed start")
	}
}
