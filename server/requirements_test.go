package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var updateRequirements = flag.Bool("update-requirements", false, "write the table of requirements into DEVELOPERS.md")

// requirement is one of the OWASP Application Security Verification Standard 5.0.0
// (https://github.com/OWASP/ASVS, tag v5.0.0) that a program like this one should meet,
// in words of our own. It is shown by tests that carry its number, or was looked at on
// a day.
type requirement struct {
	id, level, text, checked string
	tests                    []string
}

func readRequirements(t *testing.T) (out []requirement) {
	t.Helper()
	f, err := os.Open("testdata/asvs.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(bufio.NewReader(f)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows[1:] {
		out = append(out, requirement{id: r[0], level: r[1], text: r[2], checked: r[3]})
	}
	return out
}

var (
	marker   = regexp.MustCompile(`^//asvs:([0-9. ]+)$`)
	testFunc = regexp.MustCompile(`^func ((?:Test|Fuzz)\w+)\(`)
)

// markers reads which requirements the tests of a file say that they show: a line
// "//asvs:3.5.1 3.5.3" over the test. It gives the tests by number.
func markers(source []byte) (map[string][]string, error) {
	out := map[string][]string{}
	var ids []string
	for line := range strings.Lines(string(source)) {
		line = strings.TrimRight(line, "\r\n")
		if m := marker.FindStringSubmatch(line); m != nil {
			ids = append(ids, strings.Fields(m[1])...)
			continue
		}
		if strings.HasPrefix(line, "//asvs") {
			return nil, fmt.Errorf("%q is no list of requirements", line)
		}
		if m := testFunc.FindStringSubmatch(line); m != nil {
			for _, id := range ids {
				out[id] = append(out[id], m[1])
			}
			ids = nil
			continue
		}
		if len(ids) > 0 && !strings.HasPrefix(line, "//") {
			return nil, fmt.Errorf("the requirements %v stand over no test", ids)
		}
	}
	return out, nil
}

// collect adds the tests of all packages to the requirements and says what is wrong.
func collect(root string, list []requirement) (faults []string) {
	at := map[string]*requirement{}
	for i := range list {
		at[list[i].id] = &list[i]
	}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		source, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		found, err := markers(source)
		if err != nil {
			faults = append(faults, path+": "+err.Error())
		}
		pkg, _ := filepath.Rel(root, filepath.Dir(path))
		for id, tests := range found {
			if at[id] == nil {
				faults = append(faults, path+": "+id+" is no requirement of testdata/asvs.csv")
				continue
			}
			for _, name := range tests {
				at[id].tests = append(at[id].tests, filepath.ToSlash(pkg)+" "+name)
			}
		}
		return nil
	})
	if err != nil {
		faults = append(faults, err.Error())
	}
	return faults
}

// table writes the requirements with what shows them.
func requirementTable(list []requirement) []byte {
	var b bytes.Buffer
	b.WriteString("| ASVS | level | what it asks | shown by |\n|---|---|---|---|\n")
	for _, r := range list {
		slices.Sort(r.tests)
		by := "`" + strings.Join(r.tests, "`, `") + "`"
		switch {
		case len(r.tests) == 0 && r.checked == "":
			by = "not shown"
		case len(r.tests) == 0:
			by = "looked at, " + r.checked
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", r.id, r.level, r.text, by)
	}
	return b.Bytes()
}

const tableBegins, tableEnds = "<!-- requirements: written by go test ./server -run Requirements -update-requirements -->\n", "<!-- end of requirements -->"

// The table of requirements in DEVELOPERS.md is what the tests say; every one of the
// first level is shown, and nine in ten of the second.
func TestRequirementsAreShown(t *testing.T) {
	list := readRequirements(t)
	for _, f := range collect("..", list) {
		t.Error(f)
	}
	count, shown := map[string]int{}, map[string]int{}
	var open []string
	for _, r := range list {
		count[r.level]++
		if len(r.tests) > 0 || r.checked != "" {
			shown[r.level]++
		} else {
			open = append(open, r.id)
		}
	}
	t.Logf("scorecard S1: first level %d of %d, second %d of %d, third %d of %d; not shown: %s", shown["1"], count["1"], shown["2"], count["2"], shown["3"], count["3"], strings.Join(open, " "))
	const file = "../DEVELOPERS.md"
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := bytes.Cut(text, []byte(tableBegins))
	_, after, ended := bytes.Cut(rest, []byte(tableEnds))
	if !ok || !ended {
		t.Fatalf("%s has no place for the table", file)
	}
	want := slices.Concat(before, []byte(tableBegins), requirementTable(list), []byte(tableEnds), after)
	if *updateRequirements {
		if err := os.WriteFile(file, want, 0o644); err != nil {
			t.Fatal(err)
		}
	} else if !bytes.Equal(text, want) {
		t.Error("the table of requirements differs from what the tests show: go test ./server -run Requirements -update-requirements")
	}
}

func TestRequirementMarkersAreRead(t *testing.T) {
	got, err := markers([]byte("// Doc.\n//\n//asvs:1.2.1 3.5.1\nfunc TestA(t *testing.T) {\n}\n\nfunc TestB(t *testing.T) {}\n"))
	if err != nil || len(got) != 2 || got["3.5.1"][0] != "TestA" {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"//asvs:1.2.1\nvar x int\n", "//asvs: what\nfunc TestA(t *testing.T) {\n"} {
		if _, err := markers([]byte(bad)); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a_test.go"), []byte("//asvs:99.1\nfunc TestA(t *testing.T) {\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if f := collect(dir, nil); len(f) != 1 {
		t.Errorf("a number that is no requirement gives %v", f)
	}
}
