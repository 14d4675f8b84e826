package main

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

var csrfForm = regexp.MustCompile(`name="csrf" value="([^"]+)"`)

// TestFirstStart: a program without an account prints a link; the account that it makes
// signs in, and the account command changes accounts while the program serves.
func TestFirstStart(t *testing.T) {
	store := filepath.Join(t.TempDir(), "program.db")
	ctx, cancel := context.WithCancel(t.Context())
	var out, errs sharedText
	done := make(chan int, 1)
	go func() {
		done <- run(ctx, stdio{strings.NewReader(""), &out, &errs}, []string{"serve", "--store", store, "--listen", "127.0.0.1:0"})
	}()
	defer func() {
		cancel()
		if code := <-done; code != exitOK {
			t.Errorf("serve ended with %d: %s", code, errs.String())
		}
	}()
	link := ""
	for range 800 {
		if link = regexp.MustCompile(`http://\S+/first/\S+`).FindString(out.String()); link != "" {
			break
		}
		time.Sleep(25 * time.Millisecond)
	}
	if link == "" {
		t.Fatalf("no link is printed: %s %s", out.String(), errs.String())
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar}
	body := func(res *http.Response, err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	// send fills the form of a page.
	send := func(at string, form url.Values) string {
		t.Helper()
		page := body(browser.Get(at))
		m := csrfForm.FindStringSubmatch(page)
		if m == nil {
			t.Fatalf("no form at %s: %s", at, page)
		}
		form.Set("csrf", m[1])
		return body(browser.PostForm(at, form))
	}
	if page := send(link, url.Values{"email": {"theo@alderbay.example"}, "name": {"Theo Moss"}, "password": {"heron tide ferry stone"}}); !strings.Contains(page, "Your password is set") {
		t.Fatalf("the first account: %s", page)
	}
	base, _, _ := strings.Cut(link, "/first/")
	if page := send(base+"/sign-in", url.Values{"email": {"theo@alderbay.example"}, "password": {"heron tide ferry stone"}}); !strings.Contains(page, "Theo Moss") {
		t.Fatalf("the first sign-in: %s", page)
	}
	if page := body(browser.Get(link)); !strings.Contains(page, "This link cannot be used") {
		t.Errorf("the link works twice: %s", page)
	}
	accountJobsWhileServing(t, store)
	if page := body(browser.Get(base + "/me")); !strings.Contains(page, "You are signed out") && !strings.Contains(page, "Sign in") {
		t.Errorf("still signed in after end-sessions: %s", page)
	}
}

func accountJobsWhileServing(t *testing.T, store string) {
	t.Helper()
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"invite", "--id", "dagny@alderbay.example", "--name", "Dagny Achterberg", "--role", "nurse"}, exitOK, "/set-password/"},
		{[]string{"invite", "--id", "ada@alderbay.example", "--name", "Ada Tern", "--role", "nurse", "--sites", "nowhere"}, exitFailed, "no test site"},
		{[]string{"link", "--id", "dagny@alderbay.example"}, exitOK, "/set-password/"},
		{[]string{"list"}, exitOK, "dagny@alderbay.example  Dagny Achterberg  nurse  no password yet"},
		{[]string{"disable", "--id", "theo@alderbay.example"}, exitFailed, "last administrator"},
		{[]string{"unlock", "--id", "theo@alderbay.example"}, exitOK, "unlocked"},
		{[]string{"factor-off", "--id", "theo@alderbay.example"}, exitUsage, "--reason is missing"},
		{[]string{"factor-off", "--id", "theo@alderbay.example", "--reason", "lost phone"}, exitFailed, "has no second factor"},
		{[]string{"end-sessions", "--id", "Theo@alderbay.example"}, exitOK, "1 sessions ended"},
		{[]string{"nothing"}, exitUsage, "say what to do: add, "},
	} {
		code, out, errs := call(t, "", append(append([]string{"account"}, c.args...), "--store", store)...)
		if code != c.code || !strings.Contains(out+errs, c.want) {
			t.Errorf("account %v: code %d, %s %s", c.args, code, out, errs)
		}
	}
}
