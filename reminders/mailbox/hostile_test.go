package mailbox

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"
)

// at makes the fake misbehave at commands that begin in a way.
func at(prefix string, f func(c *wire, tag string)) func(*fake) {
	return func(s *fake) {
		s.on = func(c *wire, tag, cmd string) bool {
			if !strings.HasPrefix(cmd, prefix) {
				return false
			}
			f(c, tag)
			return true
		}
	}
}

// atBody misbehaves when the body of message 2 is asked for.
func atBody(f func(c *wire, tag string)) func(*fake) {
	return func(s *fake) {
		s.on = func(c *wire, tag, cmd string) bool {
			if !strings.HasPrefix(cmd, "UID FETCH 2 ") || !strings.Contains(cmd, "BODY.PEEK[]") || strings.Contains(cmd, "<0.") {
				return false
			}
			f(c, tag)
			return true
		}
	}
}

func greeting(f func(c *wire)) func(*fake) { return func(s *fake) { s.greet = f } }

func hangUp(c *wire, _ string)  { c.Close() }
func silence(c *wire, _ string) { c.silent() }
func say(lines ...string) func(*wire, string) {
	return func(c *wire, tag string) {
		for _, l := range lines {
			c.say("%s", strings.NewReplacer("TAG OK", tag+" OK", "TAG BAD", tag+" BAD", "TAG NO", tag+" NO", "$", tag).Replace(l))
		}
	}
}

// hostile servers, each with what the poll must do: fail, or go on without message 2.
// Afterwards the server behaves, and everything must be taken in.
var hostile = []struct {
	name   string
	change func(*fake)
	want   string // in the error; "" when the poll goes on
	told   bool   // a person is told of message 2, which is done with
}{
	{"silent from the first byte", greeting(func(c *wire) { c.silent() }), "did not answer within", false},
	{"closes at once", greeting(func(c *wire) { c.Close() }), "was lost", false},
	{"greets with garbage", greeting(func(c *wire) { c.say("SSH-2.0-something") }), "was lost", false},
	{"greets with NUL bytes", greeting(func(c *wire) { c.forever("\x00") }), "more than was asked for", false},
	{"greets with good-bye", greeting(func(c *wire) { c.say("* BYE too busy") }), "too busy", false},
	{"says the program is signed in", greeting(func(c *wire) { c.say("* PREAUTH welcome") }), "not to be trusted", false},
	{"drips its greeting", greeting(func(c *wire) {
		for fmt.Fprint(c, "* OK "); ; {
			if _, err := c.Write([]byte("*")); err != nil {
				return
			}
			time.Sleep(5 * time.Millisecond)
		}
	}), "did not answer within", false},
	{"greets without end", greeting(func(c *wire) { c.forever("* OK and more and more") }), "more than was asked for", false},

	{"cannot say what it can do", at("CAPABILITY", say("TAG BAD what")), "does not say what it can do", false},
	{"allows no sign-in", at("CAPABILITY", say("* CAPABILITY IMAP4rev1 LOGINDISABLED", "TAG OK")), "does not allow a sign-in", false},
	{"silent at the sign-in", at("LOGIN", silence), "did not answer within", false},
	{"hangs up at the sign-in", at("LOGIN", hangUp), "was lost", false},
	{"is not ready for the sign-in", at("LOGIN", say("TAG NO [UNAVAILABLE] later")), "later", false},
	{"floods after the sign-in", at("LOGIN", func(c *wire, tag string) { c.say("%s OK", tag); c.forever("* OK still here\r\n") }), "more than was asked for", false},
	{"floods with messages that exist", at("SELECT", func(c *wire, _ string) { c.forever("* 4 EXISTS\r\n") }), "more than was asked for", false},
	{"silent at the folder", at("SELECT", silence), "did not answer within", false},
	{"has no such folder", at("SELECT", say("TAG NO no such folder")), "folder INBOX", false},
	{"gives no lasting numbers", at("SELECT", say("* 3 EXISTS", "TAG OK")), "no lasting numbers", false},
	{"answers with another tag", at("SELECT", say("X99 OK")), "was lost", false},
	{"asks to go on unasked", at("SELECT", say("+ go on")), "was lost", false},
	{"answers in a way nobody knows", at("SELECT", say("* FANFARE 12")), "cannot be read safely", false},
	{"a huge literal in a list", at("LIST", func(c *wire, _ string) {
		c.say(`* LIST () "/" {99999999999}`)
		c.forever("x")
	}), "more than was asked for", false},
	{"deep parentheses", at("UID SEARCH", func(c *wire, _ string) {
		fmt.Fprint(c, "* THREAD ")
		c.forever("(")
	}), "more than was asked for", false},
	{"parentheses in parentheses", at("UID SEARCH", say("* ESEARCH "+strings.Repeat("(", 5000))), "cannot be read safely", false},

	{"silent at the search", at("UID SEARCH", silence), "did not answer within", false},
	{"hangs up at the search", at("UID SEARCH", hangUp), "was lost", false},
	{"cannot search", at("UID SEARCH", say("TAG BAD no")), "BAD", false},
	{"number 0", at("UID SEARCH", say("* SEARCH 0", "TAG OK")), "impossible message numbers", false},
	{"numbers too large", at("UID SEARCH", say("* SEARCH 99999999999", "TAG OK")), "was lost", false},
	{"negative numbers", at("UID SEARCH", say("* SEARCH -1", "TAG OK")), "was lost", false},
	{"words for numbers", at("UID SEARCH", say("* SEARCH one two", "TAG OK")), "was lost", false},
	{"more numbers than messages", at("UID SEARCH", say("* SEARCH 1 2 3 4", "TAG OK")), "impossible message numbers", false},
	{"a range of all numbers there are", at("UID SEARCH", say(`* ESEARCH (TAG "$") UID ALL 1:4294967295`, "TAG OK")), "impossible message numbers", false},
	{"an open range", at("UID SEARCH", say(`* ESEARCH (TAG "$") UID ALL 1:*`, "TAG OK")), "was lost", false},
	{"numbers without end", at("UID SEARCH", func(c *wire, _ string) { fmt.Fprint(c, "* SEARCH"); c.forever(" 3 9 27 81") }), "more than was asked for", false},

	{"silent at the sizes", at("UID FETCH 1:3 ", silence), "did not answer within", false},
	{"hangs up at the sizes", at("UID FETCH 1:3 ", hangUp), "was lost", false},
	{"negative sizes", at("UID FETCH 1:3 ", say("* 1 FETCH (UID 1 RFC822.SIZE -5)", "TAG OK")), "was lost", false},

	{"silent at a body", atBody(silence), "", false},
	{"hangs up at a body", atBody(hangUp), "", false},
	{"refuses a body", atBody(say("TAG NO cannot")), "", false},
	{"has no body", atBody(say("* 2 FETCH (UID 2 BODY[] NIL)", "TAG OK")), "", false},
	{"an empty body", atBody(say("* 2 FETCH (UID 2 BODY[] {0}", ")", "TAG OK")), "", false},
	{"does not know the message", atBody(say("TAG OK")), "", false},
	{"gives another message", atBody(say("* 3 FETCH (UID 3 BODY[] {4}", "abcd)", "TAG OK")), "", false},
	{"gives the body before the number", atBody(say("* 2 FETCH (BODY[] {4}", "abcd UID 2)", "TAG OK")), "", false},
	{"cuts a body short", atBody(func(c *wire, _ string) {
		fmt.Fprintf(c, "* 2 FETCH (UID 2 BODY[] {500}\r\nFrom: a@b.example")
		c.Close()
	}), "", false},
	{"falls silent in a body", atBody(func(c *wire, _ string) {
		fmt.Fprintf(c, "* 2 FETCH (UID 2 BODY[] {500}\r\nFrom: a@b.example")
		c.silent()
	}), "", false},
	{"drips a body", atBody(func(c *wire, _ string) {
		for fmt.Fprintf(c, "* 2 FETCH (UID 2 BODY[] {5000}\r\n"); ; time.Sleep(5 * time.Millisecond) {
			if _, err := c.Write([]byte("a")); err != nil {
				return
			}
		}
	}), "", false},
	{"a body in quotes without end", atBody(func(c *wire, _ string) { fmt.Fprint(c, `* 2 FETCH (UID 2 BODY[] "`); c.forever("x") }), "", false},
	{"a body of 9,999,999,999 bytes", atBody(func(c *wire, _ string) { c.say("* 2 FETCH (UID 2 BODY[] {9999999999}"); c.forever("x") }), "", true},
	{"a body larger than it said", atBody(func(c *wire, _ string) { c.say("* 2 FETCH (UID 2 BODY[] {1200000}"); c.forever("x") }), "", true},
	{"answers without end in place of a body", atBody(func(c *wire, _ string) { c.forever("* 2 FETCH (FLAGS (a b c))\r\n") }), "", false},
	{"other bodies without end", atBody(func(c *wire, _ string) { c.forever("* 9 FETCH (UID 9 BODY[] {3}\r\nabc)\r\n") }), "", false},
	{"a parenthesis among what it can do", at("CAPABILITY", say("* CAPABILITY IMAP4rev1 (", "TAG OK")), "cannot be read safely", false},
	{"a parenthesis in its greeting", greeting(func(c *wire) { c.say("* OK [CAPABILITY IMAP4rev1 ( ] x"); c.silent() }), "cannot be read safely", false},
	{"the structure of a message, deep", atBody(func(c *wire, _ string) {
		fmt.Fprint(c, "* 2 FETCH (UID 2 BODYSTRUCTURE ")
		c.forever("(")
	}), "", false},
	{"the structure of a message, deep and on many lines", atBody(func(c *wire, _ string) {
		fmt.Fprint(c, "* 2 FETCH (UID 2 BODYSTRUCTURE ")
		c.forever("((\"a\n\" \"b\" NIL NIL NIL NIL 1 1)(")
	}), "", false},
	{"says good-bye at a body", atBody(say("* BYE shutting down")), "", false},
}

// TestHostileServers: each costs one poll at most a little time and memory, the other
// messages are taken in where the server allows it, and the next poll recovers.
func TestHostileServers(t *testing.T) {
	for _, h := range hostile {
		t.Run(h.name, func(t *testing.T) {
			t.Parallel()
			b, f := newBench(t), newFake(t, message(1), message(2), message(3))
			f.misbehave(h.change)
			box := b.box(f.addr(), func(o *Options) { o.PollLimit = 5 * time.Second })
			box.limits.dial, box.limits.answer = 250*time.Millisecond, 250*time.Millisecond
			began := time.Now()
			tally, err := box.Poll(context.Background())
			if took := time.Since(began); took > 4*time.Second {
				t.Errorf("it took %s", took)
			}
			switch {
			case h.want != "" && (err == nil || !strings.Contains(err.Error(), h.want) && !slowFlood(h.want, err)):
				t.Errorf("error %v, wanted one with %q", err, h.want)
			case h.want == "" && err != nil && tally.Left == 0:
				t.Errorf("error %v though nothing is left", err)
			case h.told && (tally.TooLarge != 1 || tally.Taken != 2):
				t.Errorf("a person is not told: %s\n%s", tally, b.log.String())
			}
			if tally.Found != tally.Taken+tally.Again+tally.TooLarge+tally.Trouble+tally.Left {
				t.Errorf("the counts do not add up: %+v", tally)
			}
			f.behave()
			box.limits = usual
			if tally, err = box.Poll(context.Background()); err != nil || tally.Left != 0 {
				t.Fatalf("no recovery: %s, %v\n%s", tally, err, b.log.String())
			}
			docs, entries := b.received(), b.entries(box.Name(), 7)
			if len(docs) != 3 || len(entries) != 3 {
				t.Errorf("%d documents, %d entries", len(docs), len(entries))
			}
			for uid, e := range entries {
				want := TakenIn
				if h.told && uid == 2 {
					want = TooLarge
				}
				if e.Outcome != want || docs[e.Hash].Hash != e.Hash || f.seen[uid] != (want == TakenIn) || f.moved[uid] == "" {
					t.Errorf("message %d: %+v, seen %v, moved %q", uid, e, f.seen[uid], f.moved[uid])
				}
			}
		})
	}
}

// slowFlood: on a busy machine the time is up before the flood is full.
func slowFlood(want string, err error) bool {
	return want == errFlood.Error()[len("the mail server sends "):] && strings.Contains(err.Error(), "did not answer within")
}

// TestHostileMemory holds the memory of polls of the servers that flood.
func TestHostileMemory(t *testing.T) {
	var before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	peak := make(chan uint64)
	stop := make(chan bool)
	go func() {
		most := uint64(0)
		for tick := time.NewTicker(5 * time.Millisecond); ; {
			select {
			case <-tick.C:
				var now runtime.MemStats
				runtime.ReadMemStats(&now)
				most = max(most, now.HeapInuse)
			case <-stop:
				peak <- most
				return
			}
		}
	}()
	for _, h := range hostile {
		if !strings.Contains(h.name, "without end") && !strings.Contains(h.name, "bytes") && !strings.Contains(h.name, "floods") && !strings.Contains(h.name, "huge") {
			continue
		}
		b, f := newBench(t), newFake(t, message(1), message(2), message(3))
		f.misbehave(h.change)
		box := b.box(f.addr(), func(o *Options) { o.MaxMessage = 25 << 20 })
		box.limits.dial, box.limits.answer = 150*time.Millisecond, 150*time.Millisecond
		_, _ = box.Poll(context.Background())
	}
	close(stop)
	// The store's file is mapped and not in the heap.
	if grown := int64(<-peak) - int64(before.HeapInuse); grown > 128<<20 {
		t.Errorf("the heap grew by %d MB", grown>>20)
	} else {
		t.Logf("the heap grew by %d MB at most", grown>>20)
	}
}
