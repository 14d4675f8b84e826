package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
)

// call runs one command line and gives what it printed.
func call(t *testing.T, stdin string, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), stdio{strings.NewReader(stdin), &o, &e}, args)
	return code, o.String(), e.String()
}

func TestHelpOfEveryCommand(t *testing.T) {
	for _, c := range commands() {
		code, out, errs := call(t, "", c.name, "--help")
		if code != exitOK || !strings.Contains(out, "Use: dunlin "+c.name) || errs != "" {
			t.Errorf("%s --help: code %d, out %q, err %q", c.name, code, out, errs)
		}
		if code, _, errs := call(t, "", c.name, "--no-such-flag"); code != exitUsage || errs == "" {
			t.Errorf("%s with an unknown flag: code %d, err %q", c.name, code, errs)
		}
	}
	if code, out, _ := call(t, "", "help"); code != exitOK || !strings.Contains(out, "overdue") {
		t.Errorf("help: code %d, %q", code, out)
	}
	if code, _, errs := call(t, "", "nonsense"); code != exitUsage || !strings.Contains(errs, "nonsense") {
		t.Errorf("an unknown command: code %d, %q", code, errs)
	}
	if code, _, _ := call(t, ""); code != exitUsage {
		t.Errorf("no command: code %d", code)
	}
}

const plainCase = `{"document":"dunlin-case/1","reference":"AB-2026-0042","infant":{"born":"2026-03-01","gestation":"39w2d","birth_weight_g":3200},"referral":{"on":"2026-03-08","route":"screen"}}`

func TestAssess(t *testing.T) {
	bad := strings.Replace(plainCase, `"born"`, `"colour":"blue","born"`, 1)
	two := plainCase + "\n" + bad + "\n"
	array := "[" + plainCase + "," + bad + "]"
	for name, in := range map[string]string{"a line each": two, "array": array, "one after the other": plainCase + bad} {
		code, out, errs := call(t, in, "assess", "--on", "2026-03-12", "-")
		lines := strings.Split(strings.TrimSpace(out), "\n")
		if code != exitFailed || len(lines) != 2 || errs != "" {
			t.Fatalf("%s: code %d, %d lines, err %q", name, code, len(lines), errs)
		}
		var a struct {
			Reference string
			Next      struct{ Step, Because, Due string }
		}
		if err := json.Unmarshal([]byte(lines[0]), &a); err != nil {
			t.Fatal(err)
		}
		if a.Next.Step != "tell-primary-care" || a.Next.Due != "2026-03-09" || a.Next.Because == "" || a.Reference != "AB-2026-0042" {
			t.Errorf("%s: %+v", name, a)
		}
		var r struct {
			Reference string
			Refused   []struct{ Path, Reason string }
		}
		if err := json.Unmarshal([]byte(lines[1]), &r); err != nil {
			t.Fatal(err)
		}
		if len(r.Refused) != 1 || r.Refused[0].Path != "infant.colour" || r.Reference != "AB-2026-0042" {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if code, out, _ := call(t, "{ this is no JSON", "assess"); code != exitFailed || !strings.Contains(out, `"refused"`) {
		t.Errorf("broken input: code %d, %s", code, out)
	}
	if code, _, _ := call(t, plainCase, "assess", "--on", "tomorrow"); code != exitUsage {
		t.Errorf("a bad --on: code %d", code)
	}
	if code, out, _ := call(t, "", "assess", "--schema"); code != exitOK || !json.Valid([]byte(out)) {
		t.Errorf("--schema: code %d", code)
	}
}

func TestAssessWithProtocolFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "protocol.json")
	write := func(s string) {
		if err := os.WriteFile(file, []byte(s), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(`{"min_age_days":10}`)
	if code, out, errs := call(t, plainCase, "assess", "--on", "2026-03-12", "--protocol", file); code != exitOK || !strings.Contains(out, `"earliest":"2026-03-11"`) {
		t.Errorf("code %d, %s %s", code, out, errs)
	}
	write(`{"min_age":10}`)
	if code, _, errs := call(t, plainCase, "assess", "--protocol", file); code != exitUsage || !strings.Contains(errs, "min_age") {
		t.Errorf("an unknown name: code %d, %q", code, errs)
	}
}

func TestConfigReportsEveryFault(t *testing.T) {
	code, _, errs := call(t, "", "config", "--zone", "Alder/Bay", "--code", "abc", "--tls-cert", "x")
	if code != exitFailed {
		t.Errorf("code %d", code)
	}
	for _, want := range []string{"Alder/Bay", "abc", "tls_key"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not in %q", want, errs)
		}
	}
	file := filepath.Join(t.TempDir(), "dunlin.json")
	if err := os.WriteFile(file, []byte(`{"zone":"America/Chicago","letters":{"phone":"555-0142"}}`), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("DUNLIN_CODE", "CD")
	if code, out, errs := call(t, "", "config", "--config", file, "--listen", "127.0.0.1:9"); code != exitOK ||
		!strings.Contains(out, "America/Chicago") || !strings.Contains(out, `"code": "CD"`) || !strings.Contains(out, "127.0.0.1:9") || !strings.Contains(out, "No. 10") {
		t.Errorf("code %d, %s %s", code, out, errs)
	}
}

// TestCommandsOnAStore imports a real message and reads the store with each command.
func TestCommandsOnAStore(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "program.db")
	message := "../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7"
	code, out, errs := call(t, "", "import", "--store", db, message)
	if code != exitOK || !strings.Contains(out, "1 in: 1 opened") {
		t.Fatalf("import: code %d, %s %s", code, out, errs)
	}
	if code, out, _ := call(t, "", "import", "--store", db, message); code != exitOK || !strings.Contains(out, "1 duplicate") {
		t.Errorf("the same again: code %d, %s", code, out)
	}
	if code, out, _ := call(t, "", "overdue", "--store", db); code != exitOK || !strings.Contains(out, "Two variants, refer now") {
		t.Errorf("overdue: code %d, %s", code, out)
	}
	code, out, _ = call(t, "", "overdue", "--store", db, "--json")
	var a struct {
		Presumptive bool `json:"presumptive_cf"`
		Next        struct{ Step string }
	}
	if err := json.Unmarshal([]byte(out), &a); code != exitOK || err != nil || !a.Presumptive || a.Next.Step != "refer-at-once" {
		t.Errorf("overdue --json: code %d, %v, %s", code, err, out)
	}
	// The message is marked as a test, so its case is never counted.
	if code, out, _ := call(t, "", "report", "--store", db, "--json"); code != exitOK || !strings.Contains(out, `"cases": 0`) {
		t.Errorf("report: code %d, %s", code, out)
	}
	raw, err := os.ReadFile(message)
	if err != nil {
		t.Fatal(err)
	}
	earnest := filepath.Join(dir, "message.hl7")
	changed := strings.Replace(string(raw), "|T|2.5.1", "|P|2.5.1", 1)
	if err := os.WriteFile(earnest, []byte(changed), 0o600); err != nil || changed == string(raw) {
		t.Fatalf("the message is not marked as expected: %v", err)
	}
	db2 := filepath.Join(dir, "other.db")
	if code, out, errs := call(t, "", "import", "--store", db2, earnest); code != exitOK {
		t.Fatalf("import: code %d, %s %s", code, out, errs)
	}
	if code, out, _ := call(t, "", "report", "--store", db2, "--json"); code != exitOK || !strings.Contains(out, `"cases": 1`) {
		t.Errorf("report: code %d, %s", code, out)
	}
	code, out, _ = call(t, "", "report", "--store", db2, "--rates")
	if code != exitOK || !strings.Contains(out, "hidden cases") || !strings.Contains(out, "QNS, infants up to 3 months: collections with too little sweat, of collections") {
		t.Errorf("report --rates: code %d, %s", code, out)
	}
	if code, out, _ := call(t, "", "report", "--store", db2, "--rates", "--json"); code != exitOK || !strings.Contains(out, `"cases": null`) {
		t.Errorf("report --rates --json: code %d, %s", code, out)
	}
	code, out, _ = call(t, "", "report", "--store", db2, "--faults")
	if code != exitOK || !strings.Contains(out, "1 of 1 cases") || !strings.Contains(out, "Open cases without primary care: ") {
		t.Errorf("report --faults: code %d, %s", code, out)
	}
	var faults faultsReport
	code, out, _ = call(t, "", "report", "--store", db2, "--faults", "--json")
	if err := json.Unmarshal([]byte(out), &faults); code != exitOK || err != nil || faults.Cases != 1 || len(faults.Kinds) != len(cases.DataFaultKinds) {
		t.Errorf("report --faults --json: code %d, %v, %s", code, err, out)
	}
	for _, k := range faults.Kinds {
		if k.Cases != len(k.Lines) {
			t.Errorf("%s: %d cases, %d lines", k.Key, k.Cases, len(k.Lines))
		}
	}
	if code, _, errs := call(t, "", "report", "--store", db2, "--faults", "--rates"); code != exitUsage || !strings.Contains(errs, "--faults lists cases") {
		t.Errorf("report --faults --rates: code %d, %s", code, errs)
	}
	if code, out, _ := call(t, "", "check", "--store", db); code != exitOK || !strings.Contains(out, "sound") {
		t.Errorf("check: code %d, %s", code, out)
	}
	copied := filepath.Join(dir, "copy.db")
	if code, out, errs := call(t, "", "backup", "--store", db, "--unencrypted", copied); code != exitOK {
		t.Errorf("backup: code %d, %s %s", code, out, errs)
	}
	if code, out, _ := call(t, "", "overdue", "--store", copied); code != exitOK || !strings.Contains(out, "Two variants, refer now") {
		t.Errorf("overdue of the copy: code %d, %s", code, out)
	}
	if code, _, errs := call(t, "", "overdue", "--store", filepath.Join(dir, "none.db")); code != exitFailed || !strings.Contains(errs, "none.db") {
		t.Errorf("a store that is not there: code %d, %q", code, errs)
	}
	if code, _, errs := call(t, "", "check", "--store", message); code != exitFailed || !strings.Contains(errs, "not a Dunlin store") {
		t.Errorf("a file that is not a store: code %d, %q", code, errs)
	}
}

// TestCommandsWhileServing runs the commands while another holds the store.
func TestCommandsWhileServing(t *testing.T) {
	dir := t.TempDir()
	cfg := defaultConfig()
	cfg.Store = filepath.Join(dir, "program.db")
	if err := cfg.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&cfg, false, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	stop, err := listenForOps(ctx, s, cfg.socket())
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	info, err := os.Stat(cfg.socket())
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the socket: %v, %v", info, err)
	}
	if code, out, errs := call(t, "", "import", "--store", cfg.Store, "../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7"); code != exitOK || !strings.Contains(out, "1 opened") {
		t.Fatalf("import: code %d, %s %s", code, out, errs)
	}
	if code, out, _ := call(t, "", "overdue", "--store", cfg.Store); code != exitOK || !strings.Contains(out, "refer now") {
		t.Errorf("overdue: code %d, %s", code, out)
	}
	if code, out, errs := call(t, "", "backup", "--store", cfg.Store, "--unencrypted", filepath.Join(dir, "copy.db")); code != exitOK {
		t.Errorf("backup: code %d, %s %s", code, out, errs)
	}
	if code, out, errs := call(t, "", "account", "add", "--store", cfg.Store, "--id", "a@alderbay.example", "--name", "A. Tern", "--role", "nurse"); code != exitOK || !strings.Contains(out, "Password") {
		t.Errorf("account add: code %d, %s %s", code, out, errs)
	}
	if code, out, _ := call(t, "", "account", "list", "--store", cfg.Store); code != exitOK || !strings.Contains(out, "A. Tern") {
		t.Errorf("account list: code %d, %s", code, out)
	}
	if code, _, errs := call(t, "", "account", "add", "--store", cfg.Store, "--id", "b@alderbay.example", "--name", "B", "--role", "chief"); code != exitFailed || errs == "" {
		t.Errorf("an unknown role: code %d, %q", code, errs)
	}
}
