package mailbox

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
)

// errRefused marks a sign-in that the server refused.
var errRefused = errors.New("the mail server refused the sign-in")

// open connects, signs in and selects the folder. The session ends with ctx.
func (b *Box) open(ctx context.Context, password string) (*session, error) {
	l, err := b.dial(ctx)
	if err != nil {
		return nil, fmt.Errorf("the mail server %s cannot be reached: %w", b.o.Addr, err)
	}
	s := &session{b: b, line: l}
	s.stop = context.AfterFunc(ctx, func() { l.cut(fmt.Errorf("the poll was ended: %w", context.Cause(ctx))) })
	if err := s.start(ctx, password); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (b *Box) dial(ctx context.Context) (*line, error) {
	d := net.Dialer{Timeout: b.limits.dial}
	conn, err := d.DialContext(ctx, "tcp", b.o.Addr)
	if err != nil {
		return nil, err
	}
	if tcp, ok := conn.RemoteAddr().(*net.TCPAddr); b.o.Security == Plain && (!ok || !tcp.IP.IsLoopback()) {
		conn.Close()
		return nil, errors.New("the name leads to another machine, and the connection would not be encrypted")
	}
	l := &line{Conn: conn}
	l.arm(b.limits.dial, b.limits.line)
	return l, nil
}

// start secures the line, reads the greeting, signs in and selects the folder.
func (s *session) start(ctx context.Context, password string) error {
	o := s.b.o
	conn, greeting := net.Conn(s.line), ""
	if o.Security == StartTLS {
		if err := s.askForTLS(); err != nil {
			return s.explain(err)
		}
		greeting = "* OK secured\r\n" // the library waits for one, and the server's has gone by
	}
	if o.Security != Plain {
		host, _, _ := net.SplitHostPort(o.Addr)
		secure := tls.Client(s.line, &tls.Config{ServerName: host, RootCAs: o.RootCAs, MinVersion: tls.VersionTLS12, Time: o.Now})
		if err := secure.HandshakeContext(ctx); err != nil {
			if why := s.line.reason(); why != nil {
				return why
			}
			return fmt.Errorf("no trusted connection to the mail server: %s", clean(err.Error()))
		}
		conn = secure
	}
	s.guard = newGuard(conn, s.line, greeting)
	s.c = imapclient.New(s.guard, nil)
	if err := s.explain(s.c.WaitGreeting()); err != nil {
		return err
	}
	s.line.disarm()
	switch s.c.State() {
	case imap.ConnStateNotAuthenticated:
	case imap.ConnStateLogout: // ended since, by what came behind the greeting
		return s.explain(io.ErrUnexpectedEOF)
	default:
		return errors.New("the mail server says that the program is signed in before it did so; the connection is not to be trusted")
	}
	if err := s.signIn(password); err != nil {
		return err
	}
	return s.selectFolder()
}

// askForTLS does STARTTLS (RFC 3501, section 6.2.1) by hand, one byte at a time:
// whatever was slipped in behind the answer then goes to the TLS handshake, which
// fails on it, and never to the session.
func (s *session) askForTLS() error {
	text, err := readLine(s.line)
	if err != nil {
		return err
	}
	if !strings.HasPrefix(strings.ToUpper(text), "* OK") {
		return fmt.Errorf("the mail server greets with %q, and no secure connection can be asked for", clean(text))
	}
	if _, err := io.WriteString(s.line, "A0 STARTTLS\r\n"); err != nil {
		return err
	}
	for range 20 {
		if text, err = readLine(s.line); err != nil {
			return err
		}
		if strings.HasPrefix(text, "A0 ") {
			if strings.HasPrefix(strings.ToUpper(text), "A0 OK") {
				return nil
			}
			break
		}
	}
	return fmt.Errorf("the mail server gives no secure connection: %q", clean(text))
}

func readLine(r io.Reader) (string, error) {
	var text []byte
	for one := make([]byte, 1); len(text) < 4096; {
		if _, err := io.ReadFull(r, one); err != nil {
			return "", err
		}
		if one[0] == '\n' {
			return strings.TrimSuffix(string(text), "\r"), nil
		}
		text = append(text, one[0])
	}
	return "", errFlood
}

func (s *session) signIn(password string) error {
	caps, err := s.caps()
	if err != nil {
		return err
	}
	if caps.Has(imap.CapLoginDisabled) {
		return errors.New("the mail server does not allow a sign-in with a password on this connection")
	}
	err = s.do(s.b.limits.answer, s.b.limits.line, func() error { return s.c.Login(s.b.o.User, password).Wait() })
	if no := (*imap.Error)(nil); errors.As(err, &no) && no.Code != imap.ResponseCodeUnavailable {
		return fmt.Errorf("%w of %s: %s", errRefused, s.b.o.User, clean(no.Text))
	} else if err != nil {
		return err
	}
	s.guard.signedIn.Store(true)
	// What a server can do may be another thing once signed in, and what the library
	// remembers may still be the old.
	return s.do(s.b.limits.answer, s.b.limits.line, func() error {
		caps, err := s.c.Capability().Wait()
		s.canMove = caps.Has(imap.CapMove)
		return err
	})
}

func (s *session) caps() (caps imap.CapSet, err error) {
	err = s.do(s.b.limits.answer, s.b.limits.line, func() error {
		if caps = s.c.Caps(); caps == nil {
			return errors.New("the mail server does not say what it can do")
		}
		return nil
	})
	return caps, err
}

// selectFolder looks which of the folders exist and selects the one to be polled.
func (s *session) selectFolder() error {
	s.folders = map[string]bool{}
	for _, name := range []string{s.b.o.Handled, s.b.o.Trouble} {
		if name == "" || !s.canMove {
			continue
		}
		err := s.do(s.b.limits.answer, s.b.limits.line, func() error {
			list, err := s.c.List("", name, nil).Collect()
			for _, f := range list {
				s.folders[name] = s.folders[name] || f.Mailbox == name && usable(f.Attrs)
			}
			return err
		})
		if err != nil && !s.alive() {
			return err
		}
	}
	return s.do(s.b.limits.answer, s.b.limits.line, func() error {
		data, err := s.c.Select(s.b.o.Folder, nil).Wait()
		if err != nil {
			return fmt.Errorf("folder %s: %w", s.b.o.Folder, err)
		}
		if s.validity, s.exists = data.UIDValidity, data.NumMessages; s.validity == 0 {
			return fmt.Errorf("the mail server gives the messages in %s no lasting numbers", s.b.o.Folder)
		}
		return nil
	})
}

func usable(attrs []imap.MailboxAttr) bool {
	for _, a := range attrs {
		if strings.EqualFold(string(a), string(imap.MailboxAttrNoSelect)) || strings.EqualFold(string(a), string(imap.MailboxAttrNonExistent)) {
			return false
		}
	}
	return true
}
