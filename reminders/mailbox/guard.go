package mailbox

import (
	"bytes"
	"errors"
	"net"
	"strings"
	"sync/atomic"
)

// guard stands between the library and the (encrypted) line. Once signed in, it
// lets only those commands out that cannot remove a message: the library answers a
// missing MOVE with COPY, STORE \Deleted and EXPUNGE, and a server may take MOVE
// back at any time. What comes in goes through the sieve.
type guard struct {
	net.Conn
	line     *line
	sieve    sieve
	signedIn atomic.Bool
}

func newGuard(c net.Conn, l *line, greeting string) *guard {
	return &guard{Conn: c, line: l, sieve: sieve{in: c, buf: []byte(greeting)}}
}

var errGuard = errors.New("a command that could remove messages was stopped")

func (g *guard) Read(b []byte) (int, error) {
	n, err := g.sieve.Read(b)
	if errors.Is(err, errOdd) {
		g.line.cut(err)
	}
	return n, err
}

func (g *guard) Write(b []byte) (int, error) {
	if g.signedIn.Load() && !harmless(b) {
		g.line.cut(errGuard)
		return 0, errGuard
	}
	return g.Conn.Write(b)
}

// Close cuts the line at once: the farewell of TLS would wait for a peer that may
// not be reading.
func (g *guard) Close() error { return g.line.Conn.Close() }

// harmless reports whether b is exactly one whole command of the kinds that this
// package uses.
func harmless(b []byte) bool {
	text, whole := bytes.CutSuffix(b, []byte("\r\n"))
	if !whole || bytes.ContainsAny(text, "\r\n") {
		return false
	}
	_, cmd, ok := strings.Cut(string(text), " ")
	if !ok {
		return false
	}
	switch {
	case cmd == "CAPABILITY", cmd == "LOGOUT", strings.HasPrefix(cmd, "LIST "), strings.HasPrefix(cmd, "SELECT "),
		strings.HasPrefix(cmd, "UID SEARCH "), strings.HasPrefix(cmd, "UID FETCH "), strings.HasPrefix(cmd, "UID MOVE "):
		return true
	case strings.HasPrefix(cmd, "UID STORE "):
		return strings.HasSuffix(cmd, ` +FLAGS.SILENT (\Seen)`)
	}
	return false
}
