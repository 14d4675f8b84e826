package web_test

import (
	"flag"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
)

// thorough makes the tests of this package that try many things try all of them.
var thorough = flag.Bool("thorough", false, "try everything, for minutes")

// rule is one line of the table of who may do what: a route, the people who may, and
// an example address for each route with places in it. A route may have several
// lines when it depends on the infant who may.
type rule struct {
	route string // method and path, as the router has it
	who   string // letters of people; "*" is everybody, also who is not signed in; "key" nobody of them
	at    string // example address; "" is the path
	sent  string // what the form sends, encoded; "409" or "404" when it cannot be done in this world
}

// people are the five who ask: the roles, and who is not signed in.
var people = []struct{ letter, name string }{{"c", "wren"}, {"n", "dagny"}, {"m", "ines"}, {"a", "theo"}, {"-", ""}}

func (r rule) may(letter string) bool { return r.who == "*" || strings.Contains(r.who, letter) }

func (r rule) method() string { m, _, _ := strings.Cut(r.route, " "); return m }

func (r rule) address(x *world) string {
	_, path, _ := strings.Cut(r.route, " ")
	if r.at != "" {
		path = r.at
	}
	return x.to(path)
}

// caller is somebody who sends requests straight to the handler.
type caller struct {
	letter, cookie, token string
	handler               http.Handler
}

// callers signs all people in.
func (x *world) callers() (out []*caller) {
	x.t.Helper()
	for _, p := range people {
		c := &caller{letter: p.letter, handler: x.handler}
		out = append(out, c)
		browser := x.client()
		if p.name != "" {
			browser = x.as(p.name)
		}
		home := browser.get("/sign-in")
		c.token = home.form("/sign-in").values.Get("csrf")
		at, err := url.Parse(x.url)
		if err != nil {
			x.t.Fatal(err)
		}
		for _, k := range browser.http.Jar.Cookies(at) {
			c.cookie += k.Name + "=" + k.Value + ";"
		}
	}
	return out
}

// ask sends a request; change may alter it.
func (c *caller) ask(method, address string, form url.Values, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := c.request(method, address, form)
	for _, f := range change {
		f(r)
	}
	return c.send(r, form)
}

func (c *caller) request(method, address string, form url.Values) *http.Request {
	r := httptest.NewRequest(method, address, nil)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if c.cookie != "" {
		r.Header.Set("Cookie", c.cookie)
	}
	return r
}

func (c *caller) send(r *http.Request, form url.Values) *httptest.ResponseRecorder {
	body := form.Encode()
	r.Body, r.ContentLength = io.NopCloser(strings.NewReader(body)), int64(len(body))
	w := httptest.NewRecorder()
	c.handler.ServeHTTP(w, r)
	return w
}

// routesOf are the routes of the router, by method and path.
func routesOf(h http.Handler) []string {
	var out []string
	for _, r := range h.(*echo.Echo).Routes() {
		if r.Method != echo.RouteNotFound {
			out = append(out, r.Method+" "+r.Path)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// undeclared are the routes without a rule, and rules without a route.
func undeclared(routes []string, table []rule) (out []string) {
	rules := map[string]bool{}
	for _, r := range table {
		rules[r.route] = true
	}
	for _, r := range routes {
		if !rules[r] {
			out = append(out, r+" has no rule: say in matrixrules_test.go who may use it")
		}
		delete(rules, r)
	}
	for _, r := range slices.Sorted(maps.Keys(rules)) {
		out = append(out, r+" has a rule and is no route")
	}
	return out
}

// surprises asks each route as each of the people and says where the answer is not
// what the table says, or tells a refused person something of an infant.
func (x *world) surprises(table []rule, all []*caller) (out []string, asked int) {
	for _, write := range []bool{false, true} { // what changes something comes last
		for _, r := range table {
			if (r.method() != http.MethodGet) != write {
				continue
			}
			for _, c := range all {
				asked++
				if fault := x.surprise(r, c); fault != "" {
					out = append(out, fmt.Sprintf("%s as %q: %s", r.route, c.letter, fault))
				}
			}
		}
	}
	return out, asked
}

func (x *world) surprise(r rule, c *caller) string {
	form := url.Values{"csrf": {c.token}}
	if r.method() == http.MethodGet {
		form = nil
	} else if more, err := url.ParseQuery(x.to(r.sent)); err == nil && r.sent != "409" && r.sent != "404" {
		maps.Copy(form, more)
	}
	w := c.ask(r.method(), r.address(x), form)
	if r.may(c.letter) {
		if strings.Contains("ma", c.letter) && !strings.Contains(r.at, "{waiting}") {
			if s := x.told(w); s != "" {
				return fmt.Sprintf("is served, and told %q", s)
			}
		}
		return notServed(r, w)
	}
	if r.who == "key" && w.Code == http.StatusForbidden {
		return ""
	}
	return x.notRefused(r.method(), c, w)
}

// notServed says why an answer is not that of a route that one may use. An empty form
// is refused with its page, or cannot be done now; it is never forbidden or unknown.
func notServed(r rule, w *httptest.ResponseRecorder) string {
	to := w.Header().Get("Location")
	switch {
	case strings.HasPrefix(to, "/sign-in?next="):
		return "is sent to sign in"
	case w.Code == 200 || w.Code == 204 || w.Code == 301 || w.Code == 303:
		return ""
	case w.Code == 409 && r.sent == "409", w.Code == 404 && r.sent == "404", r.method() != http.MethodGet && (w.Code == 409 || w.Code == 422 || w.Code == 415):
		return ""
	}
	return fmt.Sprintf("gets %d", w.Code)
}

// told is a fact of an infant or a family that an answer says; "" for none.
func (x *world) told(w *httptest.ResponseRecorder) string {
	body := w.Body.String()
	for _, s := range x.secrets {
		if strings.Contains(body, s) {
			return s
		}
	}
	return ""
}

// notRefused says why an answer is not that of a route that one may not use.
func (x *world) notRefused(method string, c *caller, w *httptest.ResponseRecorder) string {
	if s := x.told(w); s != "" && !strings.Contains("cn", c.letter) {
		return fmt.Sprintf("the answer %d says %q", w.Code, s)
	}
	switch {
	case c.letter != "-":
		if w.Code != http.StatusForbidden {
			return fmt.Sprintf("gets %d, not 403", w.Code)
		}
	case method == http.MethodGet:
		if w.Code != http.StatusSeeOther || !strings.HasPrefix(w.Header().Get("Location"), "/sign-in?next=") {
			return fmt.Sprintf("gets %d, and is not sent to sign in", w.Code)
		}
	case w.Code != http.StatusUnauthorized:
		return fmt.Sprintf("gets %d, not 401", w.Code)
	}
	return ""
}

// Every route is asked by every role and by nobody, about infants whom they may see and
// others. A route without a rule fails here.
//
//asvs:8.2.1 8.2.2 8.3.1 4.1.4 8.1.1
func TestWhoMayDoWhat(t *testing.T) {
	x := newWorld(t)
	routes := routesOf(x.router)
	for _, f := range undeclared(routes, matrixRules) {
		t.Error(f)
	}
	all := x.callers()
	faults, asked := x.surprises(matrixRules, all)
	for _, f := range faults {
		t.Error(f)
	}
	more, others := x.otherMethods(routes, all)
	for _, f := range more {
		t.Error(f)
	}
	t.Logf("scorecard S2: %d routes, %d rules, %d requests by 5 people and %d with other methods; %d surprises", len(routes), len(matrixRules), asked, others, len(faults)+len(more))
}

// otherMethods asks every path with the methods that it does not have.
func (x *world) otherMethods(routes []string, all []*caller) (out []string, asked int) {
	has := map[string]bool{}
	for _, r := range routes {
		has[r] = true
	}
	for _, r := range matrixRules {
		_, path, _ := strings.Cut(r.route, " ")
		for i, m := range []string{"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "PROPFIND"} {
			if has[m+" "+path] {
				continue
			}
			has[m+" "+path] = true
			for _, c := range all {
				if i > 2 && !*thorough && (i > 5 || c.letter != "c") {
					continue
				}
				asked++
				w := c.ask(m, r.address(x), url.Values{"csrf": {c.token}})
				if w.Code < 300 || w.Code >= 500 || w.Code < 400 && !strings.HasPrefix(w.Header().Get("Location"), "/sign-in") {
					out = append(out, fmt.Sprintf("%s %s as %q gets %d", m, path, c.letter, w.Code))
				}
				if s := x.told(w); s != "" && !strings.Contains("cn", c.letter) {
					out = append(out, fmt.Sprintf("%s %s as %q says %q", m, path, c.letter, s))
				}
			}
		}
	}
	return out, asked
}

// The test above sees a page that a role should not have, a route that is closed to who
// needs it, a refusal that says a name, and a route without a rule.
func TestTheMatrixSeesAHole(t *testing.T) {
	x := newWorld(t)
	all := x.callers()
	for _, plant := range []struct{ what, letter, route string }{{"opened", "a", "GET /infants"}, {"named", "m", "GET /infants"}, {"closed", "c", "GET /overdue"}} {
		var one []*caller
		for _, c := range all {
			if c.letter != plant.letter {
				continue
			}
			d := *c
			d.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				switch plant.what {
				case "opened":
					r.Header.Set("Cookie", all[0].cookie)
				case "closed":
					r.Header.Del("Cookie")
				case "named":
					w.WriteHeader(http.StatusForbidden)
					fmt.Fprint(w, "The record of VANTERPOOL is closed to you")
					return
				}
				x.router.ServeHTTP(w, r)
			})
			one = append(one, &d)
		}
		var table []rule
		for _, r := range matrixRules {
			if r.route == plant.route {
				table = append(table, r)
			}
		}
		if got, _ := x.surprises(table, one); len(got) == 0 {
			t.Errorf("a page that is %s is not seen", plant.what)
		}
	}
	if got := undeclared([]string{"GET /new"}, nil); len(got) != 1 {
		t.Errorf("a route without a rule gives %v", got)
	}
}
