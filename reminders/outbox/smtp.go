package outbox

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"strconv"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
	"github.com/wneessen/go-mail/smtp"

	"dunlin/cases"
)

// SMTP sends e-mail through the program's mail server (RFC 5321), always over TLS with
// the server's certificate checked. There is no way to send in the clear.
type SMTP struct {
	Host     string
	Port     int
	Implicit bool                   // TLS from the first byte (RFC 8314); otherwise STARTTLS, which is demanded
	User     string                 // "" signs in nowhere
	Password func() (string, error) // read anew each time
	RootCAs  *x509.CertPool         // nil is the system's
	From     string                 // the address that notices come back to
	FromName string
	Timeout  time.Duration // of connecting, and of each message; 0 means 20 s
}

// most bytes that a server may say in one connection.
const maxAnswers = 256 << 10

const (
	usualTimeout = 20 * time.Second
	finalWaits   = 5 // timeouts that the answer to a whole message may take (RFC 5321, section 4.5.3.2.6)
)

// Domain is the domain of the program's address, which Message-IDs carry.
func (s *SMTP) Domain() string {
	_, domain, _ := strings.Cut(s.From, "@")
	return domain
}

// Send gives one message to the server.
func (s *SMTP) Send(ctx context.Context, p Parcel) error {
	if !cases.EmailAddress(s.From) {
		return fmt.Errorf("the program's own address %q cannot be used", cases.Printable(s.From))
	}
	msg, err := s.compose(p)
	if err != nil {
		return &Refused{Permanent: true, Text: "The message cannot be written as a mail: " + err.Error()}
	}
	c, hang, err := s.dial(ctx)
	if err != nil {
		return err
	}
	defer hang()
	if err := s.envelope(c, p); err != nil {
		return err
	}
	return s.deliver(c, msg)
}

func (s *SMTP) timeout() time.Duration {
	if s.Timeout > 0 {
		return s.Timeout
	}
	return usualTimeout
}

// dial connects, secures and signs in. What fails here is tried again later: wrong
// passwords and certificates are mended by people.
func (s *SMTP) dial(ctx context.Context) (c *smtp.Client, hang func(), err error) {
	var conn net.Conn
	config := &tls.Config{ServerName: s.Host, MinVersion: tls.VersionTLS12, RootCAs: s.RootCAs}
	opts := []gomail.Option{
		gomail.WithPort(s.Port), gomail.WithTimeout(s.timeout()), gomail.WithTLSConfig(config), gomail.WithTLSPolicy(gomail.TLSMandatory), gomail.WithHELO(s.Domain()),
		gomail.WithDialContextFunc(func(ctx context.Context, network, address string) (net.Conn, error) {
			plain, err := (&net.Dialer{}).DialContext(ctx, network, address)
			if err != nil {
				return nil, err
			}
			conn = &bounded{Conn: plain, left: maxAnswers}
			if !s.Implicit {
				return conn, nil
			}
			secure := tls.Client(conn, config)
			return secure, secure.HandshakeContext(ctx)
		}),
	}
	if s.Implicit {
		opts = append(opts, gomail.WithSSL())
	}
	if s.User != "" {
		password, err := s.Password()
		if err != nil {
			return nil, nil, err
		}
		opts = append(opts, gomail.WithSMTPAuthCustom(&signIn{user: s.User, password: password, host: s.Host}))
	}
	client, err := gomail.NewClient(s.Host, opts...)
	if err != nil {
		return nil, nil, err
	}
	if c, err = client.DialToSMTPClientWithContext(ctx); err != nil {
		if conn != nil {
			conn.Close()
		}
		return nil, nil, fmt.Errorf("the mail server %s cannot be used: %w", net.JoinHostPort(s.Host, strconv.Itoa(s.Port)), err)
	}
	return c, func() {
		c.UpdateDeadline(2 * time.Second)
		if c.Quit() != nil { // whatever it says, the message is given or not given by now
			conn.Close()
		}
	}, nil
}

// envelope says from whom and to whom, and asks for notices of failure and delay that
// name the envelope (RFC 3461).
func (s *SMTP) envelope(c *smtp.Client, p Parcel) error {
	if err := c.UpdateDeadline(s.timeout()); err != nil {
		return err
	}
	international := !ascii(p.To + s.From)
	if offered, _ := c.Extension("SMTPUTF8"); international && !offered {
		return &Refused{Permanent: true, Text: "The mail server takes no addresses with letters beyond plain English ones."}
	}
	c.SkipSMTPUTF8(!international)
	c.SetDSNMailReturnOption("HDRS ENVID=" + cases.LetterEnvelopeID(p.Number))
	c.SetDSNRcptNotifyOption("FAILURE,DELAY")
	if err := c.Mail("<" + s.From + ">"); err != nil {
		err = answer(err)
		if no, ok := err.(*Refused); ok {
			no.Permanent = false // it speaks of the program's own address, which people mend
		}
		return err
	}
	if err := c.Rcpt("<" + p.To + ">"); err != nil {
		return answer(err)
	}
	return nil
}

// deliver gives the message itself. Until its last byte is out, the server must not act
// on it (RFC 5321, section 4.1.1.4); after it, only an answer tells.
func (s *SMTP) deliver(c *smtp.Client, msg *gomail.Msg) error {
	w, err := c.Data()
	if err != nil {
		return answer(err)
	}
	if _, err := msg.WriteTo(w); err != nil {
		return fmt.Errorf("the connection broke before the message was complete: %w", err)
	}
	if err := c.UpdateDeadline(finalWaits * s.timeout()); err != nil {
		return fmt.Errorf("the connection broke before the message was complete: %w", err)
	}
	if err := w.Close(); err != nil {
		var said *textproto.Error
		if errors.As(err, &said) {
			return answer(err)
		}
		return &Unsure{err}
	}
	return nil
}

// answer is a server's no, or the broken connection that it came as.
func answer(err error) error {
	var said *textproto.Error
	if !errors.As(err, &said) {
		return err
	}
	return &Refused{Code: said.Code, Permanent: said.Code/100 == 5, Text: cases.Printable(said.Msg)}
}

func ascii(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r > 126 })
}

// signIn takes PLAIN or LOGIN, whichever the server offers, and neither without TLS.
type signIn struct {
	user, password, host string
	smtp.Auth
}

func (a *signIn) Start(server *smtp.ServerInfo) (string, []byte, error) {
	if !server.TLS {
		return "", nil, errors.New("the connection is not secure, so no password is sent")
	}
	for _, offered := range server.Auth {
		switch strings.ToUpper(offered) {
		case "PLAIN":
			a.Auth = smtp.PlainAuth("", a.user, a.password, a.host, false)
			return a.Auth.Start(server)
		case "LOGIN":
			a.Auth = smtp.LoginAuth(a.user, a.password, a.host, false)
		}
	}
	if a.Auth == nil {
		return "", nil, errors.New("the mail server offers no sign-in with a password")
	}
	return a.Auth.Start(server)
}

// bounded is a connection that stops reading from a server that says too much.
type bounded struct {
	net.Conn
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errors.New("the mail server said too much")
	}
	n, err := b.Conn.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}
