package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// folderOf makes a folder of messages with a good one, the same again, one for a
// person, one of another type, one that is no message, a hidden one and one deeper.
func folderOf(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	put := func(name string, data []byte) {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	good, err := os.ReadFile("../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7")
	if err != nil {
		t.Fatal(err)
	}
	put("a.hl7", good)
	put("b.hl7", good)
	order, _, _ := bytes.Cut(good, []byte("OBR|")) // an order without a result
	put("deep/er/c.hl7", bytes.Replace(order, []byte("ORU^R01^ORU_R01"), []byte("ORM^O01^ORM_O01"), 1))
	put("d.hl7", bytes.Replace(good, []byte("20260301041500"), []byte("20260231041500"), 1))
	put("e.txt", []byte("Dear colleague, please see attached."))
	put(".hidden/f.hl7", good)
	put("empty.hl7", nil)
	return dir
}

var closingCount = regexp.MustCompile(`(?m)^(\d+) read, (\d+) set aside, (\d+) refused, of (\d+) files; (\d+) in: `)

// TestDryRun prints one line a message, adds up, and leaves no trace, with a store
// and without one.
func TestDryRun(t *testing.T) {
	dir := folderOf(t)
	db := filepath.Join(t.TempDir(), "dunlin.db")
	check := func(wantRead, wantAside, wantRefused int) {
		t.Helper()
		code, out, errs := call(t, "", "import", "--store", db, "--dry-run", dir)
		if code != exitOK {
			t.Fatalf("exit %d: %s", code, errs)
		}
		g := closingCount.FindStringSubmatch(out)
		if g == nil {
			t.Fatalf("no closing count in\n%s", out)
		}
		want := []string{fmt.Sprint(wantRead), fmt.Sprint(wantAside), fmt.Sprint(wantRefused), "6", "6"}
		for i, w := range want {
			if g[i+1] != w {
				t.Errorf("figure %d is %s, want %s:\n%s", i+1, g[i+1], w, out)
			}
		}
		if n := strings.Count(out, "\n"); n != 7 {
			t.Errorf("%d lines, want one a message and the count:\n%s", n, out)
		}
		for _, want := range []string{"d.hl7, message 1: set aside: ", "PID[1]-7", "deep/er/c.hl7, message 1: refused: MSH-9", "empty.hl7, file: set aside: The file is empty."} {
			if !strings.Contains(out, want) {
				t.Errorf("%q is not in\n%s", want, out)
			}
		}
	}
	check(2, 3, 1) // a.hl7 would open a case, b.hl7 is the same again
	if _, err := os.Stat(db); err == nil {
		t.Error("a dry run made a store")
	}
	if code, _, errs := call(t, "", "import", "--store", db, filepath.Join(dir, "a.hl7")); code != exitOK {
		t.Fatalf("import: %s", errs)
	}
	before, err := os.ReadFile(db)
	if err != nil {
		t.Fatal(err)
	}
	check(2, 3, 1) // both are already here now
	after, err := os.ReadFile(db)
	if err != nil || !bytes.Equal(before, after) {
		t.Errorf("a dry run changed the store, %v", err)
	}
	if code, out, _ := call(t, "", "overdue", "--store", db); code != exitOK || !strings.Contains(out, "1 on the list") {
		t.Errorf("the store holds more than the one infant:\n%s", out)
	}
}

// TestImportFolderInBatches splits a folder that is larger than one batch, and takes
// each file in once.
func TestImportFolderInBatches(t *testing.T) {
	dir := t.TempDir()
	big := bytes.Repeat([]byte("not a message at all\n"), (11<<20)/21)
	for i := range 4 {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.txt", i)), append(big, byte('a'+i)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	code, out, errs := call(t, "", "import", "--store", filepath.Join(t.TempDir(), "dunlin.db"), dir, filepath.Join(dir, "missing.hl7"))
	if code != exitFailed || !strings.Contains(errs, "missing.hl7") {
		t.Errorf("exit %d, says %q", code, errs)
	}
	if !strings.Contains(out, "4 in: 4 review") {
		t.Errorf("counts in\n%s", out)
	}
}
