package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// mostModules is how many outside modules the program and its tests may name.
const mostModules = 35

// moduleReasons says why each outside module is here; forTests marks those that no built
// program holds.
var moduleReasons = map[string]struct {
	why      string
	forTests bool
}{
	"codeberg.org/go-pdf/fpdf":            {"writes PDF, the same bytes each time", false},
	"filippo.io/age":                      {"encrypts back-ups in an open format", false},
	"github.com/alexedwards/argon2id":     {"hashes passwords", false},
	"github.com/alexedwards/scs/v2":       {"sessions that the server can end", false},
	"github.com/boombuler/barcode":        {"Code 128 on letters", false},
	"github.com/coreos/go-oidc/v3":        {"OpenID Connect: discovery, keys and signatures", false},
	"github.com/emersion/go-imap/v2":      {"reads the mailbox", false},
	"github.com/emersion/go-message":      {"takes mails apart", false},
	"github.com/go-json-experiment/json":  {"decodes stored cases three times as fast", false},
	"github.com/labstack/echo/v4":         {"routes requests", false},
	"github.com/oklog/ulid/v2":            {"identifiers that sort by time", false},
	"github.com/pquerna/otp":              {"codes of a second factor", false},
	"github.com/prometheus/client_golang": {"the format that monitors read", false},
	"github.com/robfig/cron/v3":           {"reads times of jobs and wakes them", false},
	"github.com/wneessen/go-mail":         {"writes mails and demands TLS", false},
	"github.com/xuri/excelize/v2":         {"writes workbooks", false},
	"go.etcd.io/bbolt":                    {"the store: one ordered file with transactions", false},
	"golang.org/x/oauth2":                 {"trades codes for tokens, with PKCE", false},
	"golang.org/x/text":                   {"Unicode forms and old character sets", false},
	"golang.org/x/time":                   {"limits the rate of tries", false},

	"github.com/arran4/golang-ical": {"reads calendar files back", true},
	"github.com/chromedp/chromedp":  {"does a day's work in a browser", true},
	"github.com/emersion/go-sasl":   {"signs in to the mail server in the process", true},
	"github.com/emersion/go-smtp":   {"a mail server in the process", true},
	"github.com/google/go-cmp":      {"shows differences", true},
	"github.com/makiuchi-d/gozxing": {"scans the code on letters", true},
	"github.com/zitadel/oidc/v3":    {"a service to sign in by, in the process", true},
	"golang.org/x/net":              {"reads rendered pages", true},
	"pgregory.net/rapid":            {"property tests", true},
}

// TestModulesHaveReasons: few modules, each with a reason, and no test's module in the
// program.
func TestModulesHaveReasons(t *testing.T) {
	data, err := exec.Command("go", "mod", "edit", "-json", "../go.mod").Output()
	if err != nil {
		t.Fatal(err)
	}
	var mod struct {
		Require []struct {
			Path     string
			Indirect bool
		}
		Replace []any
	}
	if err := json.Unmarshal(data, &mod); err != nil {
		t.Fatal(err)
	}
	if len(mod.Replace) > 0 {
		t.Error("go.mod replaces a module: what is built would not be what is published")
	}
	direct := 0
	for _, r := range mod.Require {
		if r.Indirect {
			continue
		}
		direct++
		if moduleReasons[r.Path].why == "" {
			t.Errorf("%s has no reason: add it to moduleReasons, or do without it", r.Path)
		}
	}
	if direct == 0 || direct > mostModules {
		t.Errorf("%d modules are named, at most %d may be", direct, mostModules)
	}
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}{{end}}", ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	built := strings.Fields(string(out))
	for path, r := range moduleReasons {
		if r.forTests && slices.Contains(built, path) && !inProgramToo[path] {
			t.Errorf("%s is for tests only and is in the program", path)
		}
	}
}

// inProgramToo are modules for tests that come into the program behind another module.
var inProgramToo = map[string]bool{"golang.org/x/net": true, "github.com/emersion/go-sasl": true}

// TestThePageOfModules: what DEVELOPERS.md says of modules names each of them.
func TestThePageOfModules(t *testing.T) {
	text, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range requiredDirect(t) {
		name := path
		if parts := strings.Split(path, "/"); len(parts) > 1 {
			name = parts[len(parts)-1]
			if len(name) < 3 && name[0] == 'v' {
				name = parts[len(parts)-2]
			}
		}
		if !strings.Contains(string(text), name) {
			t.Errorf("DEVELOPERS.md does not say why %s is here", path)
		}
	}
}

func requiredDirect(t *testing.T) []string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{if not (or .Main .Indirect)}}{{.Path}}{{end}}", "all").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Fields(string(out))
}
