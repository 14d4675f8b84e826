package cases_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
)

// workedFile is the worked-case format of the case document's contract.
type workedFile struct {
	Source string       `json:"source"`
	Cases  []workedCase `json:"cases"`
}

type workedCase struct {
	ID       string          `json:"id"`
	Clause   string          `json:"clause"`
	Note     string          `json:"note"`
	On       string          `json:"on"`
	Protocol json.RawMessage `json:"protocol"`
	Case     json.RawMessage `json:"case"`
	Expect   map[string]any  `json:"expect"`
	Refused  string          `json:"refused"`
}

// TestWorkedCases runs testdata/worked-cases (each file and case names its source:
// guideline clause, common practice, or project choice) and whatever file or folder
// of the same format DUNLIN_WORKED_CASES names.
func TestWorkedCases(t *testing.T) {
	files, _ := filepath.Glob("testdata/worked-cases/*.json")
	if len(files) < 8 {
		t.Fatalf("only %d files of worked cases found", len(files))
	}
	if more := os.Getenv("DUNLIN_WORKED_CASES"); more != "" {
		files = append(files, moreFiles(t, more)...)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var f workedFile
		if err := json.Unmarshal(data, &f); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if f.Source == "" || len(f.Cases) == 0 {
			t.Errorf("%s: no source or no cases", name)
		}
		for _, w := range f.Cases {
			t.Run(w.ID, func(t *testing.T) { runWorked(t, w) })
		}
	}
}

func moreFiles(t *testing.T, name string) []string {
	info, err := os.Stat(name)
	if err != nil {
		t.Fatalf("DUNLIN_WORKED_CASES: %v", err)
	}
	if !info.IsDir() {
		return []string{name}
	}
	files, _ := filepath.Glob(filepath.Join(name, "*.json"))
	if len(files) == 0 {
		t.Fatalf("DUNLIN_WORKED_CASES: no .json file in %s", name)
	}
	return files
}

func runWorked(t *testing.T, w workedCase) {
	on, err := cases.ParseDay(w.On)
	if err != nil {
		t.Fatal(err)
	}
	p := cases.DefaultProtocol()
	if len(w.Protocol) > 0 && string(w.Protocol) != "null" {
		if p, err = cases.ParseProtocol(w.Protocol); err != nil {
			t.Fatalf("protocol: %v", err)
		}
	}
	refused := w.Refused
	if r, ok := w.Expect["refused"].(string); ok {
		refused = r
	}
	c, err := cases.ParseCase(w.Case, on, p)
	if refused != "" {
		var e *cases.Error
		if !errors.As(err, &e) {
			t.Fatalf("%s: not refused", w.Clause)
		}
		if !slices.ContainsFunc(e.Faults, func(f cases.Fault) bool { return f.Path == refused }) {
			t.Fatalf("refused, but not for %s: %v", refused, err)
		}
		return
	}
	if err != nil {
		t.Fatalf("%s: refused: %v", w.Clause, err)
	}
	a := p.Assess(&c, on)
	data, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	if len(w.Expect) == 0 {
		t.Error("the case expects nothing")
	}
	for path, want := range w.Expect {
		if err := checkPath(tree, path, want); err != nil {
			t.Errorf("%s: %v", w.Clause, err)
		}
	}
}

func checkPath(tree any, path string, want any) error {
	mode := byte(0)
	name := path
	if n := len(path); n > 0 && (path[n-1] == '+' || path[n-1] == '-') {
		mode, name = path[n-1], path[:n-1]
	}
	got, err := lookup(tree, name)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	switch mode {
	case '+', '-':
		have := words(got)
		for _, w := range words(want) {
			if slices.Contains(have, w) != (mode == '+') {
				return fmt.Errorf("%s: have %v, want %c%s", path, have, mode, w)
			}
		}
		return nil
	}
	if list, ok := want.([]any); ok && allText(list) {
		a, b := words(got), words(want)
		slices.Sort(a)
		slices.Sort(b)
		if !slices.Equal(a, b) {
			return fmt.Errorf("%s: have %v, want %v", path, a, b)
		}
		return nil
	}
	if !reflect.DeepEqual(got, want) {
		return fmt.Errorf("%s: have %v, want %v", path, got, want)
	}
	return nil
}

func lookup(tree any, path string) (any, error) {
	for part := range strings.SplitSeq(path, ".") {
		switch t := tree.(type) {
		case map[string]any:
			v, ok := t[part]
			if !ok {
				return nil, fmt.Errorf("no %q in the assessment", part)
			}
			tree = v
		case []any:
			i, err := strconv.Atoi(part)
			if err != nil || i < 0 || i >= len(t) {
				return nil, fmt.Errorf("no element %q", part)
			}
			tree = t[i]
		default:
			return nil, fmt.Errorf("nothing below %q", part)
		}
	}
	return tree, nil
}

func words(v any) []string {
	list, _ := v.([]any)
	out := make([]string, 0, len(list))
	for _, x := range list {
		s, _ := x.(string)
		out = append(out, s)
	}
	return out
}

func allText(list []any) bool {
	for _, x := range list {
		if _, ok := x.(string); !ok {
			return false
		}
	}
	return true
}
