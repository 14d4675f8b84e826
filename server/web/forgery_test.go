package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/web"
)

// entriesNow counts the lines of the audit trail.
func (s *site) entriesNow() (n int) {
	s.t.Helper()
	err := s.db.View(s.t.Context(), func(r cases.Reader) error {
		for _, err := range r.EntriesSince(s.now.AddDate(-1, 0, 0)) {
			if err != nil {
				return err
			}
			n++
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

// forgeries are ways in which another site, or another's session, could send a form.
var forgeries = map[string]func(r *http.Request, form url.Values, other string){
	"no token":        func(_ *http.Request, form url.Values, _ string) { form.Del("csrf") },
	"another's token": func(_ *http.Request, form url.Values, other string) { form.Set("csrf", other) },
	"token in the address": func(r *http.Request, form url.Values, _ string) {
		r.URL.RawQuery = "csrf=" + url.QueryEscape(form.Get("csrf"))
		form.Del("csrf")
	},
	"cross-site":          func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
	"same site, not here": func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Sec-Fetch-Site", "same-site") },
	"foreign origin":      func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Origin", "https://elsewhere.example") },
	"origin of nobody":    func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Origin", "null") },
	"as JSON":             func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Content-Type", "application/json") },
	"as plain text":       func(r *http.Request, _ url.Values, _ string) { r.Header.Set("Content-Type", "text/plain") },
}

// accepted says which forged forms were not refused.
func (x *world) accepted(table []rule, all []*caller) (out []string, asked int) {
	for i, c := range all {
		other := all[(i+1)%len(all)].token
		for _, r := range table {
			if r.method() != http.MethodPost || r.who == "key" || !r.may(c.letter) {
				continue
			}
			for name, forge := range forgeries {
				asked++
				form := url.Values{"csrf": {c.token}}
				q := c.request(http.MethodPost, r.address(x), nil)
				q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				forge(q, form, other)
				w := c.send(q, form)
				if w.Code != http.StatusForbidden && w.Code != http.StatusUnauthorized && w.Code != http.StatusUnsupportedMediaType {
					out = append(out, fmt.Sprintf("%s as %q, %s: %d", r.route, c.letter, name, w.Code))
				}
			}
		}
	}
	return out, asked
}

// No form is taken that another site or another session sends, whatever the route and
// whoever is signed in; nothing is written.
//
//asvs:3.5.1 3.5.3
func TestForgedFormsAreRefused(t *testing.T) {
	x := newWorld(t)
	all := x.callers()
	before := x.entriesNow()
	faults, asked := x.accepted(matrixRules, all)
	for _, f := range faults {
		t.Error(f)
	}
	if n := x.entriesNow(); n != before {
		t.Errorf("%d entries were written", n-before)
	}
	t.Logf("%d forged forms, %d taken", asked, len(faults))
	// With tokens unchecked, the same is seen.
	open := *all[0]
	open.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/", http.StatusSeeOther) })
	if got, _ := x.accepted(matrixRules[:30], []*caller{&open, all[1]}); len(got) == 0 {
		t.Error("a server that takes every form is not seen")
	}
}

// Reading changes nothing: every page is asked for by everybody, and no entry is
// written but those that say that something was seen or taken along.
//
//asvs:3.5.3
func TestReadingChangesNothing(t *testing.T) {
	x := newWorld(t)
	all := x.callers()
	before := map[string]cases.Rev{}
	refs := []string{"qns", "booked", "waiting", "closed", "placed"}
	for _, name := range refs {
		before[name] = x.read(x.at[name]).Rev
	}
	for _, r := range matrixRules {
		for _, c := range all {
			if r.method() == http.MethodGet {
				c.ask(http.MethodGet, r.address(x), nil)
			}
		}
	}
	for _, name := range refs {
		if now := x.read(x.at[name]).Rev; now != before[name] {
			t.Errorf("the case %s was changed by reading", name)
		}
	}
}

// After sign-in the way leads only to pages of this server.
//
//asvs:1.2.2
func TestNoWayLeadsElsewhere(t *testing.T) {
	s := newSite(t) // the watched answers of the site refuse any other place
	for _, next := range []string{"//elsewhere.example", "/\\elsewhere.example", "https://elsewhere.example", "javascript:alert(1)", "/%2f/elsewhere.example", "/\t/elsewhere.example", "\\\\elsewhere.example",
		"/sign-out", "http:elsewhere.example", "///elsewhere.example", "/overdue\r\nSet-Cookie: a=b", " //elsewhere.example", "/a//b"} {
		c := s.client()
		f := c.get("/sign-in?next=" + url.QueryEscape(next)).form("/sign-in")
		p := f.set("next", next).set("email", "wren@x.example").set("password", testPassword).send()
		if p.status != 200 && p.status != 404 || p.head.Get("Set-Cookie") == "a=b" {
			t.Errorf("%q leads to %d %s", next, p.status, p.path)
		}
		s.now = s.now.Add(10 * time.Second) // the throttle of sign-in
	}
}

// Paths that climb, double or hide their parts open nothing.
//
//asvs:8.2.2 13.4.2
func TestPathsThatClimbOpenNothing(t *testing.T) {
	x := newWorld(t)
	all := x.callers()
	for _, p := range []string{"/static/../pages/me.html", "/static/..%2f..%2fserver%2fmain.go", "/static/%2e%2e/dunlin.css", "/static/", "/static", "//infants", "/infants//", "/INFANTS", "/infants/..", "/infants/{qns}/../{booked}",
		"/infants/%7Bqns%7D", "/infants/{qns}%00", "/infants/{qns};a=b", "/./overdue", "/overdue/", "/overdue.json", "/letters/%2e%2e/pdf", "/intake/..%2f..%2fetc%2fpasswd/raw", "/settings/sites/..%2f..", "/debug/pprof/", "/metrics", "/.git/config", "/.env", "/server-status", "/settings/../infants"} {
		for _, c := range all {
			w := c.ask(http.MethodGet, x.to(p), nil)
			if w.Code != http.StatusNotFound && w.Code != http.StatusMethodNotAllowed && w.Code != http.StatusForbidden && !(w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), "/sign-in")) {
				t.Errorf("%s as %q: %d", p, c.letter, w.Code)
			}
			if s := x.told(w); s != "" {
				t.Errorf("%s as %q says %q", p, c.letter, s)
			}
		}
	}
}

// What a client sends in headers, addresses and forms makes no header of an answer and
// no line of the log.
//
//asvs:16.4.1
func TestNothingSentBecomesAHeaderOrALine(t *testing.T) {
	x := newWorld(t)
	wren := x.callers()[0]
	const cut = "a\r\nX-Planted: yes\r\n{\"level\":\"INFO\"}"
	for _, r := range matrixRules {
		if !r.may("c") || r.route == "POST /sign-out" {
			continue
		}
		form := url.Values{"csrf": {wren.token}, "next": {cut}, "q": {cut}, "name": {cut}, "note": {cut}, "letter": {cut}, "job": {cut}, "email": {cut}, cut: {cut}}
		if r.method() == http.MethodGet {
			form = nil
		}
		at := r.address(x)
		w := wren.ask(r.method(), at, form, func(q *http.Request) {
			q.Header.Set("User-Agent", cut)
			q.Header.Set("Referer", cut)
			q.Header.Set("X-Request-Id", cut)
			q.Header.Set("X-Forwarded-For", cut)
			if q.URL.RawQuery == "" {
				q.URL.RawQuery = "q=" + url.QueryEscape(cut) + "&" + url.QueryEscape(cut) + "=1"
			}
		})
		if w.Code >= 500 {
			t.Errorf("%s: %d", r.route, w.Code)
		}
		for name, values := range w.Header() {
			if strings.Contains(name, "Planted") || strings.ContainsAny(strings.Join(values, ""), "\r\n") {
				t.Errorf("%s answers the header %s: %q", r.route, name, values)
			}
		}
	}
	for _, f := range logFaults(x.log.String(), append(x.secrets, "Planted")) {
		t.Errorf("log: %s", f)
	}
}

// Only the word of a proxy of ours counts for where a request comes from.
func TestOnlyTrustedProxiesAreBelieved(t *testing.T) {
	for name, c := range map[string]struct {
		proxies  []string
		from, by string
		want     string
	}{
		"no proxy":               {nil, "203.0.113.9", "198.51.100.7", "198.51.100.7"},
		"a proxy of ours":        {[]string{"198.51.100.0/24"}, "203.0.113.9", "198.51.100.7", "203.0.113.9"},
		"a stranger":             {[]string{"192.0.2.0/24"}, "203.0.113.9", "198.51.100.7", "198.51.100.7"},
		"more than the proxy":    {[]string{"198.51.100.0/24"}, "10.9.9.9, 203.0.113.9", "198.51.100.7", "203.0.113.9"},
		"two proxies":            {[]string{"198.51.100.0/24"}, "203.0.113.9, 198.51.100.8", "198.51.100.7", "203.0.113.9"},
		"inside, yet not ours":   {[]string{"198.51.100.0/24"}, "203.0.113.9", "127.0.0.1", "127.0.0.1"},
		"nonsense":               {[]string{"198.51.100.0/24"}, "unknown, <b>", "198.51.100.7", "198.51.100.7"},
		"of the newer addresses": {[]string{"2001:db8::/32"}, "2001:db9::1", "2001:db8::1", "2001:db9::1"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := web.ClientAddress(c.proxies, c.from, c.by); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}
