package web_test

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	booking "dunlin/cases/schedule"
	"dunlin/templates/htmlcheck"

	"golang.org/x/net/html"
)

// endless is longer than any field may be, and short enough for a form.
var endless = strings.Repeat("zq", 6000)

// unread are the fields that an answer says nothing about, with the reason.
var unread = map[string]string{
	"/sign-in? email":           "the answer is the same whatever is wrong, and nothing is kept",
	"/sign-in? password":        "the answer is the same whatever is wrong, and nothing is kept",
	"/set-password/*? username": "for password managers, never read",
	"/me/password? username":    "for password managers, never read",
}

// textsOf are the names of the controls of a form into which text is typed.
func textsOf(form *html.Node) (names []string) {
	htmlcheck.Walk(form, func(n *html.Node) {
		name, _ := htmlcheck.Attr(n, "name")
		kind, _ := htmlcheck.Attr(n, "type")
		if name != "" && !slices.Contains(names, name) && (n.Data == "textarea" || n.Data == "input" && slices.Contains([]string{"", "text", "search", "email", "tel", "password"}, kind)) {
			names = append(names, name)
		}
	})
	return names
}

// badlyLong says what is wrong with the answer to a form with an endless field: it is
// refused with a word at the field, and what was typed elsewhere is there still.
func badlyLong(w *httptest.ResponseRecorder, name string, values url.Values) string {
	doc, err := html.Parse(strings.NewReader(w.Body.String()))
	if err != nil {
		return err.Error()
	}
	if w.Code != http.StatusUnprocessableEntity {
		return http.StatusText(w.Code)
	}
	fault, again := "says nothing at the field", &filled{values: url.Values{}}
	htmlcheck.Walk(doc, func(n *html.Node) {
		if at, _ := htmlcheck.Attr(n, "name"); at == name {
			if bad, _ := htmlcheck.Attr(n, "aria-invalid"); bad == "true" {
				fault = ""
			}
		}
		if n.Data == "form" {
			htmlcheck.Walk(n, again.read)
		}
	})
	if fault != "" {
		return fault
	}
	for other, v := range values {
		if other != name && other != "csrf" && other != "once" && !strings.Contains(strings.Join(again.values[other], "\n"), strings.Join(v, "\n")) && strings.Join(v, "") != "" {
			return "loses " + other
		}
	}
	return ""
}

// decision is the option of a form of the intake under which a field is read: another
// case, or an infant opened.
func decision(form *html.Node, field string) (as string) {
	htmlcheck.Walk(form, func(n *html.Node) {
		name, _ := htmlcheck.Attr(n, "name")
		v, _ := htmlcheck.Attr(n, "value")
		verb, _, _ := strings.Cut(v, " ")
		if name == "as" && (as == "" || field == "case" && verb == "other" || field != "case" && (verb == "open" || verb == "twin")) {
			as = v
		}
	})
	return as
}

// longFaults sends each text field of each form of the pages of a person, endless.
func (x *world) longFaults(c *caller, seen map[string]bool) (out []string, sent int) {
	for _, r := range matrixRules {
		if r.method() != http.MethodGet || !r.may(c.letter) {
			continue
		}
		at := r.address(x)
		doc, err := html.Parse(strings.NewReader(c.ask(http.MethodGet, at, nil).Body.String()))
		if err != nil {
			continue
		}
		htmlcheck.Walk(doc, func(n *html.Node) {
			method, _ := htmlcheck.Attr(n, "method")
			action, _ := htmlcheck.Attr(n, "action")
			if n.Data != "form" || method != "post" || action == "" || action == "/" { // the script says where it goes
				return
			}
			for _, name := range textsOf(n) {
				key := kindOf(action) + " " + name
				if seen[key] || unread[key] != "" {
					continue
				}
				seen[key] = true
				f := &filled{values: url.Values{}}
				htmlcheck.Walk(n, f.read)
				f.values.Set(name, endless)
				sent++
				if strings.HasPrefix(action, "/intake/") { // what is read depends on what was decided
					f.values.Set("as", decision(n, name))
				}
				if name == "stop-why" {
					f.values.Set("stopped", "yes")
				}
				w := c.ask(http.MethodPost, action, f.values)
				if fault := badlyLong(w, name, f.values); fault != "" {
					out = append(out, key+" on "+at+": "+fault)
				}
			}
		})
	}
	return out, sent
}

// storedNowhere fails when a case, letter, message, audit entry, account, item or sender
// holds a text.
func (x *world) storedNowhere(text string) {
	x.t.Helper()
	err := x.db.View(x.t.Context(), func(r cases.Reader) error {
		put := func(v any, err error) error {
			if b, _ := json.Marshal(v); strings.Contains(string(b), text) {
				x.t.Errorf("stored: %.300s", b)
			}
			return err
		}
		var errs []error
		for c, err := range r.All() {
			errs = append(errs, put(c, err))
		}
		for l, err := range r.Letters("") {
			errs = append(errs, put(l, err))
		}
		for o, err := range r.Outgoings("") {
			errs = append(errs, put(o, err))
		}
		for e, err := range r.EntriesSince(x.now.AddDate(-1, 0, 0)) {
			errs = append(errs, put(e, err))
		}
		accounts, err := r.Accounts()
		items, err2 := r.Items("", 100)
		sites, err3 := booking.Sites(r)
		senders, err4 := intake.Senders(r)
		return errors.Join(append(errs, put(accounts, err), put(items, err2), put(sites, err3), put(senders, err4))...)
	})
	if err != nil {
		x.t.Fatal(err)
	}
}

// Each text field of each form refuses more than it keeps, with a word at the field, and
// nothing else that was typed is lost.
//
//asvs:1.3.3 2.2.1
func TestEveryTextHasALimit(t *testing.T) {
	x := newWorld(t)
	seen, sent := map[string]bool{}, 0
	for _, c := range x.callers()[:4] {
		faults, n := x.longFaults(c, seen)
		sent += n
		for _, f := range faults {
			t.Error(f)
		}
	}
	x.storedNowhere("zqzqzq")
	t.Logf("%d fields sent too long", sent)
}
