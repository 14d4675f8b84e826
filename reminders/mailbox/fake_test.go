package mailbox

import (
	"bufio"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
)

// fake is a small hand-written IMAP server that can misbehave. It keeps one folder.
type fake struct {
	testing.TB
	l net.Listener

	mu       sync.Mutex
	validity uint32
	mail     map[uint32][]byte
	seen     map[uint32]bool
	moved    map[uint32]string
	caps     string
	log      []string // commands that came
	conns    int

	// greet writes the greeting; nil for a usual one.
	greet func(c *wire)
	// on is asked before each command; true when it has answered (or not).
	on func(c *wire, tag, cmd string) bool
}

// wire is one connection to the fake.
type wire struct {
	net.Conn
	n int // which connection, from 1
}

func (c *wire) say(format string, args ...any) { fmt.Fprintf(c, format+"\r\n", args...) }

// forever writes the same until the client hangs up.
func (c *wire) forever(text string) {
	block := []byte(strings.Repeat(text, 1+4096/len(text)))
	for {
		if _, err := c.Write(block); err != nil {
			return
		}
	}
}

// silent reads and says nothing.
func (c *wire) silent() {
	for buf := make([]byte, 4096); ; {
		if _, err := c.Read(buf); err != nil {
			return
		}
	}
}

func newFake(t testing.TB, mail ...[]byte) *fake {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	f := &fake{TB: t, l: l, validity: 7, mail: map[uint32][]byte{}, seen: map[uint32]bool{}, moved: map[uint32]string{}, caps: "IMAP4rev1 MOVE"}
	for i, raw := range mail {
		f.mail[uint32(i+1)] = raw
	}
	var all sync.WaitGroup
	all.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			f.mu.Lock()
			f.conns++
			w := &wire{c, f.conns}
			f.mu.Unlock()
			all.Go(func() {
				defer c.Close()
				f.serve(w)
			})
		}
	})
	t.Cleanup(func() { l.Close(); all.Wait() })
	return f
}

func (f *fake) addr() string { return f.l.Addr().String() }

// misbehave changes how the server acts.
func (f *fake) misbehave(change func(*fake)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(f)
}

// behave ends the misbehavior.
func (f *fake) behave() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.greet, f.on = nil, nil
}

func (f *fake) serve(c *wire) {
	f.mu.Lock()
	greet := f.greet
	f.mu.Unlock()
	if greet != nil {
		greet(c)
	} else {
		c.say("* OK ready")
	}
	for r := bufio.NewReader(c); ; {
		text, err := r.ReadString('\n')
		if err != nil {
			return
		}
		tag, cmd, _ := strings.Cut(strings.TrimRight(text, "\r\n"), " ")
		for strings.HasSuffix(cmd, "}") { // a literal, for a password
			c.say("+ go on")
			n := 0
			fmt.Sscanf(cmd[strings.LastIndexByte(cmd, '{')+1:], "%d", &n)
			buf := make([]byte, n)
			for i := range buf {
				if buf[i], err = r.ReadByte(); err != nil {
					return
				}
			}
			rest, _ := r.ReadString('\n')
			cmd = cmd[:strings.LastIndexByte(cmd, '{')] + strings.TrimRight(rest, "\r\n")
		}
		f.mu.Lock()
		f.log = append(f.log, cmd)
		on := f.on
		f.mu.Unlock()
		if on != nil && on(c, tag, cmd) {
			continue
		}
		if !f.answer(c, tag, cmd) {
			return
		}
	}
}

// answer does what a server should.
func (f *fake) answer(c *wire, tag, cmd string) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	word := strings.Fields(cmd)
	switch {
	case cmd == "CAPABILITY":
		c.say("* CAPABILITY %s", f.caps)
	case cmd == "LOGOUT":
		c.say("* BYE")
		c.say("%s OK", tag)
		return false
	case word[0] == "LIST":
		c.say(`* LIST () "/" %s`, word[2])
	case word[0] == "SELECT":
		c.say("* %d EXISTS\r\n* OK [UIDVALIDITY %d] fine", len(f.uids()), f.validity)
	case strings.HasPrefix(cmd, "UID SEARCH"):
		c.say("* SEARCH%s", join(f.uids()))
	case strings.HasPrefix(cmd, "UID FETCH"):
		for i, uid := range f.uids() {
			if !inSet(word[2], uid) {
				continue
			}
			raw := f.mail[uid]
			if strings.Contains(cmd, "BODY.PEEK[]<0.") {
				raw = raw[:min(len(raw), headBytes)]
				c.say("* %d FETCH (UID %d BODY[]<0> {%d}\r\n%s)", i+1, uid, len(raw), raw)
			} else if strings.Contains(cmd, "BODY.PEEK[]") {
				c.say("* %d FETCH (UID %d BODY[] {%d}\r\n%s)", i+1, uid, len(raw), raw)
			} else {
				c.say("* %d FETCH (UID %d RFC822.SIZE %d)", i+1, uid, len(raw))
			}
		}
	case strings.HasPrefix(cmd, "UID STORE"):
		for uid := range f.mail {
			f.seen[uid] = f.seen[uid] || inSet(word[2], uid)
		}
	case strings.HasPrefix(cmd, "UID MOVE"):
		for _, uid := range f.uids() {
			if inSet(word[2], uid) {
				f.moved[uid] = word[3]
			}
		}
	}
	c.say("%s OK done", tag)
	return true
}

func (f *fake) uids() (out []uint32) {
	for uid := range f.mail {
		if f.moved[uid] == "" {
			out = append(out, uid)
		}
	}
	slices.Sort(out)
	return out
}

func join(uids []uint32) (s string) {
	for _, n := range uids {
		s += fmt.Sprintf(" %d", n)
	}
	return s
}

func inSet(set string, uid uint32) bool {
	for part := range strings.SplitSeq(set, ",") {
		var from, to uint32
		if n, _ := fmt.Sscanf(part, "%d:%d", &from, &to); n == 1 {
			to = from
		}
		if from <= uid && uid <= to {
			return true
		}
	}
	return false
}
