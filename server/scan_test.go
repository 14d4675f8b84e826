package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// scanNote is one line of testdata/scan-explained.txt: findings of a rule of gosec in
// some files that were looked at, and why they are no fault.
type scanNote struct {
	rule, files, reason string
	most                int // -1 for any number
	found               int
}

func readExplained(text string) (out []scanNote, err error) {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Fields(line)
		if len(f) < 6 {
			return nil, fmt.Errorf("%q: write rule, number, files and a reason", line)
		}
		e := scanNote{rule: f[0], files: f[2], reason: strings.Join(f[3:], " "), most: -1}
		if f[1] != "any" {
			if e.most, err = strconv.Atoi(f[1]); err != nil {
				return nil, fmt.Errorf("%q: %w", line, err)
			}
		}
		out = append(out, e)
	}
	return out, nil
}

// scanFinding is what is read of a finding in gosec's report.
type scanFinding struct {
	Rule string `json:"rule_id"`
	File string `json:"file"`
	Line string `json:"line"`
	What string `json:"details"`
}

// unexplained gives the findings that no line explains, by file, and the lines that
// explain nothing any more.
func unexplained(found []scanFinding, root string, list []scanNote) (left, idle []string) {
	over := map[string][]string{}
	for _, f := range found {
		name, err := filepath.Rel(root, f.File)
		if err != nil {
			name = f.File
		}
		name = filepath.ToSlash(name)
		i := slices.IndexFunc(list, func(e scanNote) bool {
			ok, err := path.Match(e.files, name)
			return e.rule == f.Rule && err == nil && ok
		})
		where := fmt.Sprintf("%s:%s: %s", name, f.Line, f.What)
		switch {
		case i < 0:
			left = append(left, f.Rule+" "+where)
		default:
			list[i].found++
			key := list[i].rule + " " + list[i].files
			over[key] = append(over[key], where)
		}
	}
	for _, e := range list {
		switch {
		case e.most >= 0 && e.found > e.most:
			left = append(left, fmt.Sprintf("%s %s: %d findings, %d explained:\n  %s", e.rule, e.files, e.found, e.most, strings.Join(over[e.rule+" "+e.files], "\n  ")))
		case e.found == 0:
			idle = append(idle, e.rule+" "+e.files)
		}
	}
	return left, idle
}

// TestNothingUnexplained reads the report that .ci/run has gosec write.
func TestNothingUnexplained(t *testing.T) {
	report := os.Getenv("DUNLIN_SCAN")
	if report == "" {
		if os.Getenv("DUNLIN_CI") == "1" {
			t.Fatal("DUNLIN_SCAN names no report of gosec")
		}
		t.Skip("DUNLIN_SCAN names no report of gosec; .ci/run makes one")
	}
	data, err := os.ReadFile(report)
	if err != nil {
		t.Fatal(err)
	}
	var r struct {
		Issues []scanFinding
		Stats  struct{ Files, Lines int }
	}
	if err := json.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	if r.Stats.Files < 500 {
		t.Errorf("only %d files were read", r.Stats.Files)
	}
	text, err := os.ReadFile("testdata/scan-explained.txt")
	if err != nil {
		t.Fatal(err)
	}
	list, err := readExplained(string(text))
	if err != nil {
		t.Fatal(err)
	}
	root, err := filepath.Abs("..")
	if err != nil {
		t.Fatal(err)
	}
	left, idle := unexplained(r.Issues, root, list)
	for _, l := range left {
		t.Errorf("mend it, or explain it in testdata/scan-explained.txt: %s", l)
	}
	for _, l := range idle {
		t.Logf("explains nothing any more: %s", l)
	}
	t.Logf("%d findings in %d files and %d lines, %d unexplained", len(r.Issues), r.Stats.Files, r.Stats.Lines, len(left))
}

// TestUnexplainedFindsWhatIsNew shows that a planted finding is told.
func TestUnexplainedFindsWhatIsNew(t *testing.T) {
	text := "# comment\nG1 1 a/*.go it is bounded above\nG2 any b/x.go it is for demos\n"
	found := map[string][]scanFinding{
		"":                       {{Rule: "G1", File: "/r/a/y.go"}, {Rule: "G2", File: "/r/b/x.go"}, {Rule: "G2", File: "/r/b/x.go"}},
		"G1 a/*.go: 2 findings":  {{Rule: "G1", File: "/r/a/y.go"}, {Rule: "G1", File: "/r/a/z.go"}},
		"G1 b/x.go:7":            {{Rule: "G1", File: "/r/b/x.go", Line: "7"}},
		"G3 a/y.go:9: something": {{Rule: "G3", File: "/r/a/y.go", Line: "9", What: "something"}},
	}
	for _, want := range slices.Sorted(maps.Keys(found)) {
		list, err := readExplained(text)
		if err != nil || len(list) != 2 {
			t.Fatal(list, err)
		}
		left, _ := unexplained(found[want], "/r", list)
		if want == "" && len(left) > 0 || want != "" && (len(left) != 1 || !strings.HasPrefix(left[0], want)) {
			t.Errorf("%q, want %q", left, want)
		}
	}
	if _, err := readExplained("G1 any a.go"); err == nil {
		t.Error("a line without a reason is taken")
	}
}
