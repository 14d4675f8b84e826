package main

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// mayImport is the import table of the house: which packages of ours each package
// may use, and which outside modules. An outside module has one owner.
var mayImport = map[string]struct{ ours, outside []string }{
	"cases":               {nil, nil},
	"templates":           {nil, nil},
	"templates/htmlcheck": {nil, []string{"golang.org/x/net"}}, // checks rendered pages, for tests only
	"cases/store": {[]string{"cases"}, []string{"go.etcd.io/bbolt", "github.com/oklog/ulid/v2", "golang.org/x/text",
		"github.com/go-json-experiment/json"}},
	"cases/schedule": {[]string{"cases"}, nil}, // test sites, sessions, offers, the plan and its bookings
	"cases/measures": {[]string{"cases"}, nil},
	// What leaves as files; excelize writes workbooks.
	"cases/export":         {[]string{"cases", "cases/measures"}, []string{"github.com/xuri/excelize/v2"}},
	"cases/export/fhir":    {[]string{"cases"}, nil}, // a case as HL7 FHIR R4 resources
	"cases/intake":         {[]string{"cases"}, []string{"golang.org/x/text"}},
	"cases/intake/hl7":     {[]string{"cases", "cases/intake"}, nil},
	"cases/intake/csvfile": {[]string{"cases", "cases/intake"}, nil},
	"cases/intake/mail":    {[]string{"cases/intake"}, []string{"github.com/emersion/go-message", "golang.org/x/text"}}, // MIME, and its character sets
	"reminders":            {[]string{"cases"}, nil},
	"reminders/paper":      {nil, []string{"codeberg.org/go-pdf/fpdf", "github.com/boombuler/barcode", "golang.org/x/text"}}, // fonts, sheets, PDF, bars; NFC
	"reminders/letters":    {[]string{"cases", "reminders", "reminders/paper", "templates"}, nil},
	"reminders/daysheet":   {[]string{"reminders/paper", "templates"}, nil},                            // the layout of a clinic day on paper
	"reminders/figures":    {[]string{"cases", "cases/measures", "reminders/paper", "templates"}, nil}, // the figures of a year in words and on paper
	"reminders/jobs":       {[]string{"cases"}, []string{"github.com/robfig/cron/v3"}},
	// Hands messages to intake as its documents; the IMAP library has sharp edges and is kept in here.
	"reminders/mailbox": {[]string{"cases", "cases/intake"}, []string{"github.com/emersion/go-imap/v2"}},
	// Sends e-mail and texts; go-mail writes the mail and secures the connection.
	"reminders/outbox": {[]string{"cases", "templates"}, []string{"github.com/wneessen/go-mail"}},
	// Passwords, codes of the second factor, sessions, rate limits; NFKC.
	"server/auth": {[]string{"cases"}, []string{"github.com/alexedwards/argon2id", "github.com/alexedwards/scs/v2", "github.com/pquerna/otp", "golang.org/x/text", "golang.org/x/time"}},
	// Sign-in through another service; go-oidc checks what it signs, oauth2 exchanges its codes.
	"server/auth/openid/openidtest": {nil, nil}, // runs a sign-in service for tests
	"server/auth/openid":            {[]string{"cases"}, []string{"github.com/coreos/go-oidc/v3", "golang.org/x/oauth2"}},
	"server/web": {[]string{"cases", "cases/export", "cases/export/fhir", "cases/measures", "cases/intake", "cases/schedule", "reminders", "reminders/daysheet", "reminders/figures", "reminders/letters", "server/auth", "server/auth/openid", "templates"},
		[]string{"github.com/labstack/echo/v4"}},
	// Back-ups: encrypted with age, an open format that other programs read too.
	"server/safekeeping": {[]string{"cases/store"}, []string{"filippo.io/age"}},
	// Counts for those who watch the program, in the format of Prometheus.
	"server/metrics": {nil, []string{"github.com/prometheus/client_golang"}},
	"server/mllp":    {[]string{"cases/intake", "cases/intake/hl7"}, nil},        // HL7 messages over a connection: frames, answers, TLS
	"server/demo":    {[]string{"cases", "cases/intake", "cases/schedule"}, nil}, // the invented program, recorded through intake and desk
	"server": {[]string{"cases", "cases/export", "cases/export/fhir", "cases/store", "cases/measures", "cases/schedule", "cases/intake", "cases/intake/hl7", "cases/intake/csvfile", "cases/intake/mail", "reminders",
		"reminders/figures", "reminders/letters", "reminders/jobs", "reminders/mailbox", "reminders/outbox", "server/auth", "server/auth/openid", "server/demo", "server/metrics", "server/mllp", "server/safekeeping", "server/web", "templates"}, nil},
}

// sharedModules may be imported by more than one package, each with its reason:
// text normalization is the store's for names, the paper's for printing and that of passwords; character sets are intake's and its mails'.
var sharedModules = []string{"golang.org/x/text"}

// pure lists packages that must not ask the clock, the system or chance.
var pure = []string{"cases", "cases/export/fhir", "cases/measures", "reminders", "templates"}
var impure = []string{"os", "math/rand", "math/rand/v2", "net", "net/http", "crypto/rand"}

type goPackage struct {
	ImportPath string
	Imports    []string
	Module     *struct{ Path string }
}

func TestImportTable(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "dunlin/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	modules := requiredModules(t)
	owner := map[string]string{}
	seen := 0
	dec := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p goPackage
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimPrefix(p.ImportPath, "dunlin/")
		row, ok := mayImport[name]
		if !ok {
			t.Errorf("package %s has no row in the import table", name)
			continue
		}
		seen++
		for _, imp := range p.Imports {
			if ours, ok := strings.CutPrefix(imp, "dunlin/"); ok {
				if !slices.Contains(row.ours, ours) {
					t.Errorf("%s must not import %s", name, ours)
				}
				continue
			}
			if slices.Contains(pure, name) && slices.Contains(impure, imp) {
				t.Errorf("%s is pure and must not import %s", name, imp)
			}
			m := moduleOf(imp, modules)
			if m == "" {
				continue
			}
			if !slices.Contains(row.outside, m) {
				t.Errorf("%s must not import %s", name, imp)
			}
			if first, taken := owner[m]; taken && first != name && !slices.Contains(sharedModules, m) {
				t.Errorf("%s is imported by %s and by %s; one package owns a module", m, first, name)
			}
			owner[m] = name
		}
	}
	if seen != len(mayImport) {
		t.Errorf("the table has %d rows, %d packages were found", len(mayImport), seen)
	}
}

// TestPureCodeAsksNoClock looks for time.Now where days come as arguments.
func TestPureCodeAsksNoClock(t *testing.T) {
	for _, dir := range []string{"../cases", "../cases/measures", "../reminders", "../templates"} {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", dir, len(files), err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			src, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(src), "time.Now") {
				t.Errorf("%s asks the clock; take the day as an argument", name)
			}
		}
	}
}

func requiredModules(t *testing.T) []string {
	out, err := exec.Command("go", "list", "-m", "-f", "{{if not .Main}}{{.Path}}{{end}}", "all").Output()
	if err != nil {
		t.Fatalf("go list -m: %v", err)
	}
	return strings.Fields(string(out))
}

func moduleOf(imp string, modules []string) string {
	best := ""
	for _, m := range modules {
		if (imp == m || strings.HasPrefix(imp, m+"/")) && len(m) > len(best) {
			best = m
		}
	}
	return best
}
