// Command dunlin-openid-provider is a sign-in service for tests, made of a library that
// is not ours. It is a module of its own, so that the library never becomes part of the
// product.
//
// Use: dunlin-openid-provider -redirect ADDRESS [-secret SECRET] [-client ID]
//
// It listens on a port of 127.0.0.1 and prints its issuer on the first line. Whoever
// comes chooses who to be, from the people that POST /people gave it as a JSON list.
// POST /plant?fault=NAME makes it do one thing wrong from then on; no name ends that. It
// ends when its standard input does.
package main

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"flag"
	"fmt"
	"html/template"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"time"

	"github.com/zitadel/oidc/v3/pkg/oidc"
	"github.com/zitadel/oidc/v3/pkg/op"
)

func main() {
	id := flag.String("client", "dunlin-test", "client `id`")
	secret := flag.String("secret", "made up for the test", "its `secret`")
	redirect := flag.String("redirect", "", "its redirect `address`")
	flag.Parse()
	slog.SetDefault(slog.New(slog.NewTextHandler(os.Stderr, nil)))
	if err := run(client{id: *id, secret: *secret, redirect: *redirect}); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(c client) error {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	issuer := "http://" + ln.Addr().String()
	s, err := newStorage(c)
	if err != nil {
		return err
	}
	config := &op.Config{CodeMethodS256: true, AuthMethodPost: true, DefaultLogoutRedirectURI: "/out"}
	if _, err := rand.Read(config.CryptoKey[:]); err != nil {
		return err
	}
	provider, err := op.NewProvider(config, s, op.StaticIssuer(issuer), op.WithAllowInsecure())
	if err != nil {
		return err
	}
	mux := http.NewServeMux()
	back := op.NewIssuerInterceptor(provider.IssuerFromRequest)
	mux.HandleFunc("GET /login", s.login)
	mux.HandleFunc("POST /login", back.HandlerFunc(s.chosen(provider)))
	mux.HandleFunc("POST /people", s.setPeople)
	mux.HandleFunc("POST /plant", s.plant)
	mux.HandleFunc("GET /out", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "signed out of the service") })
	mux.Handle("/", provider)
	go func() {
		io.Copy(io.Discard, os.Stdin)
		os.Exit(0)
	}()
	fmt.Println(issuer)
	return (&http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}).Serve(ln)
}

var page = template.Must(template.New("").Parse(`<!doctype html><html lang="en"><title>Test service</title>
<h1>Who are you?</h1><form method="post" action="/login"><input type="hidden" name="id" value="{{.ID}}">
{{range .People}}<p><button name="who" value="{{.Sub}}">{{.Sub}}</button></p>{{end}}
<p><button name="who" value="">Nobody</button></p></form></html>`))

// login shows the people to choose from.
func (s *storage) login(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := page.Execute(w, map[string]any{"ID": r.FormValue("id"), "People": s.people}); err != nil {
		slog.Error("page", "err", err)
	}
}

// chosen sends the person back as whoever was chosen.
func (s *storage) chosen(p *op.Provider) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		q, who := s.request(r.FormValue("id")), r.FormValue("who")
		switch {
		case q == nil:
			http.Error(w, "no such request", http.StatusNotFound)
		case who == "":
			op.AuthRequestError(w, r, q, oidc.ErrAccessDenied(), p)
		case !s.choose(q, who):
			http.Error(w, "no such person", http.StatusNotFound)
		default:
			http.Redirect(w, r, op.AuthCallbackURL(p)(r.Context(), q.ID), http.StatusFound)
		}
	}
}

func (s *storage) setPeople(w http.ResponseWriter, r *http.Request) {
	var people []person
	if err := json.NewDecoder(r.Body).Decode(&people); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.people = people
}

func (s *storage) plant(w http.ResponseWriter, r *http.Request) {
	f := r.FormValue("fault")
	switch f {
	case "", "audience", "expired", "nonce", "userinfo", "key":
	default:
		http.Error(w, "no such fault", http.StatusBadRequest)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fault = f
}

var _ op.Storage = (*storage)(nil)

func (s *storage) Health(context.Context) error { return nil }
