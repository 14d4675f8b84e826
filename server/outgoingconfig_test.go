package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
)

// TestOutgoingSettings names every fault at once, and never sends in the clear.
func TestOutgoingSettings(t *testing.T) {
	file := filepath.Join(t.TempDir(), "dunlin.json")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(`{"outgoing":{"folder":"out","attach":true,"every":"@every 1s","from":"20:00","until":"08:00",
		"mail":{"address":"smtp.example.org","security":"none","user":"followup","from":"Follow-up <followup@example.org>","from_name":"A\nBcc: x@example.org"},
		"text":{"url":"http://texts.example.org/send"}}}`)
	_, _, errs := call(t, "", "config", "--config", file)
	for _, want := range []string{"outgoing.folder", "outgoing.attach", "outgoing.every", "outgoing.from and", "mail.address", "mail.security", "mail.password_file", "mail.from ", "mail.from_name", "text.url"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not in %q", want, errs)
		}
	}
	write(`{"letters":{"contact":"Wren Castellano, CF nurse","hours":"on days of the screen"},
		"outgoing":{"mail":{"address":"smtp.example.org:587","from":"followup@example.org","from_name":"Newborn Screening"}}}`)
	_, _, errs = call(t, "", "config", "--config", file)
	for _, want := range []string{`letters.contact says "CF"`, `letters.hours says "screen"`, `outgoing.mail.from_name says "Newborn"`} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not in %q", want, errs)
		}
	}
	t.Setenv(smtpPasswordVariable, "not to be shown")
	write(`{"outgoing":{"doctors":true,"attach":true,"mail":{"address":"smtp.example.org:587","user":"followup","from":"followup@example.org"},"text":{"url":"https://texts.example.org/send","key_file":"key"}}}`)
	code, out, errs := call(t, "", "config", "--config", file)
	if code != exitOK || strings.Contains(out+errs, "not to be shown") || !strings.Contains(out, `"security": "starttls"`) {
		t.Errorf("code %d: %s %s", code, out, errs)
	}
	p, err := secret("x", "missing", smtpPasswordVariable)()
	if err != nil || p != "not to be shown" {
		t.Errorf("%q %v", p, err)
	}
	if _, err := secret("the key", "missing", "")(); err == nil || !strings.Contains(err.Error(), "the key") {
		t.Errorf("a missing file: %v", err)
	}
}

// TestDemoSendsNothing makes the demo: its messages become files, say nothing
// of the infants.
func TestDemoSendsNothing(t *testing.T) {
	cfg, err := demoConfig(filepath.Join(t.TempDir(), "demo.db"))
	if err != nil {
		t.Fatal(err)
	}
	d, err := openDemo(t.Context(), cfg, "2026-03-05")
	if err != nil {
		t.Fatal(err)
	}
	defer d.site.close()
	if _, err := d.fill(t.Context()); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(cfg.Outgoing.Folder, "*"))
	if err != nil {
		t.Fatal(err)
	}
	sent, names, kinds := 0, map[string]bool{}, map[string]int{}
	err = d.site.db.View(t.Context(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			names[c.Infant.Family], names[c.Reference] = true, true
		}
		for o, err := range r.Outgoings("") {
			if err != nil {
				return err
			}
			if o.State == cases.OutSent || o.State == cases.OutBounced { // what came back had gone out
				sent++
				kinds[o.Kind]++
			}
			for name := range names {
				if name != "" && strings.Contains(o.Subject+o.Body, name) {
					t.Errorf("%s names %q: %s", o.Kind, name, o.Body)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != sent {
		t.Errorf("%d messages sent, %d files", sent, len(files))
	}
	for _, kind := range []string{cases.MessageReminder, cases.LetterReferral, cases.LetterDoctorResult, cases.LetterClinicDay} {
		if kinds[kind] == 0 {
			t.Errorf("no message of kind %s: %v", kind, kinds)
		}
	}
}

// TestPressQueuesByTheChannelsSetUp asks the press for a message by each channel.
func TestPressQueuesByTheChannelsSetUp(t *testing.T) {
	cfg := defaultConfig()
	cfg.Store = filepath.Join(t.TempDir(), "p.db")
	cfg.Letters.Contact, cfg.Letters.Phone, cfg.Letters.Hours = "Wren Castellano", "555-0142", "always"
	if err := cfg.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&cfg, false, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	if p, err := s.press(nil); err != nil || p.Message != nil || p.Along != nil {
		t.Errorf("nothing is set up, and messages are worded: %v", err)
	}
	if k, err := s.outbox(nil, nil); k != nil || err != nil {
		t.Errorf("nothing is set up, and something sends: %v", err)
	}
	cfg.Outgoing.Mail.Address, cfg.Outgoing.Mail.From = "smtp.example.org:587", "followup@example.org"
	p, err := s.press(nil)
	if err != nil || p.Message == nil || p.Along != nil {
		t.Fatalf("%v", err)
	}
	c := &cases.Case{}
	for by, want := range map[string]bool{cases.ByEmail: true, cases.ByText: false} {
		o, err := p.Message(c, cases.MessageDue{Kind: cases.MessageNudge, Occasion: "2026-03-04 x", By: by})
		if (err == nil) != want || want && o.Subject == "" {
			t.Errorf("%s: %v %+v", by, err, o)
		}
	}
	cfg.Outgoing.Doctor = true
	if p, err = s.press(nil); err != nil || p.Along == nil {
		t.Errorf("doctors get no word: %v", err)
	}
	cfg.Outgoing.Words = t.TempDir()
	if err := os.WriteFile(filepath.Join(cfg.Outgoing.Words, "nudge.txt"), []byte("kind: nudge\nlanguage: en\nstatus: x\nsubject: The sweat test\n---\nCall.\n---\nCall.\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err = s.press(nil); err == nil || !strings.Contains(err.Error(), "nudge.txt:4") && !strings.Contains(err.Error(), "nudge.txt:1") {
		t.Errorf("a text that tells too much: %v", err)
	}
}
