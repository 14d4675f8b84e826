package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

// adminOf writes a settings file with an administrative address.
func adminOf(t *testing.T, more string) (file, admin string) {
	t.Helper()
	dir := t.TempDir()
	admin = freeAddress(t)
	file = filepath.Join(dir, "dunlin.json")
	text := fmt.Sprintf(`{"store":%q,"listen":"127.0.0.1:0","admin_listen":%q%s}`, filepath.Join(dir, "program.db"), admin, more)
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file, admin
}

func fetch(t *testing.T, url string) (int, string) {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(body)
}

//asvs:13.4.5
func TestAdministrativeAddress(t *testing.T) {
	onDisk(t, 50<<30)
	file, admin := adminOf(t, "")
	address, stop := serveFor(t, file)
	defer stop()
	if status, body := fetch(t, "http://"+admin+"/healthz"); status != 200 || !strings.HasPrefix(body, "in order\n") || !strings.Contains(body, "store: it can be read") ||
		!strings.Contains(body, "job daily") || !strings.Contains(body, "disk: ") || !strings.Contains(body, "back-ups: none are set up") {
		t.Errorf("%d %s", status, body)
	}
	if code, out, errs := call(t, "", "health", "--config", file); code != exitOK || !strings.HasPrefix(out, "in order") {
		t.Errorf("health: %d %s%s", code, out, errs)
	}
	if status, _ := fetch(t, address+"/sign-in"); status != 200 {
		t.Errorf("sign-in gives %d", status)
	}
	status, body := fetch(t, "http://"+admin+"/metrics")
	for _, want := range []string{"dunlin_store_readable 1", `dunlin_http_requests_total{method="GET",route="/sign-in",status="200"} 1`, `dunlin_job_trouble{job="daily"} 0`, "go_goroutines"} {
		if status != 200 || !strings.Contains(body, want) {
			t.Errorf("%d: %s is missing", status, want)
		}
	}
	for _, path := range []string{"/", "/debug/pprof/", "/sign-in"} {
		if status, _ := fetch(t, "http://"+admin+path); status != 404 {
			t.Errorf("%s gives %d on the administrative address", path, status)
		}
	}
	for _, path := range []string{"/metrics", "/healthz"} {
		if status, body := fetch(t, address+path); status == 200 && strings.Contains(body, "dunlin_") {
			t.Errorf("%s is on the address of the pages", path)
		}
	}
	resp, err := http.Post("http://"+admin+"/healthz", "text/plain", nil)
	if err != nil || resp.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("a POST: %v %v", resp, err)
	}
	if err == nil {
		resp.Body.Close()
	}
}

// TestHealthFindsTrouble: what is wrong gives 503, in words that hold nothing of a case.
//
//asvs:16.5.2
func TestHealthFindsTrouble(t *testing.T) {
	file, admin := adminOf(t, "")
	stored := settingsOf(t, file).Store
	seed(t, stored, time.Now, func(db *store.DB) {
		slot := time.Now().Add(-24 * time.Hour).Truncate(time.Second)
		if ok, err := db.Begin(t.Context(), "daily", slot, time.Hour); err != nil || !ok {
			t.Fatal(ok, err)
		}
		if err := db.End(t.Context(), "daily", slot, "failed: the letter of Ada Wren cannot be set"); err != nil {
			t.Fatal(err)
		}
	})
	cfg := settingsOf(t, file)
	s, err := openSite(cfg, true, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	work, err := s.works(serving{log: slog.New(slog.DiscardHandler), now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	text, well := findingsText(work.health(t.Context()))
	if well || !strings.Contains(text, "LOOK  job daily") || strings.Contains(text, "Wren") {
		t.Errorf("%v\n%s", well, text)
	}
	if err := s.close(); err != nil {
		t.Fatal(err)
	}
	text, well = findingsText(work.health(t.Context()))
	if well || !strings.Contains(text, "LOOK  store") || work.facts(t.Context()).StoreReadable {
		t.Errorf("a closed store: %v\n%s", well, text)
	}
	if code, _, errs := call(t, "", "health", "--admin-listen", admin); code != exitFailed || !strings.Contains(errs, "nobody answers") {
		t.Errorf("health without a program: %d %s", code, errs)
	}
	if code, _, errs := call(t, "", "health"); code != exitUsage || !strings.Contains(errs, "admin_listen is not set") {
		t.Errorf("health without an address: %d %s", code, errs)
	}
}

// seed opens a store with a clock, does something and closes it.
func seed(t *testing.T, path string, now func() time.Time, f func(*store.DB)) {
	t.Helper()
	db, err := store.Open(path, store.Options{Now: now, Zone: time.UTC, Protocol: cases.DefaultProtocol(), Program: "AB", Release: release})
	if err != nil {
		t.Fatal(err)
	}
	f(db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestServeRefusesAClockThatWentBack(t *testing.T) {
	file, _ := adminOf(t, "")
	seed(t, settingsOf(t, file).Store, func() time.Time { return time.Now().Add(49 * time.Hour) }, func(db *store.DB) {
		if err := db.Update(t.Context(), cases.Actor{ID: "a", Name: "A. Tern", Role: cases.Coordinator}, func(tx cases.Writer) error {
			return tx.Note(cases.Event{Kind: "test", Text: "from a day to come"})
		}); err != nil {
			t.Fatal(err)
		}
	})
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	var out, errs sharedText
	if code := run(ctx, stdio{strings.NewReader(""), &out, &errs}, []string{"serve", "--config", file}); code != exitFailed || !strings.Contains(errs.String(), "Set the clock") {
		t.Fatalf("%d %s", code, errs.String())
	}
	for _, more := range [][]string{{"--clock-is-right"}, nil} { // once said, it holds
		end, stop := context.WithCancel(t.Context())
		var out, errs sharedText
		done := make(chan int, 1)
		go func() {
			done <- run(end, stdio{strings.NewReader(""), &out, &errs}, append([]string{"serve", "--config", file}, more...))
		}()
		for range 400 {
			if servesAt.MatchString(out.String()) || len(done) > 0 {
				break
			}
			time.Sleep(25 * time.Millisecond)
		}
		stop()
		if code := <-done; code != exitOK || !servesAt.MatchString(out.String()) {
			t.Fatalf("%v: %d %s", more, code, errs.String())
		}
	}
}

// TestWhyNothingListens: each reason is said with what to do.
func TestWhyNothingListens(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	for address, want := range map[string]string{
		taken.Addr().String(): "another program listens there",
		"203.0.113.7:8480":    "this machine has no such address", // of the range for documentation, RFC 5737
		"nonsense":            "give another address in listen",
	} {
		ln, err := listen("the pages", "listen", address)
		if err == nil {
			ln.Close()
			t.Errorf("%s is listened on", address)
			continue
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", address, err)
		}
	}
	file, admin := adminOf(t, "")
	busy, err := net.Listen("tcp", admin)
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	if code, _, errs := call(t, "", "serve", "--config", file); code != exitFailed || !strings.Contains(errs, "health and metrics cannot be served on "+admin) {
		t.Errorf("%d %s", code, errs)
	}
}

func TestLogLevel(t *testing.T) {
	c := defaultConfig()
	for name, want := range map[string]string{"debug": "DEBUG", "info": "INFO", "warn": "WARN", "error": "ERROR"} {
		if c.LogLevel = name; c.logLevel().String() != want || len(c.checkAdmin()) > 0 {
			t.Errorf("%s gives %v, %v", name, c.logLevel(), c.checkAdmin())
		}
	}
}

//asvs:15.1.2
func TestVersionAndBill(t *testing.T) {
	code, out, _ := call(t, "", "version", "--json")
	var b build
	if err := json.Unmarshal([]byte(out), &b); code != exitOK || err != nil || b.Release != release || !strings.HasPrefix(b.Go, "go1.") {
		t.Errorf("%d %v %s", code, err, out)
	}
	code, out, _ = call(t, "", "version", "--sbom")
	var got bill
	if err := json.Unmarshal([]byte(out), &got); code != exitOK || err != nil || got.Format != "CycloneDX" {
		t.Fatalf("%d %v %s", code, err, out)
	}
	seen := map[string]bool{}
	for _, p := range got.Components {
		if seen[p.Ref] || p.Version == "" || !strings.HasPrefix(p.PURL, "pkg:golang/") {
			t.Errorf("%+v", p)
		}
		seen[p.Ref] = true
	}
	for _, want := range []string{"go.etcd.io/bbolt@", "github.com/labstack/echo/v4@", "std"} {
		if !strings.Contains(out, `"bom-ref": "`+want) {
			t.Errorf("%s is not in the bill", want)
		}
	}
}

// onDisk has the program see a disk of 100 GB with so many bytes free.
func onDisk(t *testing.T, free int64) {
	diskSpace = func(string) (int64, int64, error) { return free, 100 << 30, nil }
	t.Cleanup(func() { diskSpace = spaceOf })
}

func TestAFullDiskIsSaid(t *testing.T) {
	for free, bad := range map[int64]bool{50 << 30: false, 3 << 30: true, 0: true} {
		onDisk(t, free)
		if f := diskHealth("x/store.dunlin"); f.bad != bad || !strings.Contains(f.words, "of 100.0 GB") {
			t.Errorf("%d bytes free: %+v", free, f)
		}
	}
}
