package openid_test

import (
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"dunlin/server/auth/openid"
	"dunlin/server/auth/openid/openidtest"
)

// visitor is a person's browser, which stops at the program's door.
func visitor() *http.Client {
	return &http.Client{Timeout: 10 * time.Second, CheckRedirect: func(r *http.Request, _ []*http.Request) error {
		if strings.HasPrefix(r.URL.String(), redirect) {
			return http.ErrUseLastResponse
		}
		return nil
	}}
}

const providerPeople = `[{"sub": "wren", "email": "Wren@alder-bay.example", "verified": true, "amr": ["pwd"]},
	{"sub": "ines", "email": "ines@alder-bay.example", "verified": true, "amr": ["pwd", "otp"]},
	{"sub": "theo", "email": "theo@alder-bay.example", "verified": true, "acr": "gold"},
	{"sub": "dagny", "email": "dagny@alder-bay.example"}]`

// TestProvider signs in through a service made of a library that is not ours.
func TestProvider(t *testing.T) {
	v := openidtest.Start(t, redirect, providerPeople)
	issuer, browser := v.Issuer, visitor()
	choose := func(address, who string) url.Values {
		res := v.Choose(browser, address, who)
		res.Body.Close()
		to, err := res.Location()
		if err != nil {
			t.Fatalf("%s: %v", res.Status, err)
		}
		return to.Query()
	}
	o, err := openid.New(openid.Settings{Issuer: issuer, ClientID: clientID, Redirect: redirect, Name: "Alder Bay account", SecondACR: []string{"gold"},
		Secret: func() (string, error) { return secret, nil }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))})
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	begin := func(again bool) (string, string) {
		address, ticket, err := o.Begin(ctx, again)
		if err != nil {
			t.Fatal(err)
		}
		return address, ticket
	}
	for who, c := range map[string]struct {
		second bool
		want   string
	}{"wren": {false, ""}, "ines": {true, ""}, "theo": {true, ""}, "dagny": {false, "has not verified your work email"}, "": {false, "did not let you in"}} {
		address, ticket := begin(false)
		p, err := o.Finish(ctx, ticket, choose(address, who))
		if c.want != "" {
			wantRefused(t, err, c.want)
			continue
		}
		if err != nil || p.Email != who+"@alder-bay.example" || p.Second != c.second || time.Since(p.At) > time.Minute {
			t.Errorf("%s: %+v, %v", who, p, err)
		}
	}
	for _, fault := range []string{"audience", "expired", "nonce", "key"} {
		v.Plant(fault)
		address, ticket := begin(false)
		_, err := o.Finish(ctx, ticket, choose(address, "wren"))
		t.Run(fault, func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	}
	v.Plant("userinfo")
	address, ticket := begin(false)
	if p, err := o.Finish(ctx, ticket, choose(address, "wren")); err != nil || p.Email != "wren@alder-bay.example" {
		t.Errorf("email from UserInfo: %+v, %v", p, err)
	}
	v.Plant("")

	address, ticket = begin(true)
	if p, err := o.Finish(ctx, ticket, choose(address, "wren")); err != nil || !p.Again {
		t.Errorf("again: %+v, %v", p, err)
	}
	address, ticket = begin(false)
	back := choose(address, "wren")
	if _, err := o.Finish(ctx, ticket, back); err != nil {
		t.Error(err)
	}
	_, err = o.Finish(ctx, ticket, back)
	t.Run("code used twice", func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	_, other := begin(false)
	_, err = o.Finish(ctx, other, choose(address, "wren"))
	t.Run("state of another", func(t *testing.T) { wantRefused(t, err, "not begun in this browser") })
	if u, err := url.Parse(o.EndSession()); err != nil || !strings.HasPrefix(o.EndSession(), issuer) || u.Query().Get("client_id") != clientID {
		t.Errorf("ends at %q, %v", o.EndSession(), err)
	} else if res, err := browser.Get(o.EndSession()); err != nil || res.StatusCode != http.StatusOK {
		t.Errorf("%v %v", res, err)
	} else {
		res.Body.Close()
	}
	for name, set := range map[string]openid.Settings{
		"wrong secret":   {Issuer: issuer, ClientID: clientID, Redirect: redirect, Secret: func() (string, error) { return "wrong", nil }},
		"other redirect": {Issuer: issuer, ClientID: clientID, Redirect: redirect + "/x", Secret: func() (string, error) { return secret, nil }},
	} {
		set.Name = "Alder Bay account"
		wrong, err := openid.New(set)
		if err != nil {
			t.Fatal(err)
		}
		address, ticket, err := wrong.Begin(ctx, false)
		if err != nil {
			t.Fatal(err)
		}
		if name == "other redirect" { // the service itself refuses it, and sends nobody there
			if res, err := browser.Get(address); err != nil || res.StatusCode != http.StatusBadRequest {
				t.Errorf("%s: %v %v", name, res, err)
			} else {
				res.Body.Close()
			}
			continue
		}
		_, err = wrong.Finish(ctx, ticket, choose(address, "wren"))
		t.Run(name, func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	}
	address, ticket = begin(false)
	back = choose(address, "wren")
	v.Stop()
	_, err = o.Finish(ctx, ticket, back)
	t.Run("down", func(t *testing.T) { wantRefused(t, err, "does not answer") })
}
