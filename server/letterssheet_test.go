package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLettersSheet(t *testing.T) {
	settings := filepath.Join(t.TempDir(), "settings.json")
	if err := os.WriteFile(settings, []byte(`{"letters":{"envelope":"din5008-dl"}}`), 0o600); err != nil {
		t.Fatal(err)
	}
	for want, args := range map[string][]string{
		"No. 10,":              nil,
		"DIN 5008 form B, DL,": {"--config", settings},
		"DIN 5008 form B, C5,": {"--config", settings, "--envelope", "din5008-c5"},
	} {
		path := filepath.Join(t.TempDir(), "sheet.pdf")
		args = append(append([]string{"letters", "sheet"}, args...), path)
		code, out, errs := call(t, "", args...)
		if code != exitOK || !strings.Contains(out, want) {
			t.Errorf("%v: code %d, %s%s", args, code, out, errs)
		}
		if pdf, err := os.ReadFile(path); err != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
			t.Errorf("%v: no PDF, %v", args, err)
		}
		if code, _, errs := call(t, "", args...); code != exitFailed || !strings.Contains(errs, "exist") {
			t.Errorf("a file that was there was written over: code %d, %s", code, errs)
		}
	}
	path := filepath.Join(t.TempDir(), "sheet.pdf")
	if code, _, errs := call(t, "", "letters", "sheet", "--envelope", "c4", path); code != exitUsage || !strings.Contains(errs, "din5008-c5, din5008-c6-5, din5008-dl, no10") {
		t.Errorf("code %d, %s", code, errs)
	}
	if err := os.WriteFile(settings, []byte(`{"letters":{"envelope":"c4"}}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := call(t, "", "letters", "sheet", "--config", settings, path); code != exitUsage || !strings.Contains(errs, `no envelope profile "c4"`) {
		t.Errorf("code %d, %s", code, errs)
	}
}
