package outbox_test

import (
	"io"
	"net/mail"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/outbox"
)

func TestFolderHoldsWhatWouldGoOut(t *testing.T) {
	w := newWorld(t)
	dir := filepath.Join(t.TempDir(), "out")
	f := &outbox.Folder{Path: dir, From: "followup@alderbay.example", FromName: "Wren Castellano"}
	k := w.worker(f, f)
	o := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	x := w.queue(cases.MessageNudge, "call 2", cases.ByText)
	if got := w.run(k); got.Sent != 2 {
		t.Fatalf("%v", got)
	}
	file, err := os.Open(filepath.Join(dir, o.Number+".1.eml"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	m, err := mail.ReadMessage(file)
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(m.Body)
	if m.Header.Get("To") != "<ina@family.example>" || !strings.Contains(string(body), "555-0142") {
		t.Errorf("%v\n%s", m.Header, body)
	}
	text, err := os.ReadFile(filepath.Join(dir, x.Number+".1.json"))
	if err != nil || !strings.Contains(string(text), `"to":"5555550101"`) {
		t.Errorf("%s %v", text, err)
	}
	list, _ := os.ReadDir(dir)
	for _, e := range list {
		if info, _ := e.Info(); info.Mode().Perm() != 0o600 || strings.HasSuffix(e.Name(), ".part") {
			t.Errorf("%s %v", e.Name(), info.Mode())
		}
	}
	if len(list) != 2 {
		t.Errorf("%d files", len(list))
	}
}

// TestJournalOutlivesABrokenLine cuts the file off within its last line.
func TestJournalOutlivesABrokenLine(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sent")
	w := newWorld(t)
	worker := func() *outbox.Worker {
		j, err := outbox.OpenJournal(path)
		if err != nil {
			t.Fatal(err)
		}
		o := w.options(&fake{}, nil)
		o.Journal = j
		k, err := outbox.New(o)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	for _, occasion := range []string{"a", "b"} {
		w.queue(cases.MessageNudge, occasion, cases.ByEmail)
	}
	w.run(worker())
	b, err := os.ReadFile(path)
	if err != nil || strings.Contains(string(b), "nudge") || strings.Contains(string(b), string(w.c.ID)) {
		t.Fatalf("%s %v", b, err)
	}
	if err := os.WriteFile(path, b[:len(b)-9], 0o600); err != nil {
		t.Fatal(err)
	}
	w.queue(cases.MessageNudge, "c", cases.ByEmail)
	w.run(worker())
	b, _ = os.ReadFile(path)
	lines := strings.Fields(string(b))
	if len(lines) != 6 || len(lines[5]) != 64 {
		t.Errorf("%q", b)
	}
}
