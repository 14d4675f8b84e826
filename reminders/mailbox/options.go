package mailbox

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// The ways to secure the connection. There is no falling back from one to another.
const (
	TLS      = "tls"      // TLS from the first byte (port 993)
	StartTLS = "starttls" // a plain greeting, then TLS (port 143)
	Plain    = "none"     // no TLS; to this machine only
)

// Options is what a Box needs to know of the mailbox.
type Options struct {
	Addr     string // host:port
	Security string // TLS, StartTLS or Plain; "" means TLS
	User     string
	Folder   string // polled; "" means INBOX
	// Handled and Trouble are where messages go after their content is stored:
	// Trouble when something in it cannot be read, Handled otherwise. "" leaves them.
	Handled, Trouble string
	// Password gives the password, anew for each poll; line ends at its end are
	// left out.
	Password func() (string, error)
	// RootCAs are the authorities trusted for the server's certificate; nil means
	// the system's.
	RootCAs *x509.CertPool
	// MaxMessage bounds the bytes of one message; 0 means 25 MB.
	MaxMessage int64
	// PollLimit bounds the time of one poll; 0 means 4 minutes.
	PollLimit time.Duration
	// Batch is how many messages share the transactions of the store; 0 means 50.
	Batch int
	Log   *slog.Logger
	Now   func() time.Time // the program's clock; required
}

// Sink takes documents in; *intake.Intake is one. An error means that the store
// failed and the documents may be given again.
type Sink interface {
	ReceiveAll(ctx context.Context, actor cases.Actor, docs []intake.Document) ([]intake.Result, error)
}

// check fills in what was left out and tells everything that is wrong.
func (o *Options) check() error {
	var faults []error
	bad := func(format string, args ...any) { faults = append(faults, fmt.Errorf("mailbox: "+format, args...)) }
	host, _, err := net.SplitHostPort(o.Addr)
	if err != nil || host == "" {
		bad("the server %q must be given as host:port", o.Addr)
	}
	switch o.Security {
	case "":
		o.Security = TLS
	case TLS, StartTLS:
	case Plain:
		if !loopback(host) {
			bad("a connection without TLS is allowed to this machine only, not to %s", host)
		}
	default:
		bad("security %q is not known; use %s, %s or %s", o.Security, TLS, StartTLS, Plain)
	}
	if o.Folder == "" {
		o.Folder = "INBOX"
	}
	for _, f := range []string{o.Folder, o.Handled, o.Trouble} {
		if strings.ContainsAny(f, "*%") || clean(f) != f {
			bad("the folder name %q has signs that a folder name cannot have", f)
		}
		if f == o.Folder && (f == o.Handled || f == o.Trouble) {
			bad("the folder that is polled, %q, cannot be where handled messages go", f)
		}
	}
	if o.User == "" || clean(o.User) != o.User {
		bad("the user name is missing or has control characters")
	}
	if o.Password == nil || o.Now == nil {
		bad("password and clock are required")
	}
	if o.MaxMessage <= 0 {
		o.MaxMessage = 25 << 20
	}
	if o.PollLimit <= 0 {
		o.PollLimit = 4 * time.Minute
	}
	if o.Batch <= 0 {
		o.Batch = 50
	}
	o.Batch = min(o.Batch, 200) // the numbers of a batch fit one command line
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return errors.Join(faults...)
}

// loopback reports whether a host is this machine by its name alone.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// limits bound what one answer of the server may take; tests make them smaller.
type limits struct {
	dial    time.Duration // until the greeting was read
	answer  time.Duration // until a command is answered, without the bodies in it
	rate    int64         // bytes a second that a body must come at
	line    int64         // bytes of answers without bodies
	held    int64         // bytes of messages held until they are stored
	window  uint32        // messages asked for by one search
	found   int           // messages taken up by one poll
	tries   int           // failures until a person is told
	trouble int           // failing messages until a poll gives up
}

var usual = limits{dial: 20 * time.Second, answer: 30 * time.Second, rate: 64 << 10, line: 64 << 10,
	held: 8 << 20, window: 5000, found: 10000, tries: 3, trouble: 20}

// clean takes control characters and what could reorder a line out of a text of the
// server, and shortens it.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7F && r < 0xA0 || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0x2028 || r == 0x2029 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200]) + "..."
	}
	return s
}
