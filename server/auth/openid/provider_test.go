package openid_test

import (
	"bufio"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"dunlin/server/auth/openid"
)

// startProvider runs the sign-in service of .ci/openid, which is made of a library that
// is not ours. DUNLIN_OPENID_PROVIDER names its program.
func startProvider(t *testing.T) (issuer string, stop func()) {
	t.Helper()
	program := os.Getenv("DUNLIN_OPENID_PROVIDER")
	if program == "" {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("DUNLIN_OPENID_PROVIDER does not name the sign-in service; .ci/run builds it")
		}
		t.Skip("DUNLIN_OPENID_PROVIDER does not name the sign-in service: cd .ci/openid && go build -o FILE .")
	}
	cmd := exec.Command(program, "-client", clientID, "-secret", secret, "-redirect", redirect)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	stop = func() { in.Close(); cmd.Wait() }
	t.Cleanup(stop)
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(line), stop
}

// visitor is a person's browser at the service.
type visitor struct {
	t      *testing.T
	issuer string
	http   *http.Client
}

func newVisitor(t *testing.T, issuer string) *visitor {
	return &visitor{t, issuer, &http.Client{Timeout: 10 * time.Second, CheckRedirect: func(r *http.Request, _ []*http.Request) error {
		if strings.HasPrefix(r.URL.String(), redirect) {
			return http.ErrUseLastResponse
		}
		return nil
	}}}
}

// tell posts something to the service that no browser would.
func (v *visitor) tell(path, body string) {
	v.t.Helper()
	res, err := v.http.Post(v.issuer+path, "application/json", strings.NewReader(body))
	if err != nil {
		v.t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusOK {
		v.t.Fatalf("%s: %s", path, res.Status)
	}
}

// choose goes to the address, says who the person is, and gives what comes back.
func (v *visitor) choose(address, who string) url.Values {
	v.t.Helper()
	res, err := v.http.Get(address)
	if err != nil {
		v.t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(body), "Who are you?") {
		v.t.Fatalf("%s %v: %s", res.Status, err, body)
	}
	res, err = v.http.PostForm(v.issuer+"/login", url.Values{"id": {res.Request.URL.Query().Get("id")}, "who": {who}})
	if err != nil {
		v.t.Fatal(err)
	}
	res.Body.Close()
	to, err := res.Location()
	if err != nil {
		v.t.Fatalf("%s: %v", res.Status, err)
	}
	return to.Query()
}

const providerPeople = `[{"sub": "wren", "email": "Wren@alder-bay.example", "verified": true, "amr": ["pwd"]},
	{"sub": "ines", "email": "ines@alder-bay.example", "verified": true, "amr": ["pwd", "otp"]},
	{"sub": "theo", "email": "theo@alder-bay.example", "verified": true, "acr": "gold"},
	{"sub": "dagny", "email": "dagny@alder-bay.example"}]`

// TestProvider signs in through a service made of a library that is not ours.
func TestProvider(t *testing.T) {
	issuer, stop := startProvider(t)
	v := newVisitor(t, issuer)
	v.tell("/people", providerPeople)
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
		p, err := o.Finish(ctx, ticket, v.choose(address, who))
		if c.want != "" {
			wantRefused(t, err, c.want)
			continue
		}
		if err != nil || p.Email != who+"@alder-bay.example" || p.Second != c.second || time.Since(p.At) > time.Minute {
			t.Errorf("%s: %+v, %v", who, p, err)
		}
	}
	for _, fault := range []string{"audience", "expired", "nonce", "key"} {
		v.tell("/plant?fault="+fault, "")
		address, ticket := begin(false)
		_, err := o.Finish(ctx, ticket, v.choose(address, "wren"))
		t.Run(fault, func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	}
	v.tell("/plant?fault=userinfo", "")
	address, ticket := begin(false)
	if p, err := o.Finish(ctx, ticket, v.choose(address, "wren")); err != nil || p.Email != "wren@alder-bay.example" {
		t.Errorf("email from UserInfo: %+v, %v", p, err)
	}
	v.tell("/plant?fault=", "")

	address, ticket = begin(true)
	if p, err := o.Finish(ctx, ticket, v.choose(address, "wren")); err != nil || !p.Again {
		t.Errorf("again: %+v, %v", p, err)
	}
	address, ticket = begin(false)
	back := v.choose(address, "wren")
	if _, err := o.Finish(ctx, ticket, back); err != nil {
		t.Error(err)
	}
	_, err = o.Finish(ctx, ticket, back)
	t.Run("code used twice", func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	_, other := begin(false)
	_, err = o.Finish(ctx, other, v.choose(address, "wren"))
	t.Run("state of another", func(t *testing.T) { wantRefused(t, err, "not begun in this browser") })
	if u, err := url.Parse(o.EndSession()); err != nil || !strings.HasPrefix(o.EndSession(), issuer) || u.Query().Get("client_id") != clientID {
		t.Errorf("ends at %q, %v", o.EndSession(), err)
	} else if res, err := v.http.Get(o.EndSession()); err != nil || res.StatusCode != http.StatusOK {
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
			if res, err := v.http.Get(address); err != nil || res.StatusCode != http.StatusBadRequest {
				t.Errorf("%s: %v %v", name, res, err)
			} else {
				res.Body.Close()
			}
			continue
		}
		_, err = wrong.Finish(ctx, ticket, v.choose(address, "wren"))
		t.Run(name, func(t *testing.T) { wantRefused(t, err, "could not sign you in") })
	}
	address, ticket = begin(false)
	back = v.choose(address, "wren")
	stop()
	_, err = o.Finish(ctx, ticket, back)
	t.Run("down", func(t *testing.T) { wantRefused(t, err, "does not answer") })
}
