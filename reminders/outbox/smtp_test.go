package outbox_test

import (
	"crypto/x509"
	"errors"
	"io"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"dunlin/reminders/outbox"
)

// got is one message as the server took it.
type got struct {
	from, to, envelope, user string
	notify                   []smtp.DSNNotify
	utf8                     bool
	data                     string
}

// mailServer is a mail server in this process.
type mailServer struct {
	mu    sync.Mutex
	list  []got
	mail  error // its answers
	rcpt  error
	data  error
	users map[string]string
	tried int // passwords that came
}

func (s *mailServer) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{s: s}, nil }

func (s *mailServer) taken() []got {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.list
}

type session struct {
	s *mailServer
	g got
}

func (x *session) AuthMechanisms() []string { return []string{"PLAIN"} }
func (x *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		x.s.tried++
		if p, ok := x.s.users[user]; !ok || p != password {
			return smtp.ErrAuthFailed
		}
		x.g.user = user
		return nil
	}), nil
}
func (x *session) Mail(from string, o *smtp.MailOptions) error {
	x.g.from, x.g.envelope, x.g.utf8 = from, o.EnvelopeID, o.UTF8
	if x.s.users != nil && x.g.user == "" {
		return smtp.ErrAuthRequired
	}
	return x.s.mail
}
func (x *session) Rcpt(to string, o *smtp.RcptOptions) error {
	x.g.to, x.g.notify = to, o.Notify
	return x.s.rcpt
}
func (x *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if x.s.data != nil {
		return x.s.data
	}
	x.g.data = string(b)
	x.s.mu.Lock()
	defer x.s.mu.Unlock()
	x.s.list = append(x.s.list, x.g)
	return nil
}
func (x *session) Reset()        {}
func (x *session) Logout() error { return nil }

// serve starts a mail server and gives a channel that speaks to it.
func serve(t *testing.T, s *mailServer, implicit bool, set func(*smtp.Server)) *outbox.SMTP {
	t.Helper()
	config, roots := certificate(t)
	srv := smtp.NewServer(s)
	srv.Domain, srv.TLSConfig, srv.EnableDSN = "mail.alderbay.example", config, true
	if set != nil {
		set(srv)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := ln.Addr().(*net.TCPAddr).Port
	if implicit {
		ln = newTLS(ln, config)
	}
	go srv.Serve(ln)
	t.Cleanup(func() { srv.Close() })
	return &outbox.SMTP{Host: "127.0.0.1", Port: port, Implicit: implicit, RootCAs: roots, From: "followup@alderbay.example", FromName: "Wren Castellano", Timeout: 3 * time.Second}
}

func TestMailGoesOutOverTLS(t *testing.T) {
	for name, implicit := range map[string]bool{"TLS from the start": true, "STARTTLS": false} {
		t.Run(name, func(t *testing.T) {
			s := &mailServer{users: map[string]string{"followup": "long pass phrase"}}
			c := serve(t, s, implicit, nil)
			c.User, c.Password = "followup", func() (string, error) { return "long pass phrase", nil }
			if err := c.Send(ctx, parcel("ina@family.example")); err != nil {
				t.Fatal(err)
			}
			if len(s.taken()) != 1 {
				t.Fatalf("%d messages", len(s.taken()))
			}
			g := s.taken()[0]
			if g.from != "followup@alderbay.example" || g.to != "ina@family.example" || g.user != "followup" || g.envelope != "letter-ABCD2345" || len(g.notify) != 2 || g.utf8 {
				t.Errorf("envelope: %+v", g)
			}
			m, err := mail.ReadMessage(strings.NewReader(g.data))
			if err != nil {
				t.Fatal(err)
			}
			for name, want := range map[string]string{"Message-Id": "<letter-ABCD2345.2@alderbay.example>", "Auto-Submitted": "auto-generated", "To": "<ina@family.example>",
				"From": `"Wren Castellano" <followup@alderbay.example>`, "Content-Language": "es", "Bcc": "", "User-Agent": ""} {
				if got := m.Header.Get(name); got != want {
					t.Errorf("%s: %q, not %q", name, got, want)
				}
			}
			if at, err := m.Header.Date(); err != nil || !at.Equal(noon) {
				t.Errorf("date %v %v", at, err)
			}
			body, _ := io.ReadAll(m.Body)
			if !strings.Contains(string(body), "Ll=C3=A1menos.\r\n.\r\nWren") {
				t.Errorf("body %q", body)
			}
		})
	}
}

//asvs:12.3.1
func TestMailIsNeverSentInTheClear(t *testing.T) {
	_, otherRoots := certificate(t)
	for name, x := range map[string]func(*outbox.SMTP, *smtp.Server){
		"no STARTTLS offered":       func(_ *outbox.SMTP, s *smtp.Server) { s.TLSConfig = nil; s.AllowInsecureAuth = true },
		"another authority":         func(c *outbox.SMTP, _ *smtp.Server) { c.RootCAs = x509.NewCertPool() },
		"certificate of a stranger": func(c *outbox.SMTP, _ *smtp.Server) { c.Host = "localhost"; c.RootCAs = otherRoots },
	} {
		s := &mailServer{users: map[string]string{"followup": "secret"}}
		var srv *smtp.Server
		c := serve(t, s, false, func(x *smtp.Server) { srv = x })
		x(c, srv)
		c.User, c.Password = "followup", func() (string, error) { return "secret", nil }
		err := c.Send(ctx, parcel("ina@family.example"))
		var no *outbox.Refused
		var unsure *outbox.Unsure
		if err == nil || errors.As(err, &no) || errors.As(err, &unsure) || len(s.taken()) > 0 {
			t.Errorf("%s: %v, %d taken", name, err, len(s.taken()))
		}
		if s.tried > 0 {
			t.Errorf("%s: the password was sent", name)
		}
	}
}

func TestServersNo(t *testing.T) {
	temp := &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "Try later"}
	perm := &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "No such mailbox"}
	for name, x := range map[string]struct {
		s         *mailServer
		permanent bool
		code      int
	}{
		"sender, later":       {&mailServer{mail: temp}, false, 451},
		"sender, for good":    {&mailServer{mail: perm}, false, 550}, // the program's address, not the family's
		"recipient, later":    {&mailServer{rcpt: temp}, false, 451},
		"recipient, for good": {&mailServer{rcpt: perm}, true, 550},
		"message, later":      {&mailServer{data: temp}, false, 451},
		"message, for good":   {&mailServer{data: perm}, true, 550},
		"sign-in demanded":    {&mailServer{users: map[string]string{"x": "y"}}, false, 502},
	} {
		c := serve(t, x.s, true, nil)
		err := c.Send(ctx, parcel("ina@family.example"))
		var no *outbox.Refused
		if !errors.As(err, &no) || no.Permanent != x.permanent || no.Code != x.code {
			t.Errorf("%s: %v", name, err)
		}
		if len(x.s.taken()) > 0 {
			t.Errorf("%s: taken", name)
		}
	}
	s := &mailServer{users: map[string]string{"followup": "right"}}
	c := serve(t, s, true, nil)
	c.User, c.Password = "followup", func() (string, error) { return "wrong", nil }
	var no *outbox.Refused
	if err := c.Send(ctx, parcel("ina@family.example")); err == nil || errors.As(err, &no) {
		t.Errorf("a wrong password: %v", err) // tried again: people mend it
	}
	c.Password = func() (string, error) { return "", errors.New("the file is gone") }
	if err := c.Send(ctx, parcel("ina@family.example")); err == nil || len(s.taken()) > 0 {
		t.Errorf("no password: %v", err)
	}
}

func TestUnicodeAddress(t *testing.T) {
	for _, able := range []bool{true, false} {
		s := &mailServer{}
		c := serve(t, s, true, func(x *smtp.Server) { x.EnableSMTPUTF8 = able })
		err := c.Send(ctx, parcel("josé@família.example"))
		var no *outbox.Refused
		switch {
		case able && (err != nil || len(s.taken()) != 1 || !s.taken()[0].utf8 || s.taken()[0].to != "josé@família.example"):
			t.Errorf("not sent: %v %+v", err, s.taken())
		case !able && (!errors.As(err, &no) || !no.Permanent || len(s.taken()) > 0):
			t.Errorf("a server that cannot: %v", err)
		}
	}
}

// TestNothingWithALineBreakIsSent hands the channel what the store would refuse.
//
//asvs:1.3.11
func TestNothingWithALineBreakIsSent(t *testing.T) {
	s := &mailServer{}
	c := serve(t, s, true, nil)
	for _, change := range []func(*outbox.Parcel){
		func(p *outbox.Parcel) { p.To = "ina@family.example\r\nBcc: all@family.example" },
		func(p *outbox.Parcel) { p.To = "ina@family.example,all@family.example" },
		func(p *outbox.Parcel) { p.Subject = "Call us\r\nBcc: all@family.example" },
		func(p *outbox.Parcel) { p.Body = "Call us\r\n.\r\nMAIL FROM:<x@y.example>\r\n" },
	} {
		p := parcel("ina@family.example")
		change(&p)
		var no *outbox.Refused
		if err := c.Send(ctx, p); !errors.As(err, &no) || !no.Permanent {
			t.Errorf("%q: %v", p.To, err)
		}
	}
	c.FromName = "Wren\r\nBcc: all@family.example"
	if err := c.Send(ctx, parcel("ina@family.example")); err == nil {
		t.Error("the program's name holds a heading")
	}
	if len(s.taken()) > 0 {
		t.Errorf("sent: %+v", s.taken())
	}
}

func TestAttachmentIsSentWhole(t *testing.T) {
	s := &mailServer{}
	c := serve(t, s, true, nil)
	p := parcel("heron@practice.example")
	p.Files = []outbox.File{{Name: "letter.pdf", Type: "application/pdf", Raw: []byte("%PDF-1.7\nnot much\n")}}
	if err := c.Send(ctx, p); err != nil {
		t.Fatal(err)
	}
	data := s.taken()[0].data
	for _, want := range []string{"multipart/mixed", `filename="letter.pdf"`, "application/pdf", "JVBERi0xLjcKbm90IG11Y2gK"} {
		if !strings.Contains(data, want) {
			t.Errorf("%q is missing in\n%s", want, data)
		}
	}
}
