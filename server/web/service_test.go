package web_test

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/auth/openid"
	"dunlin/server/auth/openid/openidtest"
	"dunlin/server/web"
	"dunlin/templates/htmlcheck"

	"github.com/pquerna/otp/totp"
	"golang.org/x/net/html"
)

// outsideService is a sign-in service that can be changed after the site has its address; by
// itself it lets in whom the test says.
type outsideService struct {
	real *openid.Service
	who  openid.Person
	down error
}

func (s *outsideService) Title() string { return "Alder Bay staff account" }

func (s *outsideService) Begin(ctx context.Context, again bool) (string, string, error) {
	switch {
	case s.real != nil:
		return s.real.Begin(ctx, again)
	case s.down != nil:
		return "", "", s.down
	case again:
		return web.ServiceBackPath + "?code=x&state=y", "again", nil
	}
	return web.ServiceBackPath + "?code=x&state=y", "ticket", nil
}

func (s *outsideService) Finish(ctx context.Context, ticket string, back url.Values) (openid.Person, error) {
	if s.real != nil {
		return s.real.Finish(ctx, ticket, back)
	}
	if ticket == "" {
		return openid.Person{}, cases.Errorf(cases.Refused, "This sign-in was not begun in this browser")
	}
	p := s.who
	p.Again = ticket == "again"
	return p, nil
}

func (s *outsideService) Trouble() bool { return s.down != nil || s.real != nil && s.real.Trouble() }

func (s *outsideService) EndSession() string {
	return "https://signin.alder-bay.example/end?client_id=dunlin"
}

func newServiceSite(t *testing.T) (*site, *outsideService) {
	t.Helper()
	x := &outsideService{who: openid.Person{Email: "wren@x.example"}}
	return newSite(t, func(d *web.Deps) { d.SignIn = x }), x
}

// trailLength is how many entries the audit trail has.
func (s *site) trailLength() uint64 {
	s.t.Helper()
	n, _, err := s.db.AuditHead()
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

// linkTo is the address of a link of the page that begins so.
func (p *page) linkTo(begins string) (to string) {
	p.c.t.Helper()
	htmlcheck.Walk(p.doc, func(n *html.Node) {
		if h, _ := htmlcheck.Attr(n, "href"); n.Data == "a" && to == "" && strings.HasPrefix(h, begins) {
			to = h
		}
	})
	if to == "" {
		p.c.t.Errorf("%s has no link to %s", p.path, begins)
	}
	return to
}

// lacks fails when the page has one of these texts.
func (p *page) lacks(texts ...string) {
	p.c.t.Helper()
	for _, x := range texts {
		if strings.Contains(p.body, x) {
			p.c.t.Errorf("%s has %q", p.path, x)
		}
	}
}

func TestServiceOnThePages(t *testing.T) {
	s, x := newServiceSite(t)
	c := s.client()
	link := c.get("/infants").wants(200, "Sign in with Alder Bay staff account").linkTo("/sign-in/service")
	p := c.get(link)
	if p.path != "/infants" {
		t.Fatalf("led to %s: %s", p.path, p.text("main"))
	}
	p = p.form("/sign-out").send().wants(200, "You are signed out of Dunlin. You may still be signed in with Alder Bay staff account", "Sign out there too")
	p.linkTo(x.EndSession())

	x.who.Email = "nobody@x.example"
	c.get("/sign-in/service").wants(200, "There is no account in Dunlin for the work email that Alder Bay staff account gives")
	c.get("/sign-in").wants(200).lacks("There is no account in Dunlin")
	x.who.Email = "dagny@x.example"
	s.update(func(w cases.Writer) error {
		a, err := w.Account("dagny@x.example")
		if err != nil {
			return err
		}
		a.Disabled = true
		return w.PutAccount(a)
	})
	c.get("/sign-in/service?next=/schedule").wants(200, "This account is disabled")
	if p := c.get("/schedule"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("a disabled account is at %s", p.path)
	}
	before := s.trailLength()
	c.get("/sign-in/service").wants(200, "This account is disabled")
	if n := s.trailLength() - before; n != 1 {
		t.Errorf("the audit trail has %d entries of it, want 1", n)
	}
	before = s.trailLength()
	c.get(web.ServiceBackPath+"?code=x&state=y").wants(200, "not begun in this browser")
	if n := s.trailLength() - before; n != 0 {
		t.Errorf("strangers make %d entries in the audit trail", n)
	}
	s.update(func(w cases.Writer) error {
		if list, err := w.Accounts(); err != nil || len(list) != 4 {
			t.Errorf("%d accounts, %v: the service made one", len(list), err)
		}
		return nil
	})

	// Nothing was begun in this browser, or it was used.
	s.client().get(web.ServiceBackPath+"?code=x&state=y").wants(200, "not begun in this browser")
	x.who.Email = "wren@x.example"
	c.get("/sign-in/service")
	c.get("/me").form("/sign-out").send()
	c.get(web.ServiceBackPath+"?code=x&state=y").wants(200, "not begun in this browser")
	if p := c.get("/sign-in/service?next=https://elsewhere.example/"); p.path != "/overdue" {
		t.Errorf("led to %s", p.path)
	}
	for _, secret := range []string{"code=x", "state=y", "wren@"} {
		if strings.Contains(s.log.String(), secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
}

// Without a service nothing of it is offered.
func TestNoService(t *testing.T) {
	c := newSite(t).client()
	c.get("/sign-in/service").wants(200).lacks("/sign-in/service")
	c.get(web.ServiceBackPath + "?code=x&state=y").wants(200).lacks("/sign-in/service")
}

// While the service is down the page says so, and passwords work.
func TestServiceDown(t *testing.T) {
	s, x := newServiceSite(t)
	x.down = errors.Join(openid.ErrDown, cases.Errorf(cases.Refused, "Alder Bay staff account does not answer just now. Sign in with your password, or try again in some minutes"))
	p := s.client().get("/sign-in/service?next=/infants").wants(200, "does not answer just now. Sign in with your password", "It did not answer a moment ago")
	if p = p.form("/sign-in").set("email", "wren@x.example").set("password", testPassword).send(); p.path != "/infants" {
		t.Errorf("led to %s", p.path)
	}
	x.down = errors.New("a fault of ours")
	s.client().get("/sign-in/service").wants(500, "Sorry, there is a problem with Dunlin").lacks("a fault of ours")
}

// Who came through the service shows it again who they are, in another tab where a form
// waits.
func TestServiceAsksAgain(t *testing.T) {
	s, x := newServiceSite(t)
	x.who = openid.Person{Email: "theo@x.example", At: s.now.Add(-time.Hour)}
	c := s.client()
	c.get("/sign-in/service")
	f := c.get("/settings/users/new").form("/settings/users/new").set("name", "Ada Moss").set("email", "ada@x.example").set("role", "manager")
	p := f.send().wants(401, "what you typed is kept", "new tab") // the service saw the person an hour ago
	x.who.At = s.now
	link := p.linkTo("/sign-in/service?again")
	c.get(link).wants(200, "You showed who you are")
	p.form("/settings/users/new").send().wants(200, "Invited: Ada Moss")

	s.now = s.now.Add(6 * time.Minute)
	x.who = openid.Person{Email: "ines@x.example", At: s.now}
	p = c.get("/me/password").wants(200, "again, please")
	link = p.linkTo("/sign-in/service?again")
	c.get(link).wants(200, "names another person than the one who is signed in here", "again, please")
	x.who = openid.Person{Email: "theo@x.example", At: s.now}
	if p := c.get(link); p.path != "/me/password" {
		t.Errorf("led to %s", p.path)
	}
	s.now = s.now.Add(6 * time.Minute)
	if body := s.as("wren").get("/prove").body; strings.Contains(body, "/sign-in/service") {
		t.Error("offered to a person who came with a password")
	}
}

const servicePeople = `[{"sub": "wren", "email": "Wren@x.example", "verified": true, "amr": ["pwd"]},
	{"sub": "ines", "email": "ines@x.example", "verified": true, "amr": ["pwd", "otp"]},
	{"sub": "dagny", "email": "dagny@x.example"}, {"sub": "ada", "email": "ada@x.example", "verified": true}]`

// TestSignInThroughAProvider goes from the sign-in page through a service of another
// library and back, in a browser's steps.
func TestSignInThroughAProvider(t *testing.T) {
	s, x := newServiceSite(t)
	p := openidtest.Start(t, s.url+web.ServiceBackPath, servicePeople)
	var err error
	x.real, err = openid.New(openid.Settings{Issuer: p.Issuer, ClientID: openidtest.ClientID, Redirect: s.url + web.ServiceBackPath, Name: "Alder Bay staff account",
		Secret: func() (string, error) { return openidtest.Secret, nil }})
	if err != nil {
		t.Fatal(err)
	}
	s.elsewhere = p.Issuer
	through := func(c *client, who string) *page {
		t.Helper()
		return c.page(p.Choose(c.http, s.url+"/sign-in/service?next=%2Fme", who), nil)
	}
	if at := through(s.client(), "wren"); at.path != "/me" || at.status != http.StatusOK {
		t.Errorf("at %s: %s", at.path, at.text("main"))
	}
	through(s.client(), "dagny").wants(200, "has not verified your work email")
	through(s.client(), "ada").wants(200, "There is no account in Dunlin")
	through(s.client(), "").wants(200, "did not let you in")
	for _, fault := range []string{"audience", "expired", "nonce", "key"} {
		p.Plant(fault)
		at := through(s.client(), "wren").wants(200, "could not sign you in to Dunlin", "Sign in with Alder Bay staff account")
		for _, raw := range []string{"oidc", fault, "token"} {
			if strings.Contains(at.text("main"), raw) {
				t.Errorf("%s: the page shows %q", fault, raw)
			}
		}
	}
	p.Plant("")

	// Where the role must have a second factor, the service's counts; else ours is asked for.
	const key = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"
	s.update(func(w cases.Writer) error {
		for _, id := range []string{"wren@x.example", "ines@x.example"} {
			a, err := w.Account(id)
			if err != nil {
				return err
			}
			a.Factor = &cases.SecondFactor{Secret: key, Since: s.now}
			if err := w.PutAccount(a); err != nil {
				return err
			}
		}
		return nil
	})
	if at := through(s.client(), "ines"); at.path != "/me" {
		t.Errorf("two factors there, yet at %s", at.path)
	}
	c := s.client()
	at := through(c, "wren").wants(200, "Enter your code")
	if got := c.get("/me"); !strings.HasPrefix(got.path, "/sign-in?") {
		t.Errorf("half signed in, yet at %s", got.path)
	}
	code, err := totp.GenerateCode(key, s.now)
	if err != nil {
		t.Fatal(err)
	}
	if at = at.form("/sign-in/code").set("code", code).send(); at.path != "/me" {
		t.Errorf("after the code at %s: %s", at.path, at.text("main"))
	}
	p.Stop()
	x.real, err = openid.New(x.real.Settings) // it knows nothing yet
	if err != nil {
		t.Fatal(err)
	}
	s.client().get("/sign-in/service").wants(200, "does not answer just now")
	s.as("dagny").get("/me").wants(200)
}
