package auth

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

const wren = "wren@alder-bay.example"

func TestThrottle(t *testing.T) {
	w := newWorld(t)
	for range freeTries {
		w.signIn(wren, "wrong")
	}
	err := w.signIn(wren, good)
	if cases.KindOf(err) != cases.Refused || !strings.Contains(err.Error(), "30 seconds") {
		t.Errorf("after %d failures: %v", freeTries, err)
	}
	w.now = w.now.Add(31 * time.Second)
	if err := w.signIn(wren, good); err != nil {
		t.Errorf("after the wait: %v", err)
	}
	if n := w.shelf.accounts[wren].Failed; n != 0 {
		t.Errorf("%d failures are kept after a good sign-in", n)
	}
}

func TestAddressIsBounded(t *testing.T) {
	w := newWorld(t)
	for i := range 10 {
		w.signIn(fmt.Sprintf("nobody%d@alder-bay.example", i), "x")
	}
	if err := w.signIn("another@alder-bay.example", "x"); cases.KindOf(err) != cases.Refused {
		t.Errorf("eleven failures from one address: %v", err)
	}
	w.now = w.now.Add(7 * time.Second)
	for range 20 { // good sign-ins of an office behind one address cost nothing
		if err := w.elsewhere(w.address).signIn(wren, good); err != nil {
			t.Fatal(err)
		}
	}
	a, b := "2001:db8:1:2::3", "2001:db8:1:2:ffff::9"
	if w.guard.throttle.bucket(a) != w.guard.throttle.bucket(b) || w.guard.throttle.bucket(a) == w.guard.throttle.bucket("2001:db8:1:3::3") {
		t.Error("a /64 is not one place")
	}
	for i := range 3 * maxAddresses {
		w.guard.throttle.bucket(fmt.Sprintf("198.51.%d.%d", i/256, i%256))
	}
	if n := len(w.guard.throttle.perIP); n > maxAddresses {
		t.Errorf("%d addresses are kept", n)
	}
}

func TestWait(t *testing.T) {
	for failed, want := range map[int]time.Duration{0: 0, 4: 0, 5: 30 * time.Second, 6: time.Minute, 8: 4 * time.Minute, 12: time.Hour, 99: time.Hour} {
		if got := wait(failed); got != want {
			t.Errorf("wait(%d) = %v, want %v", failed, got, want)
		}
	}
}

// Ten thousand guesses over a year from ever new addresses: at most 100 are compared,
// and the person still gets in from where they signed in before.
//
//asvs:6.3.1
func TestTenThousandGuesses(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	compared := 0
	for i := range 10_000 {
		w.now = w.now.Add(53 * time.Minute)
		v := Visit{Address: fmt.Sprintf("198.51.%d.%d", i/256, i%256), Device: NewToken()}
		_, err := w.guard.attempt(t.Context(), wren, v, func(context.Context, cases.Account, bool) (bool, error) {
			compared++
			return false, nil
		})
		if err == nil {
			t.Fatal("a guess was right")
		}
		if i%1_000 == 0 {
			if err := w.signIn(wren, good); err != nil {
				t.Fatalf("the right person after %d guesses: %v", i, err)
			}
		}
	}
	if compared > 100 || compared < maxFailed {
		t.Errorf("%d guesses were compared", compared)
	}
	acc := w.shelf.accounts[wren]
	if !Locked(&acc) {
		t.Error("not locked for strangers")
	}
	if err := w.elsewhere("192.0.2.99").signIn(wren, good); err == nil || !strings.Contains(err.Error(), "ask an administrator") {
		t.Errorf("a new device while locked: %v", err)
	}
	if err := Unlock(t.Context(), w.shelf, cases.Actor{}, wren); err != nil {
		t.Fatal(err)
	}
	if err := w.elsewhere("192.0.2.99").signIn(wren, good); err != nil {
		t.Errorf("after unlocking: %v", err)
	}
}

// A known device has failures of its own, which are bounded too: all together stay
// within 100 in a row.
func TestKnownDevicesAreBounded(t *testing.T) {
	w := newWorld(t)
	var browsers []*world
	for i := range maxDevices + 2 {
		b := w.elsewhere(fmt.Sprintf("192.0.2.%d", i))
		if err := b.signIn(wren, good); err != nil {
			t.Fatal(err)
		}
		browsers = append(browsers, b)
		w.now = w.now.Add(time.Minute)
	}
	if n := len(w.shelf.accounts[wren].Devices); n != maxDevices {
		t.Errorf("%d devices are known", n)
	}
	compared := 0
	for range 500 {
		w.now = w.now.Add(2 * time.Hour)
		for _, b := range browsers {
			w.guard.attempt(t.Context(), wren, Visit{Address: b.address, Device: b.devices[wren]}, func(context.Context, cases.Account, bool) (bool, error) { compared++; return false, nil })
		}
	}
	if compared != maxFailed+maxDevices*maxDeviceFailed || compared > 100 {
		t.Errorf("%d guesses were compared", compared)
	}
}

// A name without an account is answered like one with: in words, in waits, in locking.
//
//asvs:6.3.8
func TestNamesCannotBeTold(t *testing.T) {
	w := newWorld(t)
	w.shelf.accounts["off@alder-bay.example"] = cases.Account{ID: "off@alder-bay.example", Hash: w.shelf.accounts[wren].Hash, Disabled: true}
	w.shelf.accounts["new@alder-bay.example"] = cases.Account{ID: "new@alder-bay.example"}
	for i := range 60 {
		w.now = w.now.Add(time.Duration(i%4) * 20 * time.Minute)
		var said []string
		for j, id := range []string{wren, "nobody@alder-bay.example", "off@alder-bay.example", "new@alder-bay.example"} {
			b := w.elsewhere(fmt.Sprintf("198.51.%d.%d", i, j))
			password := "wrong"
			if id == "off@alder-bay.example" {
				password = good
			}
			err := b.signIn(id, password)
			said = append(said, fmt.Sprint(cases.KindOf(err), err))
		}
		if len(slices.Compact(said)) != 1 {
			t.Fatalf("try %d: answers differ: %q", i, said)
		}
	}
}

// BenchmarkFailedSignIn compares how long a wrong password takes for a name with an
// account and for one without.
func BenchmarkFailedSignIn(b *testing.B) {
	t := &testing.T{}
	w := newWorld(t)
	for _, c := range []struct{ name, id string }{{"known", wren}, {"unknown", "nobody@alder-bay.example"}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				w.now = w.now.Add(time.Hour)
				w.change(wren, func(a *cases.Account) { a.Failed = 0 })
				*w.guard.throttle.place(c.id) = tries{}
				w.signIn(c.id, "wrong")
			}
		})
	}
}
