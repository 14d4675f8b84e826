package openid_test

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"log/slog"
	"net/url"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/auth/openid"

	"github.com/coreos/go-oidc/v3/oidc/oidctest"
)

func TestSignIn(t *testing.T) {
	s := newService(t)
	o := s.open(t, nil)
	if o.EndSession() != "" || len(s.asked) != 0 {
		t.Errorf("the service was asked before anybody came: %v", s.asked)
	}
	address, ticket, err := o.Begin(context.Background(), false)
	if err != nil {
		t.Fatal(err)
	}
	q := mustQuery(t, address)
	for name, want := range map[string]string{"response_type": "code", "client_id": clientID, "redirect_uri": redirect, "scope": "openid email", "code_challenge_method": "S256", "prompt": "", "max_age": "", "login_hint": ""} {
		if q.Get(name) != want {
			t.Errorf("%s is %q, want %q", name, q.Get(name), want)
		}
	}
	for _, name := range []string{"state", "nonce", "code_challenge"} {
		if len(q.Get(name)) < 22 { // 128 bits
			t.Errorf("%s is %q", name, q.Get(name))
		}
	}
	p, err := o.Finish(context.Background(), ticket, s.letIn(t, address))
	if err != nil {
		t.Fatal(err)
	}
	if p.Email != "wren@alder-bay.example" || p.Second || p.Again || time.Since(p.At) > time.Minute {
		t.Errorf("%+v", p)
	}
	if s.basic != url.QueryEscape(secret) || s.sent.Get("client_secret") != "" || s.sent.Get("grant_type") != "authorization_code" {
		t.Errorf("sent %v with %q", s.sent, s.basic)
	}
	if want := s.URL + "/end?a=b&client_id=" + clientID; o.EndSession() != want {
		t.Errorf("ends at %s", o.EndSession())
	}
	another, _, err := o.Begin(context.Background(), false)
	if err != nil || mustQuery(t, another).Get("state") == q.Get("state") || mustQuery(t, another).Get("nonce") == q.Get("nonce") {
		t.Errorf("a second sign-in has the same numbers: %v", err)
	}
	if s.asked["/.well-known/openid-configuration"] != 1 || s.asked["/keys"] != 1 {
		t.Errorf("asked too often: %v", s.asked)
	}
}

func mustQuery(t *testing.T, address string) url.Values {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	return u.Query()
}

// What a token must not be, each planted alone into a sign-in that is good without it.
func TestBadTokensAreRefused(t *testing.T) {
	other, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	set := func(name string, value any) func(*service) {
		return func(s *service) { s.claims = func(c map[string]any) { c[name] = value } }
	}
	unsigned := func(s *service) {
		s.sign = func(c string) string {
			return base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"none"}`)) + "." + base64.RawURLEncoding.EncodeToString([]byte(c)) + "."
		}
	}
	for name, c := range map[string]struct {
		plant func(*service)
		log   string
	}{
		"other audience": {set("aud", "another-program"), "expected audience"},
		"two, no azp":    {set("aud", []string{clientID, "another"}), "azp"},
		"other azp":      {set("azp", "another"), "azp"},
		"other issuer":   {set("iss", "https://elsewhere.example"), "different provider"},
		"expired":        {set("exp", time.Now().Add(-time.Second).Unix()), "expired"},
		"not yet":        {set("nbf", time.Now().Add(time.Hour).Unix()), "nbf"},
		"of the future":  {set("iat", time.Now().Add(time.Hour).Unix()), "future"},
		"other nonce":    {set("nonce", "of another sign-in"), "nonce"},
		"no nonce":       {set("nonce", ""), "nonce"},
		"nobody":         {set("sub", ""), "nobody"},
		"other key": {func(s *service) {
			s.sign = func(c string) string { return oidctest.SignIDToken(other, "one", "ES256", c) }
		}, "signature"},
		"unknown key": {func(s *service) {
			s.sign = func(c string) string { return oidctest.SignIDToken(other, "two", "ES256", c) }
		}, "signature"},
		"unsigned": {unsigned, "malformed"},
		"signed by secret": {func(s *service) {
			s.sign = func(c string) string {
				return oidctest.SignIDToken([]byte(strings.Repeat(secret, 3)), "one", "HS256", c)
			}
		}, "malformed"},
		"changed":           {func(s *service) { sign := s.sign; s.sign = func(c string) string { return flip(sign(c)) } }, "signature"},
		"no token":          {func(s *service) { s.tokens = func(a map[string]any) { delete(a, "id_token") } }, "no ID token"},
		"not a token":       {func(s *service) { s.sign = func(string) string { return "x.y.z" } }, "malformed"},
		"claims of no form": {set("amr", "pwd"), "cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newService(t)
			c.plant(s)
			var log bytes.Buffer
			o := s.open(t, func(x *openid.Settings) { x.Log = slog.New(slog.NewTextHandler(&log, nil)) })
			_, err := finish(t, s, o, nil)
			wantRefused(t, err, "Alder Bay account could not sign you in to Dunlin")
			if !strings.Contains(log.String(), c.log) {
				t.Errorf("the log says %s, want %q", &log, c.log)
			}
			if strings.Contains(strings.ToLower(log.String()), "wren") {
				t.Errorf("the log names a person: %s", &log)
			}
		})
	}
}

// flip changes one character of a token's claims.
func flip(token string) string {
	b := []byte(token)
	i := bytes.IndexByte(b, '.') + 20
	if b[i] == 'A' {
		b[i] = 'B'
	} else {
		b[i] = 'A'
	}
	return string(b)
}

// finish begins and ends a sign-in; change may spoil what is brought back.
func finish(t *testing.T, s *service, o *openid.Service, change func(url.Values)) (openid.Person, error) {
	t.Helper()
	address, ticket, err := o.Begin(context.Background(), false)
	if err != nil {
		t.Fatal(err)
	}
	back := s.letIn(t, address)
	if change != nil {
		change(back)
	}
	return o.Finish(context.Background(), ticket, back)
}

// wantRefused demands an error with words for people that hold nothing of the service's.
func wantRefused(t *testing.T, err error, want string) {
	t.Helper()
	var e *cases.Error
	if !errors.As(err, &e) || e.Kind != cases.Refused || !strings.Contains(e.Text, want) {
		t.Errorf("%v, want %q", err, want)
		return
	}
	for _, raw := range []string{"<b>", "oidc:", "invalid_", "127.0.0.1", "nonce"} {
		if strings.Contains(e.Text, raw) {
			t.Errorf("the text shows %q: %s", raw, e.Text)
		}
	}
}

func TestWhatIsBroughtBackIsChecked(t *testing.T) {
	const stale, could = "Begin again", "could not sign you in"
	for name, c := range map[string]struct {
		change func(url.Values)
		want   string
	}{
		"other state": {func(v url.Values) { v.Set("state", "x") }, "not begun in this browser"},
		"no state":    {func(v url.Values) { v.Del("state") }, stale},
		"two states":  {func(v url.Values) { v.Add("state", v.Get("state")) }, stale},
		"no code":     {func(v url.Values) { v.Del("code") }, could},
		"wrong code":  {func(v url.Values) { v.Set("code", "guessed") }, could},
		"refused":     {func(v url.Values) { v.Set("error", "access_denied") }, "did not let you in, or you stopped there"},
		"error":       {func(v url.Values) { v.Set("error", "server_error"); v.Set("error_description", "<b>oidc: x</b>") }, could},
		"odd error":   {func(v url.Values) { v.Set("error", "<b>invalid_</b>\n") }, could},
		"other iss":   {func(v url.Values) { v.Set("iss", "https://elsewhere.example") }, could},
	} {
		s := newService(t)
		_, err := finish(t, s, s.open(t, nil), c.change)
		t.Run(name, func(t *testing.T) { wantRefused(t, err, c.want) })
	}
	s := newService(t)
	s.offer = func(d map[string]any) { d["authorization_response_iss_parameter_supported"] = true }
	o := s.open(t, nil)
	_, err := finish(t, s, o, nil)
	wantRefused(t, err, could)
	if _, err := finish(t, s, o, func(v url.Values) { v.Set("iss", s.URL) }); err != nil {
		t.Errorf("the right issuer: %v", err)
	}
}

// A ticket is of one browser, of 10 minutes, and of the sign-in whose code comes back.
func TestTickets(t *testing.T) {
	s := newService(t)
	at := &clock{}
	o := s.open(t, func(x *openid.Settings) { x.Now = at.now })
	ctx := context.Background()
	mine, ticket, err := o.Begin(ctx, false)
	if err != nil {
		t.Fatal(err)
	}
	theirs, other, err := o.Begin(ctx, false)
	if err != nil {
		t.Fatal(err)
	}
	_, err = o.Finish(ctx, "", s.letIn(t, mine))
	wantRefused(t, err, "not begun in this browser")
	_, err = o.Finish(ctx, other, s.letIn(t, mine))
	wantRefused(t, err, "not begun in this browser")

	// Somebody else's code with one's own state: PKCE finds it.
	back := s.letIn(t, theirs)
	back.Set("state", mustQuery(t, mine).Get("state"))
	_, err = o.Finish(ctx, ticket, back)
	wantRefused(t, err, "could not sign you in")

	good := s.letIn(t, mine)
	if _, err := o.Finish(ctx, ticket, good); err != nil {
		t.Fatal(err)
	}
	_, err = o.Finish(ctx, ticket, good) // the code was used
	wantRefused(t, err, "could not sign you in")

	late := s.letIn(t, mine)
	at.move(11 * time.Minute)
	_, err = o.Finish(ctx, ticket, late)
	wantRefused(t, err, "more than 10 minutes")
}

func TestEmail(t *testing.T) {
	for name, c := range map[string]struct {
		email, verified any
		want            string // "" is let in
	}{
		"verified":           {"wren@alder-bay.example", true, ""},
		"as text":            {"wren@alder-bay.example", "true", ""},
		"not verified":       {"wren@alder-bay.example", false, "has not verified your work email"},
		"not said":           {"wren@alder-bay.example", nil, "has not verified your work email"},
		"odd":                {"wren@alder-bay.example", "yes", "has not verified your work email"},
		"a number":           {"wren@alder-bay.example", 1, "has not verified your work email"},
		"no email":           {"", true, "does not tell your work email"},
		"nothing but spaces": {"  ", true, "does not tell your work email"},
	} {
		s := newService(t)
		s.claims = func(m map[string]any) {
			m["email"], m["email_verified"] = c.email, c.verified
			if c.verified == nil {
				delete(m, "email_verified")
			}
		}
		_, err := finish(t, s, s.open(t, nil), nil)
		if c.want == "" && err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if c.want != "" {
			t.Run(name, func(t *testing.T) { wantRefused(t, err, c.want) })
		}
	}
}

// Some services tell the e-mail only at their UserInfo endpoint.
func TestEmailFromUserInfo(t *testing.T) {
	s := newService(t)
	s.offer = func(d map[string]any) { d["userinfo_endpoint"] = s.URL + "/info" }
	s.claims = func(c map[string]any) { delete(c, "email"); delete(c, "email_verified") }
	s.info = map[string]any{"sub": "person-7", "email": "wren@alder-bay.example", "email_verified": true}
	o := s.open(t, nil)
	p, err := finish(t, s, o, nil)
	if err != nil || p.Email != "wren@alder-bay.example" {
		t.Errorf("%+v, %v", p, err)
	}
	s.info = map[string]any{"sub": "person-7", "email": "wren@alder-bay.example"}
	_, err = finish(t, s, o, nil)
	wantRefused(t, err, "has not verified")
	s.info = map[string]any{"sub": "person-8", "email": "ines@alder-bay.example", "email_verified": true}
	_, err = finish(t, s, o, nil)
	wantRefused(t, err, "could not sign you in")
	s.info = map[string]any{"sub": "person-7", "email": "wren@alder-bay.example", "email_verified": true}
	s.claims = func(c map[string]any) { delete(c, "email"); c["at_hash"] = "of another token" }
	_, err = finish(t, s, o, nil)
	wantRefused(t, err, "could not sign you in")
}

// Which methods of RFC 8176 are two factors.
func TestSecondFactor(t *testing.T) {
	for _, c := range []struct {
		amr  []string
		acr  string
		want bool
	}{
		{nil, "", false}, {[]string{"pwd"}, "", false}, {[]string{"otp"}, "", false}, {[]string{"hwk"}, "", false}, {[]string{"pwd", "pin"}, "", false},
		{[]string{"pwd", "kba"}, "", false}, {[]string{"pwd", "geo", "rba", "wia", "mca", "user"}, "", false}, {[]string{"otp", "sms"}, "", false},
		{[]string{"mfa"}, "", true}, {[]string{"pwd", "otp"}, "", true}, {[]string{"pin", "hwk"}, "", true}, {[]string{"pwd", "sms"}, "", true}, {[]string{"fpt", "hwk"}, "", true},
		{[]string{"pwd"}, "gold", true}, {[]string{"pwd"}, "silver", false}, {nil, "0", false},
	} {
		s := newService(t)
		s.claims = func(m map[string]any) { m["amr"], m["acr"] = c.amr, c.acr }
		p, err := finish(t, s, s.open(t, nil), nil)
		if err != nil || p.Second != c.want {
			t.Errorf("%v %q: %v, %v", c.amr, c.acr, p.Second, err)
		}
	}
}

// To show the password again is demanded of the service, and that it says when.
func TestAgain(t *testing.T) {
	s := newService(t)
	o := s.open(t, nil)
	for _, c := range []struct {
		at   any
		good bool
	}{{time.Now().Unix(), true}, {time.Now().Add(-time.Hour).Unix(), false}, {nil, false}} {
		s.claims = func(m map[string]any) { m["auth_time"] = c.at }
		address, ticket, err := o.Begin(context.Background(), true)
		if err != nil {
			t.Fatal(err)
		}
		if q := mustQuery(t, address); q.Get("prompt") != "login" || q.Get("max_age") != "0" {
			t.Errorf("asked for %v", q)
		}
		p, err := o.Finish(context.Background(), ticket, s.letIn(t, address))
		if c.good {
			if err != nil || !p.Again {
				t.Errorf("%+v, %v", p, err)
			}
			continue
		}
		wantRefused(t, err, "could not sign you in")
	}
}

func FuzzTicket(f *testing.F) {
	f.Add("", "x", "y")
	good, _ := json.Marshal(map[string]any{"state": "s", "nonce": "n", "verifier": "v", "began": time.Now()})
	f.Add(string(good), "s", "c")
	o, err := openid.New(openid.Settings{Issuer: "http://127.0.0.1:1", ClientID: clientID, Redirect: redirect, Name: "N", Secret: func() (string, error) { return secret, nil }})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, ticket, state, code string) {
		if p, err := o.Finish(context.Background(), ticket, url.Values{"state": {state}, "code": {code}}); err == nil {
			t.Errorf("let in: %+v", p)
		}
	})
}
