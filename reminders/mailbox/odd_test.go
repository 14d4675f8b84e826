package mailbox

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// TestNothingIsEverDeleted: a server that takes MOVE back after it was asked for
// would make the library copy and delete. The guard stops that.
func TestNothingIsEverDeleted(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1), message(2))
	f.misbehave(func(f *fake) {
		f.on = func(c *wire, tag, cmd string) bool {
			if strings.HasPrefix(cmd, "UID STORE") {
				c.say("* CAPABILITY IMAP4rev1\r\n%s OK", tag)
				return true
			}
			return false
		}
	})
	box := b.box(f.addr())
	if tally, err := box.Poll(context.Background()); err != nil || tally.Taken != 2 {
		t.Errorf("%s, %v", tally, err)
	}
	if !strings.Contains(b.log.String(), errGuard.Error()) {
		t.Errorf("the guard did not act:\n%s", b.log.String())
	}
	f.behave()
	b.poll(box)
	for _, cmd := range f.log {
		for _, never := range []string{"COPY", "EXPUNGE", "Deleted", "DELETE", "CLOSE", "APPEND", "RENAME"} {
			if strings.Contains(cmd, never) {
				t.Errorf("the server heard %q", cmd)
			}
		}
	}
	if len(f.moved) != 2 {
		t.Errorf("moved by the poll after: %v", f.moved)
	}
}

// TestGuard lets out what this package says and nothing else.
func TestGuard(t *testing.T) {
	for cmd, want := range map[string]bool{
		"T1 CAPABILITY": true, "T1 LOGOUT": true, `T2 LIST "" "Handled"`: true, "T3 SELECT INBOX": true,
		"T4 UID SEARCH 1:5000": true, "T5 UID FETCH 7 (UID BODY.PEEK[])": true, `T6 UID MOVE 7 "Handled"`: true,
		`T7 UID STORE 1:50 +FLAGS.SILENT (\Seen)`:       true,
		`T7 UID STORE 1:50 +FLAGS.SILENT (\Deleted)`:    false,
		`T7 UID STORE 1 +FLAGS.SILENT (\Deleted \Seen)`: false,
		`T7 UID STORE 1:50 FLAGS.SILENT (\Seen)`:        false,
		"T8 UID COPY 7 Handled":                         false, "T9 EXPUNGE": false, "T9 UID EXPUNGE 7": false, "T9 CLOSE": false,
		"T9 DELETE INBOX": false, "T9 RENAME INBOX A": false, "T9 STORE 1 +FLAGS (\\Deleted)": false, "EXPUNGE": false, "": false,
		"T1 LOGOUT\r\nT2 EXPUNGE": false, "T1 SELECT {5}": true,
	} {
		if got := harmless([]byte(cmd + "\r\n")); got != want {
			t.Errorf("%q: %v", cmd, got)
		}
	}
	if harmless([]byte("T1 LOGOUT")) {
		t.Error("half a command is let out")
	}
}

// TestSizesThatLie: what counts is what comes.
func TestSizesThatLie(t *testing.T) {
	long := append(message(2), bytes.Repeat([]byte("abcdefghijklmno\r\n"), 50000)...)
	for name, h := range map[string]struct {
		says int64
		raw  []byte
		want Tally
	}{
		"small, and is below the limit": {10, long, Tally{Found: 1, Taken: 1}},
		"small, and is above":           {10, append(bytes.Clone(long), long...), Tally{Found: 1, TooLarge: 1}},
		"nothing, and there is a mail":  {0, message(2), Tally{Found: 1, Taken: 1}},
		"too large, and is not":         {1 << 40, message(2), Tally{Found: 1, TooLarge: 1}},
		"more than comes":               {1000, message(2), Tally{Found: 1, Taken: 1}},
	} {
		b, f := newBench(t), newFake(t, h.raw)
		f.misbehave(at("UID FETCH 1 (UID RFC822.SIZE", say(fmt.Sprintf("* 1 FETCH (UID 1 RFC822.SIZE %d)", h.says), "TAG OK")))
		if got := b.poll(b.box(f.addr())); got != h.want {
			t.Errorf("says %s: %s\n%s", name, got, b.log.String())
		}
	}
}

// TestFoldersMissing: no MOVE, no folder, a folder that holds no mail, a refused move,
// a refused mark. Everything is taken in, once, and stays where it is.
func TestFoldersMissing(t *testing.T) {
	for name, h := range map[string]struct {
		change func(*fake)
		seen   bool
	}{
		"no MOVE":                 {func(f *fake) { f.caps = "IMAP4rev1 UIDPLUS" }, true},
		"no folder":               {at("LIST", say("TAG OK")), true},
		"another folder":          {at("LIST", say(`* LIST () "/" "Handled/old"`, "TAG OK")), true},
		"a folder without mail":   {at("LIST", say(`* LIST (\NoSelect) "/" "Handled"`, "TAG OK")), true},
		"a folder that was there": {at("LIST", say(`* LIST (\NonExistent) "/" "Handled"`, "TAG OK")), true},
		"folders not listed":      {at("LIST", say("TAG NO")), true},
		"a refused move":          {at("UID MOVE", say("TAG NO [TRYCREATE]")), true},
		"a refused mark":          {at("UID STORE", say("TAG NO read only")), false},
	} {
		b, f := newBench(t), newFake(t, message(1), message(2))
		f.misbehave(h.change)
		box := b.box(f.addr())
		if got := b.poll(box); got != (Tally{Found: 2, Taken: 2}) {
			t.Errorf("%s: %s", name, got)
		}
		if got := b.poll(box); got.Found != 0 {
			t.Errorf("%s: again %s", name, got)
		}
		if stay := name != "a refused mark"; f.seen[1] != h.seen || stay != (f.moved[1] == "") {
			t.Errorf("%s: seen %v, moved %q", name, f.seen[1], f.moved[1])
		}
	}
}

// TestTenMillionMessages looks at a folder in windows and takes up what one poll can.
func TestTenMillionMessages(t *testing.T) {
	b, f := newBench(t), newFake(t)
	f.misbehave(func(f *fake) {
		f.on = func(c *wire, tag, cmd string) bool {
			var from, to int
			switch {
			case strings.HasPrefix(cmd, "SELECT"):
				c.say("* 10000000 EXISTS\r\n* OK [UIDVALIDITY 7] fine\r\n%s OK", tag)
			case strings.HasPrefix(cmd, "UID SEARCH"):
				_, _ = fmt.Sscanf(cmd, "UID SEARCH %d:%d", &from, &to)
				var s strings.Builder
				for n := from; n <= to; n++ {
					fmt.Fprintf(&s, " %d", 4000000000+n*2)
				}
				c.say("* SEARCH%s\r\n%s OK", s.String(), tag)
			default:
				return false
			}
			return true
		}
	})
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	box := b.box(f.addr())
	tally, err := box.Poll(context.Background())
	runtime.ReadMemStats(&after)
	if !errors.Is(err, errMany) || tally.Found != usual.found || tally.Left != usual.found {
		t.Errorf("%s, %v", tally, err)
	}
	if searches := strings.Count(strings.Join(f.log, "\n"), "UID SEARCH"); searches != usual.found/int(usual.window) {
		t.Errorf("%d searches", searches)
	}
	if n := len(b.entries(box.Name(), 7)); n != usual.trouble {
		t.Errorf("%d messages that do not exist were counted as tried", n)
	}
}

// failing is a Sink that cannot store some documents.
type failing struct {
	Sink
	fails func(intake.Document) error
}

func (s failing) ReceiveAll(ctx context.Context, a cases.Actor, docs []intake.Document) ([]intake.Result, error) {
	for _, d := range docs {
		if err := s.fails(d); err != nil {
			return nil, err
		}
	}
	return s.Sink.ReceiveAll(ctx, a, docs)
}

// TestOneMessageThatCannotBeStored holds up no other, and a person is told in the end.
func TestOneMessageThatCannotBeStored(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1), message(2), message(3))
	for i, want := range []Tally{{Found: 3, Taken: 2, Left: 1}, {Found: 1, Left: 1}, {Found: 1, Trouble: 1}, {}} {
		box := b.box(f.addr())
		box.sink = failing{b.in, func(d intake.Document) error {
			if bytes.Contains(d.Raw, []byte("Body 2")) {
				return errors.New("no room for this one")
			}
			return nil
		}}
		if got := b.poll(box); got != want {
			t.Fatalf("poll %d: %s", i+1, got)
		}
		if f.seen[2] || f.moved[2] != "" && i < 2 {
			t.Errorf("poll %d: what is not stored is marked or moved", i+1)
		}
	}
	text := string(b.raw(b.entries(b.box(f.addr()).Name(), 7)[2].Hash))
	if !strings.Contains(text, "could not be stored, 3 times") || !strings.Contains(text, "<m2@lab.example>") {
		t.Errorf("a person reads:\n%s", text)
	}
}

// TestStoreDown: nothing is marked, moved or counted against a message, and the next
// poll takes everything in.
func TestStoreDown(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1), message(2))
	box := b.box(f.addr())
	down := true
	box.sink = failing{b.in, func(intake.Document) error {
		if down {
			return errors.New("disk full")
		}
		return nil
	}}
	box.store = brokenStore{b.db, &down}
	if tally, err := box.Poll(context.Background()); err == nil || tally.Left != 2 {
		t.Errorf("%s, %v", tally, err)
	}
	if len(f.seen)+len(f.moved) != 0 || len(b.entries(box.Name(), 7)) != 0 {
		t.Errorf("seen %v, moved %v", f.seen, f.moved)
	}
	down = false
	if got := b.poll(box); got != (Tally{Found: 2, Taken: 2}) {
		t.Error(got)
	}
}

// brokenStore refuses to write while it is down.
type brokenStore struct {
	cases.Store
	down *bool
}

func (s brokenStore) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	if *s.down {
		return errors.New("disk full")
	}
	return s.Store.Update(ctx, a, f)
}

// TestStopped ends a poll with its context, and keeps what was fetched.
func TestStopped(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1), message(2), message(3))
	f.misbehave(atBody(silence))
	box := b.box(f.addr(), func(o *Options) { o.PollLimit = 300 * time.Millisecond })
	tally, err := box.Poll(context.Background())
	if err == nil || !strings.Contains(err.Error(), "it took longer than 300ms") || tally != (Tally{Found: 3, Taken: 1, Left: 2}) {
		t.Errorf("%s, %v", tally, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(100*time.Millisecond, cancel)
	began := time.Now()
	if _, err := box.Poll(ctx); err == nil || time.Since(began) > 2*time.Second {
		t.Errorf("stopped after %s: %v", time.Since(began), err)
	}
	if n := len(b.entries(box.Name(), 7)); n != 1 {
		t.Errorf("%d entries", n)
	}
}

// TestNoLeftovers: polls of all kinds leave no goroutine behind.
func TestNoLeftovers(t *testing.T) {
	b, f := newBench(t), newFake(t, message(1), message(2), message(3))
	before := runtime.NumGoroutine()
	for _, h := range hostile {
		f.misbehave(h.change)
		box := b.box(f.addr())
		box.limits.dial, box.limits.answer = 60*time.Millisecond, 60*time.Millisecond
		_, _ = box.Poll(context.Background())
		f.behave()
	}
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}
