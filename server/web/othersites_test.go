package web_test

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/reminders"
)

// What stands in the addresses of routes. A route with something in its address that is
// of none of these fails the test.
var (
	ofSites = []string{"/infants/:ref", "/letters/:id", "/letters/runs/:run", "/letters/page", "/letters/make-now", "/messages/:id", "/sessions/:site/:day", "/settings/sites/:key/sessions/", "/intake/:id"}
	ofNone  = []string{"/static/:name", "/set-password/:token", "/first/:token", "/overdue/days/:day", "/settings/letter-texts/:lang/:text", "/settings/senders/:n", "/settings/users/:key", "/settings/sites/:key"}
)

// isOfSite tells whether the address of a route names an infant, a letter, a message, an
// item or a session, which are of some test site; known is false for a route that must
// be declared.
func isOfSite(route string) (is, known bool) {
	_, path, _ := strings.Cut(route, " ")
	begins := func(p string) bool { return strings.HasPrefix(path+"/", strings.TrimSuffix(p, "/")+"/") }
	is = slices.ContainsFunc(ofSites, begins)
	return is, is || !strings.Contains(path, ":") || slices.ContainsFunc(ofNone, begins)
}

// boundTo signs a nurse in whose account is bound to a test site.
func (x *world) boundTo(name, site string) *caller {
	x.t.Helper()
	x.update(func(w cases.Writer) error {
		return w.PutAccount(cases.Account{ID: name + "@x.example", Name: "Nurse " + name, Role: cases.Nurse, Hash: testHash(), Sites: []string{site}})
	})
	browser := x.as(name)
	c := &caller{letter: "n", handler: x.handler, token: browser.get("/sign-in").form("/sign-in").values.Get("csrf")}
	at, err := url.Parse(x.url)
	if err != nil {
		x.t.Fatal(err)
	}
	for _, k := range browser.http.Jar.Cookies(at) {
		c.cookie += k.Name + "=" + k.Value + ";"
	}
	return c
}

// fingerprint changes with every case, letter, message, session and audit entry.
func (x *world) fingerprint() string {
	x.t.Helper()
	h := sha256.New()
	put := func(v any, err error) error {
		if err != nil {
			return err
		}
		return json.NewEncoder(h).Encode(v)
	}
	err := x.db.View(x.t.Context(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err := put(c.Rev, err); err != nil {
				return err
			}
		}
		for l, err := range r.Letters("") {
			if err := put(l, err); err != nil {
				return err
			}
		}
		for o, err := range r.Outgoings("") {
			if err := put(o, err); err != nil {
				return err
			}
		}
		list, err := booking.Sessions(r, "alder-bay", r.Today(), r.Today()+60)
		if err := put(list, err); err != nil {
			return err
		}
		n := 0
		for _, err := range r.EntriesSince(x.now.AddDate(-1, 0, 0)) {
			if n++; err != nil {
				return err
			}
		}
		return put(n, nil)
	})
	if err != nil {
		x.t.Fatal(err)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

var infantIn = regexp.MustCompile(`^/infants/([^/]+)`)

// elsewhere is an address like that of the rule, of an infant who has a test site, and
// the infant's reference.
func (x *world) elsewhere(r rule) (address, ref string) {
	address = r.address(x)
	if m := infantIn.FindStringSubmatch(address); m != nil && strings.Contains(r.route, ":ref") {
		ref = m[1]
		if k := x.read(ref); len(k.SitesOf()) == 0 {
			ref = x.at["qns"]
			address = strings.Replace(address, m[1], ref, 1)
		}
	}
	return address, ref
}

// crossed asks a route about an infant, letter, message or session of another test site,
// and says what is wrong with the answer.
func (x *world) crossed(r rule, c *caller, by string) string {
	at, ref := x.elsewhere(r)
	form, before, lines := url.Values(nil), "", len(x.lines())
	if r.method() != http.MethodGet {
		form, before = url.Values{"csrf": {c.token}, "once": {"once-of-" + by + r.route}}, x.fingerprint()
		if more, err := url.ParseQuery(x.to(r.sent)); err == nil && r.sent != "409" && r.sent != "404" {
			maps.Copy(form, more)
		}
	}
	w := c.ask(r.method(), at, form)
	want := http.StatusForbidden
	switch {
	case r.route == "GET /letters/page": // a letter that is not made yet is looked for among those in sight
		want = http.StatusNotFound
	case strings.HasSuffix(r.route, "/:ref/open"):
		// It asks for the reason, and tells nothing.
		want = map[string]int{http.MethodGet: http.StatusOK, http.MethodPost: http.StatusUnprocessableEntity}[r.method()]
	}
	switch s := x.told(w); {
	case w.Code != want:
		return fmt.Sprintf("%s gets %d, not %d", at, w.Code, want)
	case s != "":
		return fmt.Sprintf("%s is told %q", at, s)
	case before != "" && before != x.fingerprint():
		return at + " changed something"
	}
	for _, l := range x.since(lines) {
		if l.By == by && l.Route == r.route && l.Status == w.Code && (ref == "" || slices.Contains(l.Infants, ref)) {
			return ""
		}
	}
	return at + " has no line in the access log"
}

// overheard is what a page that names no infant in its address tells of infants of
// another site.
func (x *world) overheard(r rule, c *caller) string {
	w := c.ask(http.MethodGet, r.address(x), nil)
	if w.Code >= 400 && r.may("n") && r.sent == "" {
		return fmt.Sprintf("gets %d", w.Code)
	}
	return x.told(w)
}

// leavesTheLists closes a case of this morning's list, and cancels a session in which
// infants are booked.
func (x *world) leavesTheLists() {
	x.t.Helper()
	k := x.read(x.at["burnt"])
	k.Closures = append(k.Closures, cases.Closure{On: cases.DayOf(x.now), As: "lost", By: "Wren Castellano", AgreedBy: "Ines Okafor-Lund", AgreedOn: cases.DayOf(x.now)})
	x.update(func(w cases.Writer) error {
		if _, err := w.PutCase(k, cases.Event{Kind: "closed", Text: "Closed"}); err != nil {
			return err
		}
		list, err := booking.Sessions(w, "alder-bay", w.Today(), w.Today()+60)
		for i := range list {
			list[i].Cancelled, list[i].Note = true, "Ill"
		}
		return errors.Join(err, booking.PutSessions(w, x.protocol, list...))
	})
}

// A nurse who is bound to a test site asks every route that has an infant, a letter, a
// message or a session in its address about one of another site, and every other page
// whether it tells of them; then a nurse of their site asks the same.
//
//asvs:8.2.2 8.2.3 8.3.1 16.3.2
func TestNoRouteLeadsToAnotherSite(t *testing.T) {
	x := newWorld(t)
	book := reminders.Book{Store: x.db, Protocol: func() *cases.Protocol { return x.protocol }}
	if _, err := book.Keep(t.Context(), cases.DayOf(x.now)); err != nil {
		t.Fatal(err)
	}
	none := []string{"SORREL-WHITE", "Sorrel-White", "EASTERLY", "Easterly"} // of no site: everybody's
	x.secrets = slices.DeleteFunc(x.secrets, func(s string) bool { return slices.Contains(none, s) })
	far, near := x.boundTo("far", "reef-head"), x.boundTo("near", "alder-bay")
	asked, refused := 0, 0
	for _, r := range matrixRules {
		is, known := isOfSite(r.route)
		if !known {
			t.Errorf("%s: say in othersites_test.go whether what its address names is of a test site", r.route)
		}
		fault := ""
		switch {
		case is:
			asked, refused = asked+1, refused+1
			fault = x.crossed(r, far, "far@x.example")
		case r.method() == http.MethodGet:
			asked++
			fault = x.overheard(r, far)
		}
		if fault != "" {
			t.Errorf("%s: %s", r.route, fault)
		}
	}
	for _, write := range []bool{false, true} {
		for _, r := range matrixRules {
			if is, _ := isOfSite(r.route); !is || !r.may("n") || (r.method() != http.MethodGet) != write {
				continue
			}
			asked++
			if fault := x.surprise(r, near); fault != "" {
				t.Errorf("%s of the own site: %s", r.route, fault)
			}
		}
	}
	x.leavesTheLists()
	for _, at := range []string{"GET /overdue", "GET /overdue/days/:day", "GET /schedule", "GET /letters", "GET /messages", "GET /reports/faults"} {
		for _, r := range matrixRules {
			if r.route != at {
				continue
			}
			if fault := x.overheard(r, far); fault != "" {
				t.Errorf("%s later: %s", at, fault)
			}
		}
	}
	t.Logf("scorecard S2: %d requests by nurses bound to a test site, %d of them refused about another site", asked, refused)
}

// The test above sees a page that is open to another site, one that tells a name, one
// that is not logged, and a route that nobody declared.
func TestAHoleBetweenSitesIsSeen(t *testing.T) {
	x := newWorld(t)
	near, far := x.boundTo("near", "alder-bay"), x.boundTo("far", "reef-head")
	if x.crossed(rule{"GET /infants/:ref", "cn", "/infants/{qns}", ""}, near, "near@x.example") == "" {
		t.Error("an open page is not seen")
	}
	post := rule{"POST /infants/:ref/weights", "cn", "/infants/{qns}/weights", ""}
	if got := x.crossed(post, far, "far@x.example"); got != "" {
		t.Errorf("a refused form: %s", got)
	}
	for fault, answer := range map[string]string{"is told": "The record of VANTERPOOL", "no line": "no"} {
		c := *far
		c.handler = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(http.StatusForbidden)
			fmt.Fprint(w, answer)
		})
		if got := x.crossed(post, &c, "far@x.example"); !strings.Contains(got, fault) {
			t.Errorf("%s is not seen: %q", fault, got)
		}
	}
	c := *far
	c.handler = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		x.open(docNew)
		w.WriteHeader(http.StatusForbidden)
	})
	if got := x.crossed(post, &c, "far@x.example"); !strings.Contains(got, "changed") {
		t.Errorf("a change is not seen: %q", got)
	}
	if _, known := isOfSite("GET /parents/:id"); known {
		t.Error("a route that nobody declared is not seen")
	}
}

// The figures of a nurse who is bound to test sites count the infants of those sites and
// say so.
func TestFiguresOfOwnSites(t *testing.T) {
	s, _, _, _ := boundSite(t)
	for _, who := range []string{"wren", "dagny"} {
		c := s.as(who)
		for _, at := range []string{"/reports/closure", "/reports/qns", "/reports/ages", "/reports/year?year=2026"} {
			p := c.get(at).wants(200)
			if says := strings.Contains(p.body, "Your test sites only"); says != (who == "dagny") {
				t.Errorf("%s as %s says that it is of some sites: %t", at, who, says)
			}
		}
		c.get("/reports/faults").wants(200, map[string]string{"wren": "of 3 cases", "dagny": "of 2 cases"}[who])
	}
}
