package templates

import (
	"bytes"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"dunlin/templates/htmlcheck"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden pages")

// samples holds made-up pages by name; each page's test file adds its own in
// an init function. The golden file is testdata/<name>.html.
var samples = map[string]func() Page{}

var set = func() *Set {
	s, err := Parse()
	if err != nil {
		panic(err)
	}
	return s
}()

func render(t testing.TB, p Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := set.Render(&b, p); err != nil {
		t.Fatalf("render %s: %v", p.File(), err)
	}
	return b.String()
}

// TestPages renders every sample, checks the page's markup, and compares it
// with its golden file (rewritten with -update).
func TestPages(t *testing.T) {
	used := map[string]bool{}
	for _, name := range slices.Sorted(maps.Keys(samples)) {
		p := samples[name]()
		used[p.File()] = true
		t.Run(name, func(t *testing.T) {
			got := render(t, p)
			for _, f := range htmlcheck.Page([]byte(got)) {
				t.Error(f)
			}
			got = hashed.ReplaceAllString(got, "/static/$1.hash.$2")
			golden := filepath.Join("testdata", name+".html")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), got); d != "" {
				t.Errorf("page changed (-golden +now), look at it and run with -update:\n%s", d)
			}
		})
	}
	for name := range set.pages {
		if !used[name] {
			t.Errorf("page %q has no sample", name)
		}
	}
}

// hashed is the name of a static file with the hash of its content.
var hashed = regexp.MustCompile(`/static/([a-z]+)\.[0-9a-f]{10}\.([a-z]+)`)

// sampleBase is the part of a page that the server fills in, for a coordinator
// on Thursday 5 March 2026.
func sampleBase(name, current string) Base {
	return Base{
		Name: name, Current: current,
		User: &User{Name: "Wren Castellano", Role: "Coordinator", Home: "/overdue"},
		Nav: []NavItem{{"overdue", "/overdue", "Overdue", 23}, {"schedule", "/schedule", "Schedule", 0}, {"intake", "/intake", "Intake", 5},
			{"letters", "/letters", "Letters", 12}, {"infants", "/infants", "Infants", 0}, {"reports", "/reports/closure", "Reports", 0}, {"settings", "/settings", "Settings", 0}},
		CSRF: "token", Once: "once", MadeUp: true, LetterKeys: true,
		Program: "Alder Bay newborn screening follow-up", Help: "555-0142, 08:00 to 16:00",
	}
}
