package web_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/server/auth"
	"dunlin/server/web"
	"dunlin/templates"
	"dunlin/templates/htmlcheck"

	"golang.org/x/net/html"
)

// testPassword is the password of every account of a test site.
const testPassword = "marsh reed tide stone"

var (
	testHash = sync.OnceValue(func() string {
		h, err := auth.Hash(testPassword)
		if err != nil {
			panic(err)
		}
		return h
	})
	testPages = sync.OnceValue(func() *templates.Set {
		set, err := templates.Parse()
		if err != nil {
			panic(err)
		}
		return set
	})
)

// site is the whole server over a real store in a temporary file, on Thursday
// 5 March 2026, 08:41.
type site struct {
	t         testing.TB
	db        *store.DB
	protocol  *cases.Protocol
	now       time.Time
	url       string
	handler   http.Handler // of all pages; its answers are watched
	router    http.Handler // the same, as web.New made it
	secure    bool         // served as over TLS
	elsewhere string       // the sign-in service, the one other site that a redirect may lead to
	log       *lockedLog
	guard     *auth.Guard
	broken    atomic.Bool // the store fails
	readOnly  atomic.Bool // nothing can be written
}

// flaky is a store that can be made to fail.
type flaky struct {
	cases.Store
	broken, readOnly *atomic.Bool
}

func (f flaky) Update(ctx context.Context, a cases.Actor, do func(cases.Writer) error) error {
	if f.readOnly.Load() {
		return errors.New("made to fail")
	}
	return f.Store.Update(ctx, a, do)
}

func (f flaky) View(ctx context.Context, do func(cases.Reader) error) error {
	if f.broken.Load() {
		return errors.New("made to fail")
	}
	return f.Store.View(ctx, do)
}

// newSite has an account of each role.
func newSite(t testing.TB, change ...func(*web.Deps)) *site {
	t.Helper()
	s := newEmptySite(t, change...)
	s.update(func(w cases.Writer) error {
		for _, a := range []cases.Account{{ID: "wren@x.example", Name: "Wren Castellano", Role: cases.Coordinator}, {ID: "dagny@x.example", Name: "Dagny Achterberg", Role: cases.Nurse},
			{ID: "ines@x.example", Name: "Ines Okafor-Lund", Role: cases.Manager}, {ID: "theo@x.example", Name: "Theo Marsh", Role: cases.Administrator}} {
			a.Hash = testHash()
			if err := w.PutAccount(a); err != nil {
				return err
			}
		}
		return nil
	})
	return s
}

// newEmptySite has no account.
func newEmptySite(t testing.TB, change ...func(*web.Deps)) *site {
	t.Helper()
	s := &site{t: t, now: time.Date(2026, 3, 5, 8, 41, 0, 0, time.FixedZone("EST", -5*3600)), protocol: cases.DefaultProtocol(), log: &lockedLog{}}
	db, err := store.Open(filepath.Join(t.TempDir(), "test.dunlin"), store.Options{Now: func() time.Time { return s.now }, Zone: s.now.Location(), Protocol: s.protocol, Scratch: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	s.db = db
	guard, err := auth.New(db, auth.Options{Now: func() time.Time { return s.now }, Sessions: db.Sessions(time.Now)})
	if err != nil {
		t.Fatal(err)
	}
	s.guard = guard
	deps := web.Deps{Pages: testPages(), Store: flaky{db, &s.broken, &s.readOnly}, Protocol: s.protocol, Auth: guard, Now: func() time.Time { return s.now },
		Log: slog.New(slog.NewJSONHandler(s.log, nil)), Program: "Alder Bay newborn screening follow-up", Help: "555-0142", MadeUp: true, Services: testServices(s)}
	for _, f := range change {
		f(&deps)
	}
	h, err := web.New(deps)
	if err != nil {
		t.Fatal(err)
	}
	s.handler, s.secure = s.watched(h), deps.Secure
	srv := httptest.NewServer(s.handler)
	t.Cleanup(srv.Close)
	s.url, s.router = srv.URL, h
	return s
}

func (s *site) update(f func(cases.Writer) error) {
	s.t.Helper()
	if err := s.db.Update(context.Background(), cases.Actor{ID: "test", Name: "Test", Role: cases.System}, f); err != nil {
		s.t.Fatal(err)
	}
}

// open puts a case into the store, as intake would.
func (s *site) open(doc string) cases.Case {
	s.t.Helper()
	c, err := cases.ParseCase([]byte(doc), cases.DayOf(s.now), s.protocol)
	if err != nil {
		s.t.Fatal(err)
	}
	s.update(func(w cases.Writer) (err error) {
		c, err = cases.OpenCase(w, s.protocol, c, cases.Event{Kind: "case-opened", Text: "Case opened"})
		return err
	})
	return c
}

func (s *site) read(ref string) (c cases.Case) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		c, err = r.ByReference(ref)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return c
}

// client is one person's browser.
type client struct {
	*site
	http *http.Client
}

func (s *site) client() *client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return &client{s, &http.Client{Jar: jar}}
}

// as signs a person in by the first part of the work email.
func (s *site) as(name string) *client {
	s.t.Helper()
	c := s.client()
	p := c.get("/sign-in").form("/sign-in").set("email", name+"@x.example").set("password", testPassword).send()
	if strings.Contains(p.title(), "Sign in") {
		s.t.Fatalf("sign-in as %s: %d %s", name, p.status, p.title())
	}
	return c
}

// page is an answer, parsed.
type page struct {
	c      *client
	status int
	path   string // after redirects
	head   http.Header
	body   string
	doc    *html.Node
}

func (c *client) get(path string) *page {
	c.t.Helper()
	res, err := c.http.Get(c.url + path)
	return c.page(res, err)
}

func (c *client) post(path string, v url.Values) *page {
	c.t.Helper()
	res, err := c.http.PostForm(c.url+path, v)
	return c.page(res, err)
}

// page reads an answer; every page is checked as a person would meet it.
func (c *client) page(res *http.Response, err error) *page {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	p := &page{c: c, status: res.StatusCode, path: res.Request.URL.RequestURI(), head: res.Header, body: string(body)}
	if strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
		for _, f := range htmlcheck.Page(body) {
			c.t.Errorf("%s: %s", p.path, f)
		}
		if !strings.Contains(p.body, "Invented data") {
			c.t.Errorf("%s does not say that the data are invented", p.path)
		}
		if p.doc, err = html.Parse(strings.NewReader(p.body)); err != nil {
			c.t.Fatal(err)
		}
	}
	return p
}

func (p *page) title() string { return p.text("title") }

// text is the text of the first element of this tag or #id; "" for none.
func (p *page) text(sel string) string {
	if n := p.find(sel); n != nil {
		return strings.ReplaceAll(htmlcheck.Text(n), "\u00a0", " ")
	}
	return ""
}

func (p *page) find(sel string) (found *html.Node) {
	htmlcheck.Walk(p.doc, func(n *html.Node) {
		id, _ := htmlcheck.Attr(n, "id")
		if found == nil && (n.Data == sel || "#"+id == sel) {
			found = n
		}
	})
	return found
}

// wants fails unless the page has all these texts.
func (p *page) wants(status int, texts ...string) *page {
	p.c.t.Helper()
	if p.status != status {
		p.c.t.Errorf("%s: status %d, want %d: %s", p.path, p.status, status, p.text("main"))
	}
	all := ""
	if p.doc != nil {
		all = strings.ReplaceAll(htmlcheck.Text(p.doc), "\u00a0", " ")
	}
	for _, t := range texts {
		if !strings.Contains(all, t) {
			p.c.t.Errorf("%s: no %q in %s", p.path, t, p.text("main"))
		}
	}
	return p
}

// filled is a form of a page with its values.
type filled struct {
	p      *page
	action string
	values url.Values
}

// form finds the page's form that posts to this address, with the values in it.
func (p *page) form(action string) *filled {
	p.c.t.Helper()
	f := &filled{p: p, action: action}
	htmlcheck.Walk(p.doc, func(n *html.Node) {
		a, _ := htmlcheck.Attr(n, "action")
		m, _ := htmlcheck.Attr(n, "method")
		if n.Data != "form" || f.values != nil || a != action || m != "post" {
			return
		}
		f.values = url.Values{}
		htmlcheck.Walk(n, f.read)
	})
	if f.values == nil {
		p.c.t.Fatalf("%s has no form to %s: %s", p.path, action, p.text("main"))
	}
	return f
}

func (f *filled) read(n *html.Node) {
	name, _ := htmlcheck.Attr(n, "name")
	value, _ := htmlcheck.Attr(n, "value")
	kind, _ := htmlcheck.Attr(n, "type")
	_, checked := htmlcheck.Attr(n, "checked")
	switch {
	case name == "":
	case n.Data == "textarea":
		text := "" // as it stands; the parser takes the first line end away
		if n.FirstChild != nil {
			text = n.FirstChild.Data
		}
		f.values.Add(name, text)
	case n.Data == "select":
		first := true
		htmlcheck.Walk(n, func(o *html.Node) {
			v, _ := htmlcheck.Attr(o, "value")
			_, sel := htmlcheck.Attr(o, "selected")
			if o.Data == "option" && (first || sel) {
				f.values.Set(name, v)
				first = false
			}
		})
	case n.Data == "input" && kind != "file" && (kind != "radio" && kind != "checkbox" || checked):
		f.values.Add(name, value)
	}
}

func (f *filled) set(name string, values ...string) *filled {
	f.values[name] = values
	return f
}

func (f *filled) send() *page {
	f.p.c.t.Helper()
	return f.p.c.post(f.action, f.values)
}
