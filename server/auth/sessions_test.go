package auth

import (
	"context"
	"net/http"
	"testing"
	"time"

	"dunlin/cases"
)

//asvs:7.4.5
func TestSessionsAreListedAndEnded(t *testing.T) {
	w := newWorld(t)
	b := w.elsewhere("192.0.2.2")
	for _, x := range []*world{w, b} {
		if err := x.signIn(wren, good); err != nil {
			t.Fatal(err)
		}
	}
	var list []Session
	w.do(func(ctx context.Context) {
		var err error
		if list, err = w.guard.Sessions(ctx, wren); err != nil {
			t.Fatal(err)
		}
	})
	own := 0
	for _, s := range list {
		if s.Own {
			own++
		}
		if s.Browser != "Firefox" || !s.Since.Equal(w.now) || s.Used.Before(s.Since) || s.ID == "" {
			t.Errorf("%+v", s)
		}
	}
	if len(list) != 2 || own != 1 {
		t.Fatalf("%d sessions, %d own", len(list), own)
	}
	w.do(func(ctx context.Context) {
		acc, _ := w.guard.User(ctx)
		if n, err := w.guard.EndSessions(ctx, boss, acc, func(s Session) bool { return !s.Own }); n != 1 || err != nil {
			t.Errorf("ended %d, %v", n, err)
		}
	})
	if _, in := b.user(); in {
		t.Error("the other session goes on")
	}
	if _, in := w.user(); !in {
		t.Error("the own session ended")
	}
}

// A command, which has no session itself, ends those of a person.
func TestSessionsAreEndedByACommand(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	if n, err := w.guard.EndSessions(t.Context(), boss, w.shelf.accounts[wren], nil); n != 1 || err != nil {
		t.Errorf("ended %d, %v", n, err)
	}
	if _, in := w.user(); in {
		t.Error("still signed in")
	}
}

// A cookie that was copied is worth nothing after signing out, nor while a request of it
// was under way when the session was ended.
//
//asvs:7.4.1
func TestStolenCookie(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	thief := w.elsewhere("203.0.113.9")
	thief.jar = append([]*http.Cookie(nil), w.jar...)
	if _, in := thief.user(); !in {
		t.Fatal("the copy should work before signing out")
	}
	thief.do(func(context.Context) { // under way
		w.do(func(ctx context.Context) {
			acc, _ := w.guard.User(ctx)
			if _, err := w.guard.EndSessions(ctx, boss, acc, nil); err != nil {
				t.Error(err)
			}
		})
	})
	if _, in := thief.user(); in {
		t.Error("the session came back with a request that was under way")
	}
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	thief.jar = append([]*http.Cookie(nil), w.jar...)
	w.do(func(ctx context.Context) { w.guard.SignOut(ctx) })
	if _, in := thief.user(); in {
		t.Error("the copy works after signing out")
	}
}

func TestProve(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	recent := func() (ok bool) {
		w.do(func(ctx context.Context) { ok = w.guard.Recent(ctx) })
		return ok
	}
	prove := func(password string) (err error) {
		w.do(func(ctx context.Context) {
			err = w.guard.Prove(ctx, password, Visit{Address: w.address, Device: w.devices[wren]})
		})
		return err
	}
	if !recent() {
		t.Error("not recent after signing in")
	}
	w.now = w.now.Add(5*time.Minute + time.Second)
	if recent() {
		t.Error("recent after five minutes")
	}
	if err := prove("wrong"); cases.KindOf(err) != cases.Invalid || recent() {
		t.Errorf("a wrong password: %v", err)
	}
	if err := prove(good); err != nil || !recent() {
		t.Errorf("the right password: %v", err)
	}
	for range maxDeviceFailed {
		prove("wrong")
		w.now = w.now.Add(2 * time.Hour)
	}
	if w.shelf.accounts[wren].Devices[0].Failed != maxDeviceFailed {
		t.Errorf("failures are counted as %+v", w.shelf.accounts[wren])
	}
}

// Changing the password ends the others and keeps the own session under a new token.
//
//asvs:7.4.3
func TestChangePassword(t *testing.T) {
	w := newWorld(t)
	b := w.elsewhere("192.0.2.2")
	for _, x := range []*world{w, b} {
		if err := x.signIn(wren, good); err != nil {
			t.Fatal(err)
		}
	}
	before := w.jar[0].Value
	w.do(func(ctx context.Context) {
		if err := w.guard.ChangePassword(ctx, "short"); cases.KindOf(err) != cases.Invalid {
			t.Errorf("a short password: %v", err)
		}
		if err := w.guard.ChangePassword(ctx, "heron tide ferry stone"); err != nil {
			t.Error(err)
		}
	})
	if _, in := w.user(); !in || w.jar[0].Value == before {
		t.Errorf("signed in %v, the token changed: %v", in, w.jar[0].Value != before)
	}
	if _, in := b.user(); in {
		t.Error("the other session goes on")
	}
	if err := b.signIn(wren, good); err == nil {
		t.Error("the old password is good")
	}
}
