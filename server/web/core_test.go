package web_test

import (
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
)

//asvs:14.3.1
func TestSignIn(t *testing.T) {
	s := newSite(t)
	c := s.client()
	p := c.get("/overdue?why=result-not-in")
	p.wants(200, "Sign in to go on")
	if !strings.HasPrefix(p.path, "/sign-in?next=") {
		t.Errorf("led to %s", p.path)
	}
	f := p.form("/sign-in")
	f.send().wants(422, "There is a problem", "Enter your work email")
	f.set("email", "wren@x.example").set("password", "wrong").send().wants(422, "Email or password is not right")
	f.set("password", testPassword)
	back := f.send()
	if back.path != "/overdue?why=result-not-in" {
		t.Errorf("after sign-in at %s", back.path)
	}
	out := back.form("/sign-out").send().wants(200, "You are signed out")
	if out.head.Get("Cache-Control") != "no-store" {
		t.Error("page may be kept")
	}
	if p := c.get("/infants"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("signed out, yet at %s", p.path)
	}
}

func TestFirstPages(t *testing.T) {
	s := newSite(t)
	for name, want := range map[string]string{"wren": "/overdue", "dagny": "/schedule"} {
		if p := s.as(name).get("/"); p.path != want {
			t.Errorf("%s begins at %s, want %s", name, p.path, want)
		}
	}
}

// Only a role with the right sees a page, a link to it, or its buttons.
//
//asvs:8.3.1
func TestRights(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at, people := "/infants/"+k.Reference, map[string]*client{}
	for _, c := range []struct {
		who, path string
		status    int
	}{
		{"wren", "/overdue", 200}, {"dagny", "/overdue", 200}, {"ines", "/overdue", 403}, {"theo", "/overdue", 403},
		{"wren", at, 200}, {"dagny", at, 200}, {"ines", at, 403}, {"theo", at, 403},
		{"wren", at + "/tests/new", 403}, {"dagny", at + "/tests/new", 200}, {"dagny", at + "/name", 403}, {"ines", at + "/contacts/new", 403},
		{"ines", "/infants", 403}, {"theo", "/me", 200},
	} {
		if people[c.who] == nil {
			people[c.who] = s.as(c.who)
		}
		people[c.who].get(c.path).wants(c.status)
	}
	people["dagny"].get(at+"/name").wants(403, "You do not have access", "Only a coordinator can do this")
	if body := people["ines"].get("/me").text("header"); strings.Contains(body, "Overdue") || !strings.Contains(body, "Reports") {
		t.Errorf("navigation of the manager: %s", body)
	}
}

// A form without the session's token, or from another site, changes nothing.
func TestForgery(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	c := s.as("wren")
	at := "/infants/" + k.Reference + "/contacts"
	good := c.get("/infants/"+k.Reference+"/contacts/new").form(at).set("outcome", "no answer").values
	send := func(v url.Values, change func(*http.Request)) int {
		r, err := http.NewRequest("POST", c.url+at, strings.NewReader(v.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		change(r)
		res, err := c.http.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		return res.StatusCode
	}
	bad := url.Values{}
	for k, v := range good {
		bad[k] = v
	}
	bad.Set("csrf", "x")
	for name, got := range map[string]int{
		"wrong token":     send(bad, func(*http.Request) {}),
		"other site":      send(good, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }),
		"foreign origin":  send(good, func(r *http.Request) { r.Header.Set("Origin", "https://elsewhere.example") }),
		"token in query":  send(bad, func(r *http.Request) { r.URL.RawQuery = "csrf=" + good.Get("csrf") }),
		"JSON":            send(good, func(r *http.Request) { r.Header.Set("Content-Type", "application/json") }),
		"no content type": send(good, func(r *http.Request) { r.Header.Del("Content-Type") }),
		"too large":       send(url.Values{"note": {strings.Repeat("x", 70_000)}}, func(*http.Request) {}),
	} {
		if got < 400 || got >= 500 {
			t.Errorf("%s: %d", name, got)
		}
	}
	if n := len(s.read(k.Reference).Contacts); n != 0 {
		t.Errorf("%d contacts were recorded", n)
	}
	if got := send(good, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-origin") }); got != 200 {
		t.Errorf("good form: %d %s", got, s.log)
	}
}

// A sign-in form that outlived its session gets its page, not a server fault.
func TestForgeryBeforeSignIn(t *testing.T) {
	s := newSite(t)
	c := s.client()
	res, err := c.http.PostForm(c.url+"/sign-in", url.Values{"csrf": {"x"}, "email": {"a"}})
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != http.StatusForbidden || !strings.Contains(string(body), "This form could not be used") {
		t.Errorf("%d %s", res.StatusCode, body)
	}
}

//asvs:3.4.1 3.4.3 3.4.4 3.4.5 3.4.6 3.4.8 3.5.8 4.1.1 14.3.2
func TestHeaders(t *testing.T) {
	s := newSite(t)
	p := s.client().get("/sign-in")
	for name, want := range map[string]string{
		"Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'",
		"X-Content-Type-Options":  "nosniff", "Cache-Control": "no-store", "Cross-Origin-Opener-Policy": "same-origin", "Server": "", "X-Xss-Protection": "",
	} {
		if got := p.head.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	link, _ := strings.CutPrefix(p.body[strings.Index(p.body, `href="/static/dunlin.`):], `href="`)
	link, _, _ = strings.Cut(link, `"`)
	css := s.client().get(link)
	if css.status != 200 || !strings.Contains(css.head.Get("Cache-Control"), "immutable") {
		t.Errorf("%s: %d %s", link, css.status, css.head.Get("Cache-Control"))
	}
	for _, bad := range []string{"/static/..%2fpages%2fsignin.html", "/static/dunlin.css"} {
		if got := s.client().get(bad).status; got != 404 {
			t.Errorf("%s: %d", bad, got)
		}
	}
}

// The log names no address with its parameters, no person and nothing typed.
//
//asvs:16.2.5 14.2.4
func TestLogIsSilentAboutPeople(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	c := s.as("wren")
	c.get("/infants/" + k.Reference)
	c.get("/overdue").form("/infants/find").set("q", "Oyelaran").send()
	for _, secret := range []string{"Oyelaran", "OYELARAN", "Tobias", "2026-01-21", testPassword, k.Reference, "wren@"} {
		if strings.Contains(s.log.String(), secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
	if !strings.Contains(s.log.String(), `"route":"/infants/:ref"`) {
		t.Errorf("no route in the log: %s", s.log)
	}
}

func TestNotFound(t *testing.T) {
	s := newSite(t)
	c := s.as("wren")
	for _, path := range []string{"/nothing", "/infants/AB-2026-9999", "/infants/%00", "/overdue/days/2026-13-01", "/overdue/days/2027-01-01", "/infants/AB-2026-9999/contacts/new"} {
		c.get(path).wants(404, "Page not found")
	}
}

// Idle sessions end; a form sent after that says so and saves nothing.
func TestSignedOutForm(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	c := s.as("wren")
	f := c.get("/infants/"+k.Reference+"/contacts/new").form("/infants/"+k.Reference+"/contacts").set("outcome", "no answer")
	s.update(func(w cases.Writer) error {
		a, err := w.Account("wren@x.example")
		if err != nil {
			return err
		}
		a.Disabled = true
		return w.PutAccount(a)
	})
	f.send().wants(401, "You were signed out", "Nothing was saved")
	sent := func(f *filled) *page {
		r, err := http.NewRequest("POST", c.url+f.action, strings.NewReader(f.values.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		res, err := c.http.Do(r)
		return c.page(res, err)
	}
	kept := sent(f.set("note", "rang twice")).wants(401, "You were signed out", "What you typed is kept", "no answer", "rang twice")
	if n := len(s.read(k.Reference).Contacts); n != 0 {
		t.Errorf("%d contacts were recorded", n)
	}
	c.get("/sign-in").form("/sign-in").set("email", "dagny@x.example").set("password", testPassword).send()
	anew := sent(kept.form(f.action)).wants(403, "You signed in anew", "rang twice")
	sent(anew.form(f.action)).wants(200, "Contact saved")
	if k := s.read(k.Reference).Contacts; len(k) != 1 || k[0].Note != "rang twice" || k[0].Staff != "Dagny Achterberg" {
		t.Errorf("recorded %+v", k)
	}
}

// When the store fails or a handler breaks, the kept page says so with the
// request's number, and shows nothing of the cause.
//
//asvs:16.5.1 16.5.4
func TestTrouble(t *testing.T) {
	s := newSite(t)
	k := s.open(docNew)
	c := s.as("wren")
	s.broken.Store(true)
	p := c.get("/infants/"+k.Reference).wants(500, "Sorry, there is a problem with Dunlin", "Nothing was saved", "Tell support this number")
	if strings.Contains(p.body, "made to fail") || !strings.Contains(p.body, p.head.Get("X-Request-Id")) || !strings.Contains(s.log.String(), "made to fail") {
		t.Errorf("page %s, log %s", p.text("main"), s.log)
	}
	s.broken.Store(false)
	c.get("/infants/" + k.Reference).wants(200)
}
