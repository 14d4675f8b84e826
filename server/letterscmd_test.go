package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// ownTexts makes a folder of letter texts.
func ownTexts(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, body := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(body), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

const ownHead = "kind: booking\nlanguage: en\nversion: 2\ntitle: Your visit\nstatus: Agreed by the program\n---\n"

func TestLettersCheck(t *testing.T) {
	code, out, errs := call(t, "", "letters", "check")
	if code != exitOK || strings.Count(out, "passed") != 20 || !strings.Contains(out, "es/no-contact.txt") || strings.Contains(out, "TOO HARD") {
		t.Errorf("code %d\n%s%s", code, out, errs)
	}
	if !strings.Contains(errs, `hours_in has no "es"`) {
		t.Errorf("nothing said of the hours: %s", errs)
	}
	hard := ownTexts(t, map[string]string{"en/booking.txt": ownHead + "Quantitative iontophoresis demonstrates incontrovertible abnormalities."})
	code, out, errs = call(t, "", "letters", "check", "--folder", hard)
	if code != exitFailed || !strings.Contains(errs, "Too hard to read for families: en/booking.txt.") || !strings.Contains(out, "Agreed by the program") {
		t.Errorf("code %d\n%s%s", code, out, errs)
	}
	wrong := ownTexts(t, map[string]string{"en/booking.txt": ownHead + "Come on {visit_day}.\n\nCall {site_phone}.", "fr/booking.txt": strings.Replace(ownHead, "en", "fr", 1) + "Venez."})
	code, _, errs = call(t, "", "letters", "check", "--folder", wrong)
	for _, want := range []string{"en/booking.txt:9: the field {site_phone} may have no value", "fr/words.txt:1: the file is missing"} {
		if code != exitFailed || !strings.Contains(errs, want) {
			t.Errorf("code %d, want %q:\n%s", code, want, errs)
		}
	}
	code, out, _ = call(t, "", "letters", "fields")
	for _, want := range []string{"variants: intermediate, qns, unclear", "{site_phone}", "no: write ?site_phone"} {
		if code != exitOK || !strings.Contains(out, want) {
			t.Errorf("code %d, want %q:\n%s", code, want, out)
		}
	}
	for _, args := range [][]string{{"letters"}, {"letters", "print"}, {"letters", "check", "more"}} {
		if code, _, errs := call(t, "", args...); code != exitUsage || !strings.Contains(errs, "dunlin letters check") {
			t.Errorf("%v: code %d, %s", args, code, errs)
		}
	}
	if code, _, errs := call(t, "", "letters", "check", "--folder", filepath.Join(hard, "en", "booking.txt")); code != exitFailed || !strings.Contains(errs, "no folder") {
		t.Errorf("code %d, %s", code, errs)
	}
}

// The folder of the settings takes the place of the built-in text, and a fault in it
// keeps the program from starting to serve.
func TestLettersFolderOfTheSettings(t *testing.T) {
	dir := ownTexts(t, map[string]string{"en/booking.txt": ownHead + "Come on {visit_day}."})
	c := defaultConfig()
	c.LettersFolder = dir
	texts, err := c.letterTexts()
	if err != nil || !texts.Text("en", "booking", "").Own || texts.Text("en", "reminder", "").Own {
		t.Fatalf("err %v", err)
	}
	if w := c.letterWarnings(texts); len(w) != 2 || w[0] != "en/booking.txt:1: the letter never says {infant}, {contact}, {phone}, {emergency}" || !strings.Contains(w[1], "hours_in") {
		t.Errorf("warnings %q", w)
	}
	if err := os.WriteFile(filepath.Join(dir, "en", "b.txt"), []byte(ownHead+"{nobody}"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := c.letterTexts(); err == nil || !strings.Contains(err.Error(), "en/b.txt:7: unknown field {nobody}") {
		t.Errorf("err %v", err)
	}
	if err := c.settle(); err != nil {
		t.Fatal(err)
	}
	if _, err := newSite(&c, nil).press(nil); err == nil {
		t.Error("letters are made from a broken text")
	}
}

// What could not be set, or would never end, is found when the texts are loaded.
func TestLettersFolderThatCannotBeUsed(t *testing.T) {
	for name, x := range map[string]struct{ file, body, want string }{
		"script":   {"en/booking.txt", ownHead + "Come.\n\nتعال", "en/booking.txt:9: "},
		"emoji":    {"en/booking.txt", strings.Replace(ownHead, "Your visit", "Your visit \U0001F426", 1) + "Come.", "en/booking.txt:1: the title: "},
		"too long": {"en/booking.txt", ownHead + strings.Repeat("Come on that day, please.\n\n", 300), "the letter runs to"},
		"months":   {"en/words.txt", "months: يناير", "en/words.txt:"},
	} {
		code, _, errs := call(t, "", "letters", "check", "--folder", ownTexts(t, map[string]string{x.file: x.body}))
		if code != exitFailed || !strings.Contains(errs, x.want) {
			t.Errorf("%s: code %d, want %q:\n%s", name, code, x.want, errs)
		}
	}
	endless := ownTexts(t, map[string]string{"en/reminder.txt": "x"})
	if err := os.Symlink("/dev/zero", filepath.Join(endless, "en", "booking.txt")); err != nil {
		t.Skip("no links here: ", err)
	}
	if code, _, errs := call(t, "", "letters", "check", "--folder", endless); code != exitFailed || !strings.Contains(errs, "en/booking.txt:1: this is no ordinary file") {
		t.Errorf("a link to a device: code %d, %s", code, errs)
	}
}
