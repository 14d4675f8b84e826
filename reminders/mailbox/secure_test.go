package mailbox

import (
	"bufio"
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"
)

// TestStartTLSHostile: a server, or somebody between, that does not let the
// connection become secure learns nothing and gets nowhere.
//
//asvs:12.3.1
func TestStartTLSHostile(t *testing.T) {
	ca := newAuthority(t)
	conf := ca.serverConfig("127.0.0.1", today.AddDate(1, 0, 0))
	for name, h := range map[string]struct {
		serve func(c net.Conn, r *bufio.Reader)
		want  string
	}{
		"silent":             {func(c net.Conn, r *bufio.Reader) { drain(c) }, "did not answer within"},
		"says PREAUTH":       {func(c net.Conn, r *bufio.Reader) { fmt.Fprint(c, "* PREAUTH welcome\r\n"); drain(c) }, "no secure connection can be asked for"},
		"says good-bye":      {func(c net.Conn, r *bufio.Reader) { fmt.Fprint(c, "* BYE busy\r\n"); drain(c) }, "busy"},
		"greets without end": {func(c net.Conn, r *bufio.Reader) { (&wire{Conn: c}).forever("* OK ") }, "more than was asked for"},
		"refuses": {func(c net.Conn, r *bufio.Reader) {
			fmt.Fprint(c, "* OK\r\n")
			_, _ = r.ReadString('\n')
			fmt.Fprint(c, "A0 BAD no such command\r\n")
			drain(c)
		}, "gives no secure connection"},
		"says other things first, for ever": {func(c net.Conn, r *bufio.Reader) {
			fmt.Fprint(c, "* OK\r\n")
			_, _ = r.ReadString('\n')
			(&wire{Conn: c}).forever("* OK wait\r\n")
		}, "gives no secure connection"},
		"silent after it": {func(c net.Conn, r *bufio.Reader) {
			fmt.Fprint(c, "* OK\r\n")
			_, _ = r.ReadString('\n')
			fmt.Fprint(c, "A0 OK go\r\n")
			drain(c)
		}, "did not answer within"},
		"speaks plain after it": {func(c net.Conn, r *bufio.Reader) {
			fmt.Fprint(c, "* OK\r\n")
			_, _ = r.ReadString('\n')
			fmt.Fprint(c, "A0 OK go\r\n* OK plain is fine\r\n")
			drain(c)
		}, "no trusted connection"},
		"slips an answer in before TLS": {func(c net.Conn, r *bufio.Reader) {
			fmt.Fprint(c, "* OK\r\n")
			_, _ = r.ReadString('\n')
			fmt.Fprint(c, "A0 OK go\r\n* CAPABILITY IMAP4rev1 AUTH=PLAIN\r\nT1 OK\r\n")
			s := tls.Server(c, conf)
			_ = s.Handshake()
			drain(s)
		}, "no trusted connection"},
	} {
		t.Run(name, func(t *testing.T) {
			addr, heard := oneConnection(t, h.serve)
			b := newBench(t)
			box := b.box(addr, func(o *Options) { o.Security, o.RootCAs = StartTLS, ca.pool })
			box.limits.dial, box.limits.answer = 200*time.Millisecond, 200*time.Millisecond
			if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), h.want) {
				t.Errorf("error %v, wanted one with %q", err, h.want)
			}
			if said := heard(); strings.Contains(said, "LOGIN") || strings.Contains(said, account) {
				t.Errorf("it heard %q", said)
			}
		})
	}
}

// TestTLSHostile: plain text and old TLS where TLS is wanted.
//
//asvs:12.3.2
func TestTLSHostile(t *testing.T) {
	ca := newAuthority(t)
	old := ca.serverConfig("127.0.0.1", today.AddDate(1, 0, 0))
	old.MinVersion, old.MaxVersion = tls.VersionTLS10, tls.VersionTLS11
	for name, serve := range map[string]func(c net.Conn, r *bufio.Reader){
		"plain":   func(c net.Conn, r *bufio.Reader) { fmt.Fprint(c, "* OK ready\r\n"); drain(c) },
		"TLS 1.1": func(c net.Conn, r *bufio.Reader) { _ = tls.Server(c, old).Handshake(); drain(c) },
	} {
		addr, heard := oneConnection(t, serve)
		b := newBench(t)
		box := b.box(addr, func(o *Options) { o.Security, o.RootCAs = TLS, ca.pool })
		if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), "no trusted connection") {
			t.Errorf("%s: error %v", name, err)
		}
		if strings.Contains(heard(), "LOGIN") {
			t.Errorf("%s: it heard the sign-in", name)
		}
	}
}

// TestStartTLSInMemory signs in after STARTTLS at the library's own server.
func TestStartTLSInMemory(t *testing.T) {
	ca, b := newAuthority(t), newBench(t)
	m := newMemory(t, true, ca.serverConfig("127.0.0.1", today.AddDate(1, 0, 0)), "Handled")
	m.put("INBOX", referral(1))
	if got := b.poll(b.box(m.addr, func(o *Options) { o.Security, o.RootCAs = StartTLS, ca.pool })); got.Taken != 1 {
		t.Fatal(got)
	}
}

// oneConnection serves connections and keeps what was heard on them in plain.
func oneConnection(t testing.TB, serve func(net.Conn, *bufio.Reader)) (addr string, heard func() string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	said := make(chan string, 10)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				e := &ear{Conn: c}
				serve(e, bufio.NewReaderSize(e, 16))
				said <- e.heard.String()
			}()
		}
	}()
	return l.Addr().String(), func() string {
		select {
		case s := <-said:
			return s
		case <-time.After(5 * time.Second):
			t.Error("the connection was not closed")
			return ""
		}
	}
}

// ear is a connection that keeps what it reads.
type ear struct {
	net.Conn
	heard strings.Builder
}

func (e *ear) Read(b []byte) (int, error) {
	n, err := e.Conn.Read(b)
	e.heard.Write(b[:n])
	return n, err
}
