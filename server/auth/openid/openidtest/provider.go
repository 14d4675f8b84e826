// Package openidtest runs, for tests, the sign-in service of .ci/openid, which is made of
// a library that is not ours.
package openidtest

import (
	"bufio"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
)

// What the service knows the program by.
const (
	ClientID = "dunlin-test"
	Secret   = "made up for the test"
)

// Provider is a running sign-in service.
type Provider struct {
	Issuer string
	Stop   func()
	t      testing.TB
}

// Start runs the service for the program at a redirect address. Its program is named by
// DUNLIN_OPENID_PROVIDER; without it the test is skipped, or fails where DUNLIN_CI is set.
// People is the JSON list of whom it knows.
func Start(t testing.TB, redirect, people string) *Provider {
	t.Helper()
	program := os.Getenv("DUNLIN_OPENID_PROVIDER")
	if program == "" {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("DUNLIN_OPENID_PROVIDER does not name the sign-in service; .ci/run builds it")
		}
		t.Skip("DUNLIN_OPENID_PROVIDER does not name the sign-in service: cd .ci/openid && go build -o FILE .")
	}
	cmd := exec.Command(program, "-client", ClientID, "-secret", Secret, "-redirect", redirect)
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
	p := &Provider{t: t, Stop: sync.OnceFunc(func() { in.Close(); _ = cmd.Wait() })}
	t.Cleanup(p.Stop)
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	p.Issuer = strings.TrimSpace(line)
	p.tell("/people", people)
	return p
}

// Plant makes the service do one thing wrong from now on: audience, expired, nonce, key,
// or userinfo, which is not wrong; "" ends it.
func (p *Provider) Plant(fault string) { p.tell("/plant?fault="+fault, "") }

func (p *Provider) tell(path, body string) {
	p.t.Helper()
	res, err := http.Post(p.Issuer+path, "application/json", strings.NewReader(body))
	if err != nil {
		p.t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusOK {
		p.t.Fatalf("%s: %s", path, res.Status)
	}
}

// Choose opens an address that leads to the service, says there who the person is, "" for
// nobody, and gives the last answer; c says which redirects are followed.
func (p *Provider) Choose(c *http.Client, address, who string) *http.Response {
	p.t.Helper()
	res, err := c.Get(address)
	if err != nil {
		p.t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(body), "Who are you?") {
		p.t.Fatalf("%s %v: %s", res.Status, err, body)
	}
	res, err = c.PostForm(p.Issuer+"/login", url.Values{"id": {res.Request.URL.Query().Get("id")}, "who": {who}})
	if err != nil {
		p.t.Fatal(err)
	}
	return res
}
