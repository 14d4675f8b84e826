package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// otherValue gives a text for a setting that is not its default, and how the file
// writes it.
func otherValue(t *testing.T, s setting) (text, inFile string) {
	t.Helper()
	switch s.kind.Kind() {
	case reflect.String:
		return "other", `"other"`
	case reflect.Bool:
		v := reflect.ValueOf(ptr(defaultConfig())).Elem().FieldByIndex(s.index)
		return fmt.Sprint(!v.Bool()), fmt.Sprint(!v.Bool())
	case reflect.Int, reflect.Int64:
		return "17", "17"
	case reflect.Slice:
		if s.kind.Elem().Kind() == reflect.String {
			return "one,two", `["one","two"]`
		}
	case reflect.Map:
		if s.kind.Elem().Kind() == reflect.String {
			return `{"xx":"other"}`, `{"xx":"other"}`
		}
		return `{"xx":{}}`, `{"xx":{}}`
	case reflect.Struct:
		if s.name == "letters.envelope" {
			return "din5008-dl", `"din5008-dl"`
		}
	}
	t.Fatalf("setting %s: say here what another value of %s looks like", s.name, s.kind)
	return "", ""
}

// TestEverySettingHasThreeNames sets each setting by file, variable and flag, and finds
// the same value; flags win over variables, these over the file.
func TestEverySettingHasThreeNames(t *testing.T) {
	values := filepath.Join(t.TempDir(), "values.json")
	if err := os.WriteFile(values, []byte(`{"qns_benchmark":0.07}`), 0o600); err != nil {
		t.Fatal(err)
	}
	get := func(c *config, s setting) string {
		text, err := json.Marshal(reflect.ValueOf(c).Elem().FieldByIndex(s.index).Interface())
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	seen := map[string]string{}
	for _, s := range allSettings() {
		if settingWords[s.name] == "" {
			t.Errorf("setting %s has no words: add it to settingWords", s.name)
		}
		for _, name := range []string{s.flag(), s.variable()} {
			if other, taken := seen[name]; taken {
				t.Errorf("%s and %s are both %s", other, s.name, name)
			}
			seen[name] = s.name
		}
		text, inFile := values, `{"qns_benchmark":0.07}`
		if s.name != protocolSetting {
			text, inFile = otherValue(t, s)
		}
		file := nested(strings.Split(s.name, "."), inFile)
		byFile, byVariable, byFlag := defaultConfig(), defaultConfig(), defaultConfig()
		path := filepath.Join(t.TempDir(), "dunlin.json")
		if err := os.WriteFile(path, []byte(file), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := readConfigFile(path, &byFile); err != nil {
			t.Errorf("%s: %v", file, err)
		}
		t.Setenv(s.variable(), text)
		if err := byVariable.fromVariables(); err != nil {
			t.Errorf("%s: %v", s.variable(), err)
		}
		os.Unsetenv(s.variable())
		fs := flag.NewFlagSet("", flag.ContinueOnError)
		given := addSettingFlags(fs, nil, true)
		if err := fs.Parse([]string{"--" + s.flag() + "=" + text}); err != nil {
			t.Errorf("--%s: %v", s.flag(), err)
		}
		if err := byFlag.applyFlags(given); err != nil {
			t.Errorf("--%s: %v", s.flag(), err)
		}
		usual := defaultConfig()
		if get(&byFile, s) == get(&usual, s) {
			t.Errorf("%s is not read from the file", s.name)
		}
		for from, c := range map[string]*config{s.variable(): &byVariable, "--" + s.flag(): &byFlag} {
			if get(c, s) != get(&byFile, s) {
				t.Errorf("%s gives %s, the file %s", from, get(c, s), get(&byFile, s))
			}
		}
	}
	for name := range settingWords {
		if !isSetting(name) {
			t.Errorf("settingWords tells of %s, which is no setting", name)
		}
	}
}

// nested writes a value under its name, as a settings file does.
func nested(path []string, value string) string {
	if len(path) == 0 {
		return value
	}
	return fmt.Sprintf("{%q:%s}", path[0], nested(path[1:], value))
}

func TestFlagsWinOverVariablesAndTheseOverTheFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "dunlin.json")
	if err := os.WriteFile(file, []byte(`{"code":"FA","listen":"127.0.0.1:1","mailbox":{"max_mb":9},"help":"555-0100"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("DUNLIN_CODE", "VA")
	t.Setenv("DUNLIN_MAILBOX_MAX_MB", "11")
	code, out, errs := call(t, "", "config", "--config", file, "--code", "FL")
	for _, want := range []string{`"code": "FL"`, `"max_mb": 11`, `"listen": "127.0.0.1:1"`, `"help_line": "555-0100"`} {
		if code != exitOK || !strings.Contains(out, want) {
			t.Errorf("%d: %s is missing\n%s%s", code, want, out, errs)
		}
	}
	t.Setenv("DUNLIN_MAILBOX_MAX_MB", "many")
	if code, _, errs := call(t, "", "config"); code == exitOK || !strings.Contains(errs, `DUNLIN_MAILBOX_MAX_MB: "many" must be a whole number`) {
		t.Errorf("%d %s", code, errs)
	}
	os.Unsetenv("DUNLIN_MAILBOX_MAX_MB")
	if code, _, errs := call(t, "", "config", "--live=perhaps"); code != exitUsage || !strings.Contains(errs, "true or false") {
		t.Errorf("%d %s", code, errs)
	}
}

// TestSettingsFilesThatAreWrong: each fault is said with its place or the name meant.
func TestSettingsFilesThatAreWrong(t *testing.T) {
	for text, want := range map[string]string{
		`{"zonne":"UTC","mailbox":{"usr":"x"}}`: `there is no setting "mailbox.usr"; is "mailbox.user" meant?`,
		`{"zonne":"UTC"}`:                       `is "zone" meant?`,
		"{\n\"zone\":\"UTC\",\n}":               "line 3",
		"{\n\"mailbox\":{\"max_mb\":\"9\"}}":    "line 2: mailbox.max_mb cannot be of the kind string",
		`{"zone":"UTC"} {}`:                     "after the closing brace",
		`{"help":"a","help_line":"b"}`:          "help is the old name of help_line",
		`[]`:                                    "all of it cannot be of the kind array",
	} {
		file := filepath.Join(t.TempDir(), "dunlin.json")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, errs := call(t, "", "config", "--config", file); code != exitFailed || !strings.Contains(errs, want) {
			t.Errorf("%s: %d %q, want %q", text, code, errs, want)
		}
	}
}

func TestConfigNamesListsEverySetting(t *testing.T) {
	code, out, errs := call(t, "", "config", "names")
	if code != exitOK {
		t.Fatalf("%d %s", code, errs)
	}
	for _, s := range allSettings() {
		if !strings.Contains(out, "\n"+s.name+" ") || !strings.Contains(out, s.variable()+" ") {
			t.Errorf("%s is not listed", s.name)
		}
	}
	_, out, _ = call(t, "", "serve", "--help")
	if !strings.Contains(out, "-listen address") || strings.Contains(out, "-mailbox-user") || !strings.Contains(out, "dunlin config names") {
		t.Errorf("help of serve:\n%s", out)
	}
}

func TestConfigCheck(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string, mode os.FileMode) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), mode); err != nil {
			t.Fatal(err)
		}
		return path
	}
	open := write("password", "secret\n", 0o644)
	good := write("good.json", fmt.Sprintf(`{"store":%q,"listen":"0.0.0.0:8480","mailbox":{"address":"imap.example.org:993","user":"x","password_file":%q}}`,
		filepath.Join(dir, "p.db"), open), 0o600)
	t.Setenv("DUNLIN_MAILBOX_USR", "x")
	code, out, errs := call(t, "", "config", "check", "--config", good)
	for _, want := range []string{"in order", "no back-ups are made", "chmod 600", "without TLS", "DUNLIN_MAILBOX_USR is set and is no setting", "letters cannot be made yet"} {
		if code != exitOK || !strings.Contains(out, want) {
			t.Errorf("%d: %q is missing\n%s%s", code, want, out, errs)
		}
	}
	empty := write("empty", "\n", 0o600)
	wrong := write("wrong.json", fmt.Sprintf(`{"store":%q,"zone":"Alder/Bay","log_level":"loud","admin_listen":"0.0.0.0:9","postal":"nowhere.csv","letters_folder":%q,
		"mailbox":{"address":"imap.example.org:993","user":"x","password_file":%q},"backup":{"folder":%q,"unencrypted":true}}`,
		filepath.Join(dir, "no", "p.db"), empty, empty, filepath.Join(empty, "x")), 0o600)
	code, out, errs = call(t, "", "config", "check", "--config", wrong)
	for _, want := range []string{"Alder/Bay", "log_level", "admin_listen", "postal", "letters_folder", "is empty", "store: the folder", "backup.folder"} {
		if code != exitFailed || !strings.Contains(errs, want) {
			t.Errorf("%d: %q is missing\n%s%s", code, want, out, errs)
		}
	}
	if bytes.Contains([]byte(out+errs), []byte("secret")) {
		t.Error("a password is printed")
	}
}
