package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/server/auth"
	"dunlin/server/web"

	"github.com/google/go-cmp/cmp"
)

// service is the web service over a site's store, with the key of one sender.
type service struct {
	*site
	key string
	srv *httptest.Server
	log *lockedLog
}

// lockedLog may be read while requests end.
type lockedLog struct {
	mu sync.Mutex
	b  strings.Builder
}

func (l *lockedLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func newService(t *testing.T, change func(*web.Deps)) *service {
	t.Helper()
	s := newSite(t)
	keys := auth.Keys{Store: s.db}
	key, err := keys.Add(context.Background(), cases.Actor{ID: "theo", Name: "Theo Marsh", Role: cases.System}, "Heron Point laboratory")
	if err != nil {
		t.Fatal(err)
	}
	guard, err := auth.New(s.db, auth.Options{Now: func() time.Time { return s.now }})
	if err != nil {
		t.Fatal(err)
	}
	v := &service{site: s, key: key, log: &lockedLog{}}
	services := testServices(s)
	q := intake.NewQueue(services.Intake, intake.QueueLimits{})
	t.Cleanup(q.Stop)
	services.Keys, services.Documents = keys, q
	d := web.Deps{Pages: testPages(), Store: s.db, Protocol: s.protocol, Auth: guard, Now: func() time.Time { return s.now },
		Log: slog.New(slog.NewJSONHandler(v.log, nil)), Program: "Test", MadeUp: true, Services: services}
	if change != nil {
		change(&d)
	}
	h, err := web.New(d)
	if err != nil {
		t.Fatal(err)
	}
	v.srv = httptest.NewServer(h)
	t.Cleanup(v.srv.Close)
	return v
}

// answer is what the web service says.
type answer struct {
	Status   int               `json:"-"`
	Head     http.Header       `json:"-"`
	Hash     string            `json:"hash"`
	Again    bool              `json:"again"`
	Counts   map[string]int    `json:"counts"`
	Items    []json.RawMessage `json:"items"`
	Title    string            `json:"title"`
	Detail   string            `json:"detail"`
	Request  string            `json:"request"`
	Warnings []string          `json:"warnings"`
	body     string
}

func (v *service) send(body io.Reader, head map[string]string) (a answer) {
	v.t.Helper()
	req, err := http.NewRequest(http.MethodPost, v.srv.URL+"/intake/documents", body)
	if err != nil {
		v.t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+v.key)
	for k, val := range head {
		req.Header.Set(k, val)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &a); err != nil {
		v.t.Fatalf("%d %s: %v", res.StatusCode, raw, err)
	}
	a.Status, a.Head, a.body = res.StatusCode, res.Header, string(raw)
	kind := res.Header.Get("Content-Type")
	if want := map[bool]string{true: "application/json", false: "application/problem+json"}[a.Status < 400]; kind != want {
		v.t.Errorf("%d: content type %q", a.Status, kind)
	}
	if len(res.Cookies()) > 0 {
		v.t.Errorf("%d: a cookie was set", a.Status)
	}
	return a
}

func reference(t testing.TB, file string) []byte {
	t.Helper()
	raw, err := os.ReadFile("../../cases/intake/hl7/testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// TestServiceTakesDocuments: each answer comes when the document is stored, says what
// became of each item, and is the same when the same bytes come again.
func TestServiceTakesDocuments(t *testing.T) {
	for _, tc := range []struct {
		file, outcome string
		status        int
	}{
		{"messages/d01-nbs-cf-two-variants.hl7", "opened", 200},
		{"messages/d05-nbs-in-range.hl7", "no-case", 200},
		{"messages/d04-nbs-unsatisfactory.hl7", "review", 202},
		{"malformed/m03-duplicate-delimiters.hl7", "review", 202},
		{"malformed/m01-empty.hl7", "review", 202},
	} {
		v := newService(t, nil)
		v.now = v.now.AddDate(0, 0, 25) // after the made-up messages were sent
		raw := reference(t, tc.file)
		first := v.send(bytes.NewReader(raw), map[string]string{"Content-Type": "application/hl7-v2", "X-Document-Name": "../../" + tc.file})
		if first.Status != tc.status || first.Again || len(first.Items) != 1 || first.Counts[tc.outcome] != 1 || !strings.Contains(string(first.Items[0]), tc.outcome) {
			t.Errorf("%s: %d %s", tc.file, first.Status, first.body)
		}
		again := v.send(bytes.NewReader(raw), map[string]string{"Content-Type": "text/plain"})
		if !again.Again || again.Status != first.Status || again.Hash != first.Hash || !maps.Equal(again.Counts, first.Counts) {
			t.Errorf("%s again: %d %s", tc.file, again.Status, again.body)
		}
		if d := cmp.Diff(first.Items, again.Items); d != "" {
			t.Errorf("%s again:\n%s", tc.file, d)
		}
		v.wantsDocument()
		if log := v.log.String(); strings.Contains(log, "TESTFAMILY") || strings.Contains(log, v.key) || !strings.Contains(log, "Heron Point laboratory") {
			t.Errorf("log:\n%s", log)
		}
	}
}

// wantsDocument looks at the one document in the store.
func (v *service) wantsDocument() {
	v.t.Helper()
	err := v.db.View(context.Background(), func(r cases.Reader) error {
		docs, err := r.ReceivedLast(10)
		if err != nil || len(docs) != 1 {
			v.t.Errorf("%d documents, %v", len(docs), err)
		}
		for _, d := range docs {
			if d.Source != "web service" || d.Sender != "Heron Point laboratory" || strings.ContainsAny(d.Name, `/\`) || d.Actor.Via != "web service" {
				v.t.Errorf("%+v", d)
			}
		}
		return err
	})
	if err != nil {
		v.t.Fatal(err)
	}
}

// TestServiceTellsNothingOnFile: why an item waits may have to do with another infant;
// the sender is told only what is wrong with what it sent.
func TestServiceTellsNothingOnFile(t *testing.T) {
	v := newService(t, nil)
	v.now = v.now.AddDate(0, 0, 25)
	v.send(bytes.NewReader(reference(t, "messages/d01-nbs-cf-two-variants.hl7")), nil)
	twin := strings.NewReplacer("F0001", "F7777", "EX2026000123", "EX2026007777", "MRN0001", "MRN7777", "D01-0001", "X-1", "|BABYGIRL", "|BABYB").Replace(string(reference(t, "messages/d01-nbs-cf-two-variants.hl7")))
	a := v.send(strings.NewReader(twin), nil)
	if a.Status != 202 || a.Counts["review"] != 1 || strings.Contains(a.body, "AB-2026") || strings.Contains(a.body, "TESTFAMILY") {
		t.Errorf("%d %s", a.Status, a.body)
	}
}

// TestServiceKeys: no key, a wrong one, a disabled one and another scheme are refused
// before the body is read; who keeps trying is slowed down, a valid key never is.
//
//asvs:16.3.3
func TestServiceKeys(t *testing.T) {
	v := newService(t, nil)
	raw := reference(t, "messages/d01-nbs-cf-two-variants.hl7")
	for name, head := range map[string]string{"none": "", "wrong": "Bearer " + strings.Repeat("A", 52), "basic": "Basic " + v.key, "empty": "Bearer ", "endless": "Bearer " + strings.Repeat("A", 5000)} {
		a := v.send(bytes.NewReader(raw), map[string]string{"Authorization": head})
		if a.Status != 401 || a.Head.Get("WWW-Authenticate") != "Bearer" {
			t.Errorf("%s: %d", name, a.Status)
		}
	}
	for range 6 {
		v.send(strings.NewReader("x"), map[string]string{"Authorization": "Bearer wrong"})
	}
	if a := v.send(strings.NewReader("x"), map[string]string{"Authorization": "Bearer wrong"}); a.Status != 429 || a.Head.Get("Retry-After") == "" {
		t.Errorf("after many tries: %d", a.Status)
	}
	if a := v.send(bytes.NewReader(raw), nil); a.Status != 200 {
		t.Errorf("a valid key after another's tries: %d %s", a.Status, a.body)
	}
	v.now = v.now.Add(2 * time.Minute)
	if a := v.send(strings.NewReader("x"), map[string]string{"Authorization": "Bearer wrong"}); a.Status != 401 {
		t.Errorf("two minutes later: %d", a.Status)
	}
	keys := auth.Keys{Store: v.db}
	if err := keys.Disable(context.Background(), cases.Actor{ID: "theo", Name: "Theo Marsh"}, "heron point laboratory", true); err != nil {
		t.Fatal(err)
	}
	if a := v.send(bytes.NewReader(raw), nil); a.Status != 401 {
		t.Errorf("a disabled key: %d", a.Status)
	}
}

// TestServiceNeedsNoSession: a signed-in person's cookies open nothing here, and a
// form's token is not asked for.
func TestServiceNeedsNoSession(t *testing.T) {
	v := newService(t, nil)
	wren := v.as("wren")
	res, err := wren.http.Post(v.url+"/intake/documents", "text/plain", strings.NewReader("x"))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode < 400 { // on a site without keys the address is an item's
		t.Errorf("without keys: %d", res.StatusCode)
	}
	v2 := v.send(strings.NewReader("x"), map[string]string{"Authorization": "", "Cookie": "dunlin=anything"})
	if v2.Status != 401 {
		t.Errorf("cookie only: %d", v2.Status)
	}
}

// TestServiceLimits: what is too large, compressed or breaks off is not stored.
//
//asvs:5.2.1
func TestServiceLimits(t *testing.T) {
	v := newService(t, nil)
	fits := bytes.Repeat([]byte("x"), 5<<20)
	if a := v.send(bytes.NewReader(fits), nil); a.Status != 202 {
		t.Errorf("5 MB: %d %s", a.Status, a.body)
	}
	if a := v.send(bytes.NewReader(append(fits, 'x')), nil); a.Status != 413 {
		t.Errorf("more than 5 MB: %d", a.Status)
	}
	if a := v.send(io.MultiReader(bytes.NewReader(append(fits, 'y'))), nil); a.Status != 413 { // of unknown length
		t.Errorf("more than 5 MB in chunks: %d", a.Status)
	}
	if a := v.send(strings.NewReader("x"), map[string]string{"Content-Encoding": "gzip"}); a.Status != 415 {
		t.Errorf("compressed: %d", a.Status)
	}
	err := v.db.View(context.Background(), func(r cases.Reader) error {
		docs, err := r.ReceivedLast(10)
		if len(docs) != 1 {
			t.Errorf("%d documents are stored", len(docs))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

type failing struct{ err error }

func (f failing) Receive(context.Context, cases.Actor, intake.Document) (intake.Result, error) {
	if f.err == nil {
		panic("made to fail")
	}
	return intake.Result{}, f.err
}

// TestServiceNotStored: a store that fails, and a fault of the program, are answered
// so that the sender keeps the document.
func TestServiceNotStored(t *testing.T) {
	for name, err := range map[string]error{"store": errors.New("the disk with TESTFAMILY is full"), "late": context.DeadlineExceeded, "panic": nil} {
		v := newService(t, func(d *web.Deps) { d.Documents = failing{err} })
		a := v.send(strings.NewReader("x"), nil)
		if a.Status != 503 || a.Head.Get("Retry-After") == "" || strings.Contains(a.body, "TESTFAMILY") || !strings.HasPrefix(a.Request, "D-") {
			t.Errorf("%s: %d %s", name, a.Status, a.body)
		}
	}
}

// TestServiceOffWithoutKeys: a program that gave out no keys has no web service.
func TestServiceOffWithoutKeys(t *testing.T) {
	v := newService(t, func(d *web.Deps) { d.Keys = nil })
	req, err := http.NewRequest(http.MethodPost, v.srv.URL+"/intake/documents", strings.NewReader("x"))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+v.key)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode < 400 || res.StatusCode >= 500 {
		t.Errorf("%d", res.StatusCode)
	}
}

// TestServiceAllAtOnce: many senders at once; each has its own answer, and everything
// is counted once.
func TestServiceAllAtOnce(t *testing.T) {
	v := newService(t, nil)
	v.now = v.now.AddDate(0, 0, 25)
	base := string(reference(t, "messages/d05-nbs-in-range.hl7"))
	var wg sync.WaitGroup
	for i := range 60 {
		wg.Go(func() {
			raw := strings.NewReplacer("F0005", fmt.Sprintf("F%04d", i/2), "D05-0001", fmt.Sprintf("X-%d", i/2), "EX2026000123", fmt.Sprintf("EX%d", i/2)).Replace(base)
			if a := v.send(strings.NewReader(raw), nil); a.Status != 200 || a.Counts["no-case"] != 1 {
				t.Errorf("%d: %d %s", i, a.Status, a.body)
			}
		})
	}
	wg.Wait()
	err := v.db.View(context.Background(), func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		if fmt.Sprint(counts) != "map[duplicate:30 no-case:30]" {
			t.Errorf("%v", counts)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
