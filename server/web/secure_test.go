package web_test

import (
	"net/http"
	"testing"
	"time"

	"dunlin/server/auth"
	"dunlin/server/web"
)

// Over TLS each cookie is for this host alone and for TLS alone, and browsers are told
// to come by TLS: the watched answers of the site check each header and cookie.
//
//asvs:3.3.1 3.3.2 3.3.3 3.3.4 3.4.1
func TestSecureCookies(t *testing.T) {
	s := newSite(t, func(d *web.Deps) {
		g, err := auth.New(d.Store, auth.Options{Now: func() time.Time { return d.Now() }, Secure: true})
		if err != nil {
			t.Fatal(err)
		}
		d.Auth, d.Secure = g, true
	})
	p := s.client().get("/sign-in")
	if p.head.Get("Set-Cookie") == "" {
		t.Error("no cookie is set")
	}
	s.client().get("/nothing")
}

// What is wrong with headers is seen.
func TestWrongHeadersAreSeen(t *testing.T) {
	good := http.Header{"Content-Security-Policy": {pagePolicy}, "Cache-Control": {"no-store"}, "Content-Type": {"text/html; charset=UTF-8"}}
	for name, v := range alwaysSent {
		good.Set(name, v)
	}
	r, err := http.NewRequest(http.MethodGet, "/overdue", nil)
	if err != nil {
		t.Fatal(err)
	}
	if f := headerFaults(r, good, false); len(f) != 0 {
		t.Errorf("good headers: %v", f)
	}
	for name, value := range map[string]string{"Content-Security-Policy": "default-src *", "Cache-Control": "", "X-Content-Type-Options": "", "Content-Type": "text/html", "Location": "//elsewhere.example", "Server": "x",
		"Set-Cookie": "a=b; Path=/; HttpOnly", "Content-Disposition": "attachment", "Strict-Transport-Security": "max-age=1", "Access-Control-Allow-Origin": "*"} {
		bad := good.Clone()
		bad.Set(name, value)
		if f := headerFaults(r, bad, name == "Strict-Transport-Security"); len(f) == 0 {
			t.Errorf("%s: %q is not seen", name, value)
		}
	}
}

// Each sign-in and each failure leaves an entry; a name that nobody has leaves one too.
//
//asvs:16.3.1
func TestSignInsAreLogged(t *testing.T) {
	s := newSite(t)
	s.as("wren")
	for _, name := range []string{"wren@x.example", "nobody@x.example"} {
		s.client().get("/sign-in").form("/sign-in").set("email", name).set("password", "something else").send().wants(422)
	}
	if in, failed := s.entries("signed-in"), s.entries("sign-in-failed"); len(in) != 1 || len(failed) != 2 {
		t.Errorf("entries %q and %q", in, failed)
	}
}
