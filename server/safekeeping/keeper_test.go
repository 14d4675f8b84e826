package safekeeping

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

var ctx = context.Background()

// fixture is a small store with a keeper of an encrypted folder.
type fixture struct {
	t      *testing.T
	dir    string
	db     *store.DB
	keeper *Keeper
	opt    Options
	key    string // path of the private key
	now    time.Time
}

func (f *fixture) folder() string { return filepath.Join(f.dir, "back-ups") }

// check examines a file in this process.
func check(ctx context.Context, path string) (store.Summary, error) {
	return store.Examine(ctx, path, store.Options{})
}

func newFixture(t *testing.T, change ...func(*Options)) *fixture {
	t.Helper()
	f := &fixture{t: t, dir: t.TempDir(), now: time.Date(2026, 3, 5, 8, 40, 0, 0, time.UTC)}
	if err := os.Mkdir(f.folder(), 0o700); err != nil {
		t.Fatal(err)
	}
	var err error
	f.db, err = store.Open(filepath.Join(f.dir, "program.db"), store.Options{Now: func() time.Time { return f.now }, Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.db.Close() })
	f.add(3)
	f.key = filepath.Join(f.dir, "key.txt")
	public, err := NewKey(f.key)
	if err != nil {
		t.Fatal(err)
	}
	f.opt = Options{Folder: f.folder(), Source: f.db, Examine: check, Now: func() time.Time { return f.now }, Recipients: f.write("keys.txt", "# the program\n"+public+"\n"), Release: "test"}
	for _, c := range change {
		c(&f.opt)
	}
	if f.keeper, err = New(f.opt); err != nil {
		t.Fatal(err)
	}
	return f
}

func (f *fixture) write(name, text string) string {
	f.t.Helper()
	path := filepath.Join(f.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		f.t.Fatal(err)
	}
	return path
}

// add records n more cases.
func (f *fixture) add(n int) {
	f.t.Helper()
	err := f.db.Update(ctx, cases.Actor{ID: "wren", Name: "Wren", Role: cases.Coordinator}, func(w cases.Writer) error {
		for i := range n {
			born := cases.MakeDay(2026, 2, 1+i%20)
			_, err := w.PutCase(cases.Case{Infant: cases.Infant{Given: "Marigold", Family: "Fenwick-Ade", Born: born, Sex: "female"}, Referral: cases.Referral{On: born + 7, Route: "screen"}}, cases.Event{Kind: "opened"})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
}

func (f *fixture) make() Manifest {
	f.t.Helper()
	m, _, err := f.keeper.Make(ctx, "schedule")
	if err != nil {
		f.t.Fatal(err)
	}
	f.now = f.now.Add(30 * time.Minute)
	return m
}

func (f *fixture) keys(path string) Identities {
	f.t.Helper()
	in, err := os.Open(path)
	if err != nil {
		f.t.Fatal(err)
	}
	defer in.Close()
	id, err := ReadIdentities(in, path)
	if err != nil {
		f.t.Fatal(err)
	}
	return id
}

func (f *fixture) restore(from, to string) (Restored, error) {
	return Restore(ctx, Restoring{From: from, To: to, Keys: f.keys(f.key), Examine: check})
}

//asvs:14.2.4
func TestABackupIsEncryptedVerifiedAndRestoredByteForByte(t *testing.T) {
	f := newFixture(t)
	m := f.make()
	path := filepath.Join(f.folder(), m.File)
	if m.File != "program-20260305T084000Z.db.age" || m.Verified.IsZero() || m.Counts["cases"] != 3 || m.AuditSeq != 3 || m.By != "schedule" || m.Schema == 0 {
		t.Errorf("manifest %+v", m)
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(raw, []byte("Marigold")) || int64(len(raw)) != m.Bytes {
		t.Error("the file is not encrypted, or of another size")
	}
	if text, _ := os.ReadFile(filepath.Join(f.folder(), manifestOf(m.File))); bytes.Contains(text, []byte("Marigold")) {
		t.Error("the manifest names an infant")
	}
	for _, left := range []string{f.db.Path() + ".snapshot", path + ".part"} {
		if _, err := os.Stat(left); err == nil {
			t.Errorf("%s was left", left)
		}
	}
	to := filepath.Join(f.dir, "again.db")
	done, err := f.restore(path, to)
	if err != nil {
		t.Fatal(err)
	}
	if sum, n, err := hashFile(to); err != nil || sum != m.StoreHash || n != m.StoreBytes || done.Summary.Hash != m.AuditHash || done.Note != "" {
		t.Errorf("restored %s, %d bytes, %v: %+v", sum, n, err, done)
	}
}

// Twenty states of a store that goes on changing, each restored byte for byte.
func TestTwentyRestoresAreByteEqual(t *testing.T) {
	f := newFixture(t, func(o *Options) { o.Keep = Keep{} })
	for i := range 20 {
		f.add(1 + i%4)
		m := f.make()
		to := filepath.Join(f.dir, fmt.Sprintf("again-%d.db", i))
		if _, err := f.restore(f.folder(), to); err != nil {
			t.Fatal(err)
		}
		if sum, _, err := hashFile(to); err != nil || sum != m.StoreHash {
			t.Errorf("restore %d: %s, %v", i, sum, err)
		}
	}
}

func TestUnencryptedIsSaidOnPurpose(t *testing.T) {
	f := newFixture(t)
	for name, o := range map[string]func(*Options){"neither": func(o *Options) { o.Recipients = "" }, "both": func(o *Options) { o.Unencrypted = true }} {
		opt := f.opt
		o(&opt)
		if _, err := New(opt); err == nil || !strings.Contains(err.Error(), "every name and result") {
			t.Errorf("%s: %v", name, err)
		}
	}
	g := newFixture(t, func(o *Options) { o.Recipients, o.Unencrypted = "", true })
	m := g.make()
	to := filepath.Join(g.dir, "again.db")
	done, err := Restore(ctx, Restoring{From: filepath.Join(g.folder(), m.File), To: to, Examine: check})
	if err != nil || m.Encrypted() || done.Summary.Counts["cases"] != 3 || !strings.HasSuffix(m.File, ".db") {
		t.Errorf("%v, %+v", err, done)
	}
}

func TestMakeRefuses(t *testing.T) {
	for name, x := range map[string]struct {
		change func(*fixture)
		says   string
	}{
		"a private key among the public ones": {func(f *fixture) {
			text, _ := os.ReadFile(f.key)
			f.write("keys.txt", string(text))
		}, "must hold one key that begins with age1"},
		"no keys":       {func(f *fixture) { f.write("keys.txt", "# none\n") }, "must hold one key"},
		"no key file":   {func(f *fixture) { os.Remove(f.opt.Recipients) }, "the file of public keys"},
		"no folder":     {func(f *fixture) { os.Remove(f.folder()) }, "is not there. Make the folder, or mount the disk"},
		"little space":  {func(f *fixture) { f.keeper.o.Free = func(string) (uint64, bool) { return 1 << 20, true } }, "there is not enough space"},
		"copy unsound":  {func(f *fixture) { f.keeper.o.Examine = unsound }, "does not hold up, so it is not kept"},
		"one in making": {func(f *fixture) { f.keeper.busy.Lock() }, "being made already"},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFixture(t)
			x.change(f)
			_, _, err := f.keeper.Make(ctx, "schedule")
			if err == nil || !strings.Contains(err.Error(), x.says) {
				t.Fatalf("says %v", err)
			}
			left, _ := filepath.Glob(filepath.Join(f.folder(), "*"))
			beside, _ := filepath.Glob(f.db.Path() + ".*")
			for _, p := range append(left, beside...) {
				if !strings.HasSuffix(p, ".open") {
					t.Errorf("%s was left", p)
				}
			}
		})
	}
}

func unsound(_ context.Context, path string) (store.Summary, error) {
	return store.Summary{}, &store.Unsound{Path: path, Problems: []store.Problem{{Where: "cases 1", Text: "A record is damaged."}}}
}

func TestWhatAKilledBackupLeftIsCleared(t *testing.T) {
	f := newFixture(t)
	parts := []string{f.db.Path() + ".snapshot", filepath.Join(f.folder(), "program-20260305T080000Z.db.age.part")}
	other := filepath.Join(f.folder(), "letter.part")
	for _, p := range append(parts, other) {
		if err := os.WriteFile(p, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.keeper.Clear(); err != nil {
		t.Fatal(err)
	}
	for _, p := range parts {
		if _, err := os.Stat(p); err == nil {
			t.Errorf("%s stays", p)
		}
	}
	if _, err := os.Stat(other); err != nil {
		t.Error("a file that is not ours was removed")
	}
}

func TestTheEndOfTheProgramEndsABackup(t *testing.T) {
	f := newFixture(t)
	gone, cancel := context.WithCancel(ctx)
	f.keeper.o.Examine = func(c context.Context, path string) (store.Summary, error) {
		s, err := check(c, path)
		cancel()
		return s, err
	}
	if _, _, err := f.keeper.Make(gone, "schedule"); err == nil {
		t.Fatal("went on")
	}
	if left, _ := filepath.Glob(filepath.Join(f.folder(), "*")); len(left) > 0 {
		t.Errorf("left %v", left)
	}
}
