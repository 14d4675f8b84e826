package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// backedUp is a store with one case, settings with a folder of encrypted back-ups, and
// the private key.
type backedUp struct{ dir, store, config, folder, key string }

func newBackedUp(t *testing.T) backedUp {
	t.Helper()
	dir := t.TempDir()
	b := backedUp{dir, filepath.Join(dir, "program.db"), filepath.Join(dir, "dunlin.json"), filepath.Join(dir, "back-ups"), filepath.Join(dir, "key.txt")}
	code, public, errs := call(t, "", "backup", "--new-key", b.key)
	if code != exitOK {
		t.Fatal(errs)
	}
	public, _, _ = strings.Cut(public, "\n")
	write := func(path, text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(filepath.Join(dir, "keys.txt"), public+"\n")
	text, err := json.Marshal(map[string]any{"store": b.store, "listen": "127.0.0.1:0", "backup": map[string]any{"folder": b.folder, "recipients": filepath.Join(dir, "keys.txt")}})
	if err != nil {
		t.Fatal(err)
	}
	write(b.config, string(text))
	if err := os.Mkdir(b.folder, 0o700); err != nil {
		t.Fatal(err)
	}
	if code, out, errs := call(t, "", "import", "--config", b.config, "../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7"); code != exitOK {
		t.Fatalf("import: %s %s", out, errs)
	}
	return b
}

// TestMovingToANewMachine: one command on each side, and the new program knows that it
// was restored.
func TestMovingToANewMachine(t *testing.T) {
	b := newBackedUp(t)
	if code, out, errs := call(t, "", "backup", "--config", b.config); code != exitOK || !strings.Contains(out, "verified") || !strings.Contains(out, "encrypted to 1 key(s), 1 cases") {
		t.Fatalf("backup: %d %s %s", code, out, errs)
	}
	if code, out, errs := call(t, "", "backup", "--config", b.config, "--list"); code != exitOK || !strings.Contains(out, ".db.age") {
		t.Errorf("list: %d %s %s", code, out, errs)
	}
	moved := filepath.Join(t.TempDir(), "new.db")
	code, out, errs := call(t, "", "restore", b.folder, "--identity", b.key, "--to", moved)
	if code != exitOK || !strings.Contains(out, "is restored from") || !strings.Contains(out, "Letters that were printed after that time") || !strings.Contains(out, "Everybody must sign in again") {
		t.Fatalf("restore: %d %s %s", code, out, errs)
	}
	if code, out, errs := call(t, "", "check", "--store", moved); code != exitOK {
		t.Errorf("check: %d %s %s", code, out, errs)
	}
	config := filepath.Join(t.TempDir(), "new.json")
	text, _ := json.Marshal(map[string]any{"store": moved, "listen": "127.0.0.1:0"})
	if err := os.WriteFile(config, text, 0o600); err != nil {
		t.Fatal(err)
	}
	_, stop := serveFor(t, config)
	stop()
	if _, err := os.Stat(wordPath(moved)); err == nil {
		t.Error("the word of the restore still lies there")
	}
	cfg := defaultConfig()
	cfg.Store = moved
	if err := cfg.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&cfg, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	if n := notes(t, s, "restored"); len(n) != 1 || !strings.Contains(n[0], "What was recorded after that time is not in it.") {
		t.Errorf("entries %q", n)
	}
}

func TestRestoreAndBackupRefuseOnTheCommandLine(t *testing.T) {
	b := newBackedUp(t)
	if code, out, errs := call(t, "", "backup", "--config", b.config); code != exitOK {
		t.Fatal(out, errs)
	}
	private, err := os.ReadFile(b.key)
	if err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		in   string
		args []string
		code int
		says string
	}{
		"plain without the word": {"", []string{"backup", "--config", b.config, filepath.Join(b.dir, "copy.db")}, exitUsage, "add --unencrypted"},
		"file and folder":        {"", []string{"backup", "--config", b.config, "--to", b.dir, "--unencrypted", "x.db"}, exitUsage, "not both"},
		"no folder set":          {"", []string{"backup", "--store", b.store}, exitFailed, "no folder of back-ups is set"},
		"no keys for the folder": {"", []string{"backup", "--store", b.store, "--to", b.dir}, exitFailed, "name a file of public keys"},
		"over a store":           {"", []string{"restore", "--identity", b.key, "--to", b.store, b.folder}, exitFailed, "never writes over a store. Stop the program and move the file away first:\n  mv " + b.store},
		"no key":                 {"", []string{"restore", b.folder, "--to", filepath.Join(b.dir, "x.db")}, exitFailed, "is encrypted. Name the file with the private key"},
		"public key":             {"", []string{"restore", b.folder, "--identity", filepath.Join(b.dir, "keys.txt"), "--to", filepath.Join(b.dir, "x.db")}, exitFailed, "is not a private key"},
		"no target":              {"", []string{"restore", b.folder, "--identity", b.key}, exitUsage, "--to FILE"},
		"two":                    {"", []string{"restore", b.folder, "--to", "x.db", b.folder}, exitUsage, "name one back-up"},
		"a drill":                {"", []string{"restore", b.folder, "--identity", b.key, "--drill"}, exitOK, "can be restored: 1 cases"},
		"key from the input":     {string(private), []string{"restore", b.folder, "--identity", "-", "--to", filepath.Join(b.dir, "y.db")}, exitOK, "is restored from"},
	} {
		code, out, errs := call(t, x.in, x.args...)
		if code != x.code || !strings.Contains(out+errs, x.says) {
			t.Errorf("%s: code %d, %s %s", name, code, out, errs)
		}
	}
	if _, err := os.Stat(filepath.Join(b.dir, "x.db")); err == nil {
		t.Error("a refused restore left a file")
	}
}

func TestCompact(t *testing.T) {
	b := newBackedUp(t)
	if code, out, errs := call(t, "", "compact", "--config", b.config); code != exitOK || !strings.Contains(out, "1 cases, checked") {
		t.Fatalf("compact: %d %s %s", code, out, errs)
	}
	if code, out, errs := call(t, "", "check", "--config", b.config); code != exitOK {
		t.Errorf("check: %d %s %s", code, out, errs)
	}
	_, stop := serveFor(t, b.config)
	code, _, errs := call(t, "", "compact", "--config", b.config)
	stop()
	if code != exitFailed || !strings.Contains(errs, "Stop it first") {
		t.Errorf("while serving: %d %s", code, errs)
	}
}

func TestBackupSettingsAreChecked(t *testing.T) {
	keys := filepath.Join(t.TempDir(), "keys.txt")
	if err := os.WriteFile(keys, []byte("age1nonsense\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		change func(*backupConfig)
		says   string
	}{
		"no keys":   {func(b *backupConfig) { b.Folder = "x" }, "backup.recipients is missing"},
		"both":      {func(b *backupConfig) { b.Folder, b.Recipients, b.Unencrypted = "x", keys, true }, "give one of them"},
		"bad key":   {func(b *backupConfig) { b.Folder, b.Recipients = "x", keys }, "begins with age1"},
		"too often": {func(b *backupConfig) { b.Every = "@every 1s" }, "backup.every"},
		"at night":  {func(b *backupConfig) { b.Scrub = "0 3 * * *" }, "backup.scrub"},
		"negative":  {func(b *backupConfig) { b.Keep.Daily = -1 }, "backup.keep"},
	} {
		c := defaultConfig()
		x.change(&c.Backup)
		if err := c.settle(); err == nil || !strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
