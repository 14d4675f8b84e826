package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// readmeBlock gives the block of the README in a language.
func readmeBlock(t *testing.T, language string) string {
	t.Helper()
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(text), "\n```"+language+"\n")
	block, _, closed := strings.Cut(rest, "\n```\n")
	if !found || !closed {
		t.Fatalf("the README has no block of %s", language)
	}
	return block + "\n"
}

var variableName = regexp.MustCompile(`\bDUNLIN_[A-Z_]+`)

// wantSettings looks whether each variable that a text names is a setting.
func wantSettings(t *testing.T, text string) {
	t.Helper()
	for _, name := range variableName.FindAllString(text, -1) {
		known := name == variablePrefix+"CONFIG" || slices.ContainsFunc(allSettings(), func(s setting) bool { return s.variable() == name })
		if !known {
			t.Errorf("%s is no setting", name)
		}
	}
}

// TestUnitOfTheReadme hands the unit to systemd's own checker where it is here, and
// looks at its sections and keys everywhere.
func TestUnitOfTheReadme(t *testing.T) {
	unit := readmeBlock(t, "ini")
	wantSettings(t, unit)
	section := ""
	for line := range strings.Lines(unit) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		if strings.HasPrefix(line, "[") {
			section = line
			continue
		}
		key, _, ok := strings.Cut(line, "=")
		if !ok || !slices.Contains([]string{"[Unit]", "[Service]", "[Install]"}, section) || strings.TrimSpace(key) != key {
			t.Errorf("%q stands in %q", line, section)
		}
		if rest, is := strings.CutPrefix(line, "ExecStart=/usr/local/bin/dunlin "); is && !isCommand(strings.Fields(rest)[0]) {
			t.Errorf("%q starts no command of the program", line)
		}
	}
	checker, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Log("systemd-analyze is not here: its own check of the unit is left out")
		return
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	// The checker wants the program to exist where the unit says.
	verify := func(text string) string {
		file := filepath.Join(t.TempDir(), "dunlin.service")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(checker, "verify", "--man=no", file).CombinedOutput()
		if err != nil {
			out = append(out, err.Error()...)
		}
		return string(out)
	}
	mine := strings.ReplaceAll(unit, "/usr/local/bin/dunlin", self)
	if said := verify(mine); strings.Contains(said, "dunlin.service") {
		t.Errorf("systemd-analyze says: %s", said)
	}
	if said := verify(strings.Replace(mine, "ProtectHome=yes", "ProtectHom=yes", 1)); !strings.Contains(said, "ProtectHom") {
		t.Errorf("systemd-analyze does not find a wrong key: %s", said)
	}
}

func isCommand(name string) bool {
	return slices.ContainsFunc(commands(), func(c command) bool { return c.name == name })
}

// TestContainerFileOfTheReadme looks at each line: a known instruction, stages that
// exist, settings and commands of this program, and no rights of root.
func TestContainerFileOfTheReadme(t *testing.T) {
	text := readmeBlock(t, "dockerfile")
	wantSettings(t, text)
	known := []string{"FROM", "WORKDIR", "COPY", "RUN", "USER", "VOLUME", "ENV", "EXPOSE", "STOPSIGNAL", "HEALTHCHECK", "ENTRYPOINT", "CMD"}
	stages, user := []string{}, ""
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		if len(f) == 0 {
			continue
		}
		if !slices.Contains(known, f[0]) || len(f) < 2 {
			t.Errorf("%q is no instruction", line)
		}
		for _, part := range f[1:] {
			if from, ok := strings.CutPrefix(part, "--from="); ok && !slices.Contains(stages, from) {
				t.Errorf("%q copies from a stage that is not there", line)
			}
		}
		switch f[0] {
		case "FROM":
			if len(f) == 4 && f[2] == "AS" {
				stages = append(stages, f[3])
			}
		case "USER":
			user = f[1]
		case "CMD", "HEALTHCHECK":
			words := regexp.MustCompile(`"([a-z]+)"`).FindStringSubmatch(line)
			if words == nil || !isCommand(words[1]) {
				t.Errorf("%q runs no command of the program", line)
			}
		}
	}
	if user == "" || strings.HasPrefix(user, "0") || user == "root" {
		t.Errorf("the container runs as %q", user)
	}
	for _, want := range []string{"CGO_ENABLED=0 go build", "\nFROM scratch\n", "ca-certificates.crt"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
}
