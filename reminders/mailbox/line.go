package mailbox

import (
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// line is the connection to the server, under TLS. It counts and caps the bytes
// that come in, and is cut when an answer takes too long. The deadlines that the
// library sets are not heeded: it clears them after each response, and then a silent
// server would never be noticed.
type line struct {
	net.Conn
	left atomic.Int64 // bytes that may still come

	mu    sync.Mutex
	why   error // why it was cut
	watch *time.Timer
}

var errFlood = errors.New("the mail server sends more than was asked for")

// arm lets so many bytes come in the given time; then the line is cut.
func (l *line) arm(limit time.Duration, bytes int64) {
	l.left.Store(bytes)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.watch != nil {
		l.watch.Stop()
	}
	l.watch = time.AfterFunc(limit, func() {
		l.cut(fmt.Errorf("the mail server did not answer within %s", limit.Round(time.Millisecond)))
	})
}

// disarm takes the limit of time away; what comes unasked stays capped.
func (l *line) disarm() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.watch != nil {
		l.watch.Stop()
	}
}

// cut closes the line; the first reason stays.
func (l *line) cut(why error) {
	l.mu.Lock()
	if l.why == nil {
		l.why = why
	}
	l.mu.Unlock()
	l.Conn.Close()
}

func (l *line) reason() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.why
}

func (l *line) Read(b []byte) (int, error) {
	left := l.left.Load()
	if left <= 0 {
		l.cut(errFlood)
		return 0, errFlood
	}
	n, err := l.Conn.Read(b[:min(int64(len(b)), left)])
	l.left.Add(-int64(n))
	return n, err
}

func (*line) SetDeadline(time.Time) error      { return nil }
func (*line) SetReadDeadline(time.Time) error  { return nil }
func (*line) SetWriteDeadline(time.Time) error { return nil }
