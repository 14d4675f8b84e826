package auth

import (
	"testing"
	"testing/synctest"
	"time"
)

// A session ends after 15 minutes without use, and after 10 hours however much it is
// used; until then it goes on. The clock is made up.
//
//asvs:7.3.1 7.3.2
func TestSessionsEndWithTime(t *testing.T) {
	w := newWorld(t) // outside, for the library keeps a goroutine of its own
	synctest.Test(t, func(t *testing.T) {
		w.now = time.Now()
		in := func(after time.Duration, want bool) {
			t.Helper()
			time.Sleep(after)
			w.now = time.Now()
			if _, ok := w.user(); ok != want {
				t.Errorf("signed in: %v, want %v", ok, want)
			}
		}
		if err := w.signIn(wren, good); err != nil {
			t.Fatal(err)
		}
		in(14*time.Minute, true)
		in(14*time.Minute, true)
		in(16*time.Minute, false)
		if err := w.signIn(wren, good); err != nil {
			t.Fatal(err)
		}
		for range 10*60/12 - 1 {
			in(12*time.Minute, true)
		}
		in(13*time.Minute, false)
	})
}
