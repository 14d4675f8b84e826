package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestArrivalSettings names every fault at once, and keeps passwords off the wire and
// off the command line.
func TestArrivalSettings(t *testing.T) {
	file := filepath.Join(t.TempDir(), "dunlin.json")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(`{"intake":{"date_order":"american","review_days":90},
		"mailbox":{"address":"imap.example.org:143","security":"none","folder":"","every":"@every 1s","max_mb":900},
		"interface":{"listen":"0.0.0.0:2575","cert":"a.pem"}}`)
	_, _, errs := call(t, "", "config", "--config", file)
	for _, want := range []string{"date_order", "review_days", "loopback only", "mailbox.user", "password_file", "mailbox.folder", "at least one minute", "max_mb", "client_ca", "interface.key"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not in %q", want, errs)
		}
	}
	write(`{"mailbox":{"address":"localhost:143","security":"none","user":"referrals","handled":"INBOX"}}`)
	t.Setenv(mailboxPasswordVariable, "not to be shown")
	if _, out, errs := call(t, "", "config", "--config", file); !strings.Contains(errs, "mailbox.handled") || strings.Contains(out+errs, "not to be shown") {
		t.Errorf("says %q %q", out, errs)
	}
	write(`{"live":true,"mailbox":{"address":"localhost:143","security":"none","user":"referrals"},"interface":{"listen":"127.0.0.1:2575"}}`)
	code, out, errs := call(t, "", "config", "--config", file)
	if code != exitOK || strings.Contains(out, "not to be shown") || !strings.Contains(out, `"folder": "INBOX"`) || !strings.Contains(out, `"live": true`) {
		t.Errorf("code %d: %s %s", code, out, errs)
	}
}

// TestMailboxPassword takes the variable before the file, and says what is wrong with
// the file.
func TestMailboxPassword(t *testing.T) {
	m := defaultMailbox()
	m.PasswordFile = filepath.Join(t.TempDir(), "password")
	if _, err := m.password(); err == nil {
		t.Error("a missing file was not said")
	}
	if err := os.WriteFile(m.PasswordFile, []byte("\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := m.password(); err == nil || !strings.Contains(err.Error(), "empty") {
		t.Errorf("an empty file: %v", err)
	}
	if err := os.WriteFile(m.PasswordFile, []byte("open sesame\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if p, err := m.password(); err != nil || p != "open sesame" {
		t.Errorf("%q, %v", p, err)
	}
	t.Setenv(mailboxPasswordVariable, "from outside")
	if p, err := m.password(); err != nil || p != "from outside" {
		t.Errorf("%q, %v", p, err)
	}
}
