package safekeeping

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases/store"
)

// copyFolder copies a folder of back-ups, so that one can be damaged.
func copyFolder(t *testing.T, from string) string {
	t.Helper()
	to := t.TempDir()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return to
}

func edit(t *testing.T, path string, f func([]byte) []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err == nil {
		err = os.WriteFile(path, f(b), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// firstChunk cuts an encrypted file after its first chunk, where only the mark of the
// last chunk can tell that more should follow. The format: head up to a line that begins
// with three dashes, 16 bytes, chunks of 64 KiB with 16 more each.
func firstChunk(b []byte) []byte {
	mac := bytes.Index(b, []byte("\n---")) + 1
	end := mac + bytes.IndexByte(b[mac:], '\n') + 1 + 16 + 64<<10 + 16
	if end >= len(b) {
		panic("the back-up has one chunk only")
	}
	return b[:end]
}

// TestBadInputAtRestore gives each thing that can be wrong and asks for the words that
// name it. Nothing may be left behind, and the back-up must stay as it was.
func TestBadInputAtRestore(t *testing.T) {
	f := newFixture(t)
	f.add(97)
	m := f.make()
	other := filepath.Join(f.dir, "other.txt")
	if _, err := NewKey(other); err != nil {
		t.Fatal(err)
	}
	flip := func(at func(n int) int) func([]byte) []byte {
		return func(b []byte) []byte { b[at(len(b))] ^= 4; return b }
	}
	cut := func(n int) func([]byte) []byte { return func(b []byte) []byte { return b[:len(b)-n] } }
	middle := flip(func(n int) int { return n / 2 })
	for name, x := range map[string]struct {
		hurt     func([]byte) []byte // of the back-up
		manifest func([]byte) []byte
		lost     bool // no manifest
		change   func(*Restoring)
		says     string // "" = it is restored
	}{
		"wrong key":                   {change: func(r *Restoring) { r.Keys = f.keys(other) }, says: "this private key does not open"},
		"no key":                      {change: func(r *Restoring) { r.Keys = Identities{} }, says: "is encrypted. Name the file with the private key"},
		"cut short":                   {hurt: cut(1000), says: "was cut short"},
		"one flipped byte":            {hurt: middle, says: "is damaged: its hash is not the one"},
		"flipped, no manifest":        {hurt: middle, lost: true, says: "cannot be read to its end: it is damaged"},
		"cut short, no manifest":      {hurt: cut(1000), lost: true, says: "damaged"},
		"cut at a chunk, no manifest": {hurt: firstChunk, lost: true, says: "Nothing was restored"},
		"flipped head, no manifest":   {hurt: flip(func(int) int { return 60 }), lost: true, says: "Nothing was restored"},
		"empty":                       {hurt: func([]byte) []byte { return nil }, lost: true, says: "Nothing"},
		"not a back-up":               {hurt: func([]byte) []byte { return bytes.Repeat([]byte("notes of the day\n"), 900) }, lost: true, says: "does not hold up as a store"},
		"no manifest":                 {lost: true},
		"manifest flipped":            {manifest: middle},
		"manifest empty":              {manifest: func([]byte) []byte { return nil }},
		"target is there":             {change: func(r *Restoring) { r.To = f.db.Path() }, says: "is there already, and restoring never writes over a store"},
		"no folder for it":            {change: func(r *Restoring) { r.To = filepath.Join(f.dir, "none", "x.db") }, says: "is not a folder"},
		"little space":                {change: func(r *Restoring) { r.Free = func(string) (uint64, bool) { return 1000, true } }, says: "there is not enough space"},
		"unsound":                     {change: func(r *Restoring) { r.Examine = unsound }, says: "does not hold up as a store. Nothing was restored"},
		"no back-up in the folder":    {change: func(r *Restoring) { r.From = f.dir }, says: "holds no verified back-up"},
		"a drill leaves nothing":      {change: func(r *Restoring) { r.Drill = true }},
	} {
		t.Run(name, func(t *testing.T) {
			folder := copyFolder(t, f.folder())
			path := filepath.Join(folder, m.File)
			if x.hurt != nil {
				edit(t, path, x.hurt)
			}
			if x.manifest != nil {
				edit(t, filepath.Join(folder, manifestOf(m.File)), x.manifest)
			}
			if x.lost {
				os.Remove(filepath.Join(folder, manifestOf(m.File)))
			}
			before, _, err := hashFile(path)
			if err != nil {
				t.Fatal(err)
			}
			to := t.TempDir()
			r := Restoring{From: path, To: filepath.Join(to, "again.db"), Keys: f.keys(f.key), Examine: check}
			if x.change != nil {
				x.change(&r)
			}
			done, err := Restore(ctx, r)
			left, _ := filepath.Glob(filepath.Join(to, "*"))
			if x.says == "" {
				if err != nil || (len(left) == 0) != r.Drill || done.Summary.Counts["cases"] != 100 || (x.lost || x.manifest != nil) != (done.Note != "") {
					t.Fatalf("%v, left %v, %+v", err, left, done)
				}
			} else if err == nil || !strings.Contains(err.Error(), x.says) || len(left) > 0 {
				t.Errorf("says %v, left %v", err, left)
			}
			if after, _, _ := hashFile(path); after != before {
				t.Error("the back-up was changed")
			}
		})
	}
	if problems, err := f.db.Check(ctx); err != nil || len(problems) > 0 {
		t.Errorf("the store: %v, %v", problems, err)
	}
}

// Every flipped byte of a back-up without a manifest is found, or does not matter: what
// is restored has the bytes that were backed up.
func TestFlippedBytesNeverGetThrough(t *testing.T) {
	f := newFixture(t)
	m := f.make()
	folder := copyFolder(t, f.folder())
	os.Remove(filepath.Join(folder, manifestOf(m.File)))
	path := filepath.Join(folder, m.File)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range 150 {
		at := rng.IntN(len(whole))
		if i < 60 {
			at = i * 8 // the head
		}
		hurt := bytes.Clone(whole)
		hurt[at] ^= 1 << rng.IntN(8)
		if err := os.WriteFile(path, hurt, 0o600); err != nil {
			t.Fatal(err)
		}
		to := filepath.Join(t.TempDir(), "again.db")
		if _, err := f.restore(path, to); err == nil {
			t.Errorf("byte %d of %d was flipped and not found", at, len(whole))
		}
		if _, err := os.Stat(to); err == nil {
			t.Errorf("byte %d: a store was made", at)
		}
	}
}

func TestTheNewestSoundBackupIsTaken(t *testing.T) {
	f := newFixture(t)
	old := f.make()
	f.add(1)
	newer := f.make()
	if h, ok := Newest(f.folder()); !ok || h.File != newer.File {
		t.Errorf("newest %v", h.File)
	}
	edit(t, filepath.Join(f.folder(), newer.File), func(b []byte) []byte { b[len(b)/2] ^= 1; return b })
	h, ok := Newest(f.folder())
	if !ok || h.File != old.File {
		t.Errorf("newest sound one %v", h.File)
	}
	if c := Command(h, "/srv/my program.db"); c != "dunlin restore "+h.Path+" --identity KEYFILE --to '/srv/my program.db'" {
		t.Errorf("command %s", c)
	}
	if _, err := Scrub(ctx, f.db, check, f.folder()); err == nil || !strings.Contains(err.Error(), newer.File) || !strings.Contains(err.Error(), "was changed since it was written") {
		t.Errorf("the scrub says %v", err)
	}
	if note, err := Scrub(ctx, f.db, check, ""); err != nil || note != "4 cases and 4 audit entries are sound" {
		t.Errorf("%q, %v", note, err)
	}
	if _, err := Scrub(ctx, f.db, unsound, ""); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), "the store does not hold up") {
		t.Errorf("the scrub of a damaged store says %v", err)
	}
}

// The journal of sent messages outlives the disk of the store, and a restore takes it.
func TestTheJournalOfSentMessagesComesBack(t *testing.T) {
	f := newFixture(t, func(o *Options) { o.Journal = filepath.Join(filepath.Dir(o.Folder), "program.db.sent") })
	lines := []string{"2026-03-04T08:00:00Z " + strings.Repeat("a", 64), "2026-03-05T08:00:00Z " + strings.Repeat("b", 64)}
	f.write("program.db.sent", "\n"+lines[0])
	m := f.make()
	f.write("program.db.sent", "\n"+lines[0]+"\n"+lines[1])
	if err := f.keeper.SaveJournal(); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "again.db")
	done, err := f.restore(filepath.Join(f.folder(), m.File), to)
	if err != nil || done.Journal != 2 {
		t.Fatalf("%d lines, %v", done.Journal, err)
	}
	got, err := os.ReadFile(to + ".sent")
	if err != nil || strings.TrimSpace(string(got)) != strings.Join(lines, "\n") {
		t.Errorf("journal %q, %v", got, err)
	}
}

func TestKeysOfBothKinds(t *testing.T) {
	f := newFixture(t)
	second := filepath.Join(f.dir, "second.txt")
	public, err := NewKey(second)
	if err != nil {
		t.Fatal(err)
	}
	edit(t, f.opt.Recipients, func(b []byte) []byte { return append(b, public...) })
	m := f.make()
	for _, key := range []string{f.key, second} {
		if _, err := Restore(ctx, Restoring{From: filepath.Join(f.folder(), m.File), To: filepath.Join(t.TempDir(), "x.db"), Keys: f.keys(key), Examine: check}); err != nil {
			t.Errorf("%s: %v", key, err)
		}
	}
	if _, err := NewKey(second); err == nil || !strings.Contains(err.Error(), "left alone") {
		t.Errorf("a key was written over: %v", err)
	}
	if _, err := ReadIdentities(strings.NewReader(public), "keys.txt"); err == nil || !strings.Contains(err.Error(), "is not a private key") {
		t.Errorf("a public key was taken as a private one: %v", err)
	}
}

func TestARestoreCanBeStopped(t *testing.T) {
	f := newFixture(t)
	m := f.make()
	gone, cancel := context.WithTimeout(ctx, time.Nanosecond)
	defer cancel()
	to := filepath.Join(t.TempDir(), "x.db")
	if _, err := Restore(gone, Restoring{From: filepath.Join(f.folder(), m.File), To: to, Keys: f.keys(f.key), Examine: check}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("says %v", err)
	}
	if left, _ := filepath.Glob(to + "*"); len(left) > 0 {
		t.Errorf("left %v", left)
	}
}
