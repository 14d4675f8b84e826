package mailbox

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestOptions refuses what cannot work or would not be safe, all faults at once.
func TestOptions(t *testing.T) {
	good := func() Options {
		return Options{Addr: "imap.hospital.example:993", User: account, Now: time.Now, Password: func() (string, error) { return secret, nil }}
	}
	b := newBench(t)
	box, err := New(good(), b.db, b.in)
	if err != nil || box.Name() != account+"/INBOX" || box.o.Security != TLS || box.o.MaxMessage != 25<<20 || box.o.PollLimit != 4*time.Minute {
		t.Fatalf("%+v, %v", box, err)
	}
	for want, change := range map[string]func(*Options){
		"host:port":                       func(o *Options) { o.Addr = "imap.hospital.example" },
		"without TLS":                     func(o *Options) { o.Security = Plain },
		"security \"ssl\" is not known":   func(o *Options) { o.Security = "ssl" },
		"signs that a folder name":        func(o *Options) { o.Handled = "Handled*" },
		"folder name \"a\\r\\nb\"":        func(o *Options) { o.Folder = "a\r\nb" },
		"cannot be where":                 func(o *Options) { o.Trouble = "INBOX" },
		"user name":                       func(o *Options) { o.User = "" },
		"password and clock are required": func(o *Options) { o.Now = nil },
	} {
		o := good()
		change(&o)
		if _, err := New(o, b.db, b.in); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, wanted a fault with %q", err, want)
		}
	}
	if _, err := New(Options{}, b.db, b.in); err == nil || strings.Count(err.Error(), "\n") < 2 {
		t.Errorf("not all faults at once: %v", err)
	}
	if _, err := New(good(), nil, nil); err == nil {
		t.Error("no store is accepted")
	}
}

// TestUnreachable says so in words and blocks nothing.
func TestUnreachable(t *testing.T) {
	b, addr := newBench(t), fmt.Sprintf("127.0.0.1:%d", freePort(t))
	box := b.box(addr)
	if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), addr+" cannot be reached") {
		t.Error(err)
	}
	box = b.box(addr, func(o *Options) { o.Password = func() (string, error) { return "", os.ErrNotExist } })
	if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), "password of the mailbox cannot be read") {
		t.Error(err)
	}
	if st := box.Status(); st.Problem == "" || st.Tried.IsZero() || !st.Good.IsZero() {
		t.Errorf("%+v", st)
	}
}

// TestOnePollAtATime: a second poll does not wait.
func TestOnePollAtATime(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1))
	here, proceed := make(chan bool), make(chan bool)
	f.misbehave(func(f *fake) {
		f.on = func(c *wire, tag, cmd string) bool {
			if strings.HasPrefix(cmd, "SELECT") {
				here <- true
				<-proceed
			}
			return false
		}
	})
	box := b.box(f.addr())
	done := make(chan error)
	go func() { _, err := box.Poll(context.Background()); done <- err }()
	<-here
	if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), "being polled already") {
		t.Error(err)
	}
	proceed <- true
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// TestMailsOfAllKinds takes in the mails of the intake's own test data: each is stored
// byte for byte, and none is left or lost.
func TestMailsOfAllKinds(t *testing.T) {
	names, err := filepath.Glob("../../cases/intake/mail/testdata/*.eml")
	if err != nil || len(names) < 17 {
		t.Fatalf("%d mails, %v", len(names), err)
	}
	b, f := newBench(t), newFake(t)
	for i, name := range names {
		if f.mail[uint32(i+1)], err = os.ReadFile(name); err != nil {
			t.Fatal(err)
		}
	}
	box := b.box(f.addr())
	if got := b.poll(box); got.Found != len(names) || got.Left != 0 || got.Taken+got.Trouble != len(names) {
		t.Errorf("%+v", got)
	}
	for uid, e := range b.entries(box.Name(), 7) {
		if string(b.raw(e.Hash)) != string(f.mail[uid]) || !f.seen[uid] || f.moved[uid] == "" {
			t.Errorf("%s: %+v", names[uid-1], e)
		}
	}
}
