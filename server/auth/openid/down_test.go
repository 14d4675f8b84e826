package openid_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"dunlin/server/auth/openid"
)

func TestDown(t *testing.T) {
	s := newService(t)
	at := &clock{}
	o := s.open(t, func(x *openid.Settings) { x.Now = at.now })
	ctx := context.Background()
	broken := map[string]func(map[string]any){
		"other issuer":    func(d map[string]any) { d["issuer"] = "https://elsewhere.example" },
		"token in clear":  func(d map[string]any) { d["token_endpoint"] = "http://192.0.2.1/token" },
		"page is script":  func(d map[string]any) { d["authorization_endpoint"] = "javascript:alert(1)" },
		"keys in clear":   func(d map[string]any) { d["jwks_uri"] = "http://192.0.2.1/keys" },
		"nothing offered": func(d map[string]any) { clear(d) },
		"endless":         func(d map[string]any) { d["more"] = strings.Repeat("x", 2<<20) },
	}
	for name, f := range broken {
		s.offer = f
		_, _, err := o.Begin(ctx, false)
		if !errors.Is(err, openid.ErrDown) {
			t.Errorf("%s: %v", name, err)
		}
		wantRefused(t, err, "Alder Bay account does not answer just now. Sign in with your password")
		at.move(11 * time.Second)
	}
	if !o.Trouble() {
		t.Error("no trouble is told")
	}
	s.offer = nil
	n := s.asked["/.well-known/openid-configuration"]
	at.move(-2 * time.Second) // within ten seconds of the failure nothing is asked
	if _, _, err := o.Begin(ctx, false); !errors.Is(err, openid.ErrDown) || s.asked["/.well-known/openid-configuration"] != n {
		t.Errorf("asked at once again: %v", err)
	}
	at.move(2 * time.Second)
	if _, _, err := o.Begin(ctx, false); err != nil || o.Trouble() {
		t.Errorf("it came back: %v, %v", err, o.Trouble())
	}
	s.offer = func(d map[string]any) { clear(d) } // what it said before holds
	at.move(2 * time.Hour)
	if _, _, err := o.Begin(ctx, false); err != nil {
		t.Errorf("what was known is lost: %v", err)
	}
	s.token = func(w http.ResponseWriter) bool {
		w.WriteHeader(http.StatusBadGateway)
		fmt.Fprint(w, "<b>oidc: down</b>")
		return true
	}
	_, err := finish(t, s, o, nil)
	wantRefused(t, err, "does not answer")
	s.token = func(w http.ResponseWriter) bool {
		w.Header().Set("Location", "https://elsewhere.example/")
		w.WriteHeader(http.StatusTemporaryRedirect)
		return true
	}
	if _, err = finish(t, s, o, nil); !errors.Is(err, openid.ErrDown) {
		t.Errorf("a redirect of the token endpoint: %v", err)
	}
	s.token = nil
	s.Close()
	at.move(2 * time.Hour)
	address, ticket, err := o.Begin(ctx, false)
	if err != nil {
		t.Fatal(err)
	}
	_, err = o.Finish(ctx, ticket, s.letIn(t, address))
	wantRefused(t, err, "does not answer")
}

// A service that takes the secret in the form gets it there; one whose secret cannot be
// read is not asked.
func TestSecret(t *testing.T) {
	s := newService(t)
	s.offer = func(d map[string]any) { d["token_endpoint_auth_methods_supported"] = []string{"client_secret_post"} }
	if _, err := finish(t, s, s.open(t, nil), nil); err != nil || s.sent.Get("client_secret") != secret || s.basic != "" {
		t.Errorf("%v %v %q", err, s.sent, s.basic)
	}
	n := s.asked["/token"]
	_, err := finish(t, s, s.open(t, func(x *openid.Settings) { x.Secret = func() (string, error) { return "", errors.New("gone") } }), nil)
	wantRefused(t, err, "could not sign you in")
	if s.asked["/token"] != n {
		t.Error("asked without the secret")
	}
}
