package outbox_test

import (
	"bufio"
	"crypto/tls"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"dunlin/reminders/outbox"
)

func newTLS(ln net.Listener, c *tls.Config) net.Listener { return tls.NewListener(ln, c) }

// bad starts a server that answers each line by a script and then does as told.
func bad(t *testing.T, handle func(c net.Conn, in *bufio.Reader)) *outbox.SMTP {
	t.Helper()
	config, roots := certificate(t)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() })
	port := ln.Addr().(*net.TCPAddr).Port
	go func() {
		for {
			c, err := newTLS(ln, config).Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				handle(c, bufio.NewReader(c))
			}()
		}
	}()
	return &outbox.SMTP{Host: "127.0.0.1", Port: port, Implicit: true, RootCAs: roots, From: "followup@alderbay.example", Timeout: 300 * time.Millisecond}
}

// talk answers as a server does until a line that begins with stop.
func talk(c net.Conn, in *bufio.Reader, stop string) {
	c.Write([]byte("220 mail.alderbay.example\r\n"))
	for {
		line, err := in.ReadString('\n')
		if err != nil || strings.HasPrefix(line, stop) {
			return
		}
		answer := "250 ok\r\n"
		if strings.HasPrefix(line, "DATA") {
			answer = "354 go on\r\n"
		}
		c.Write([]byte(answer))
		if answer[0] == '3' {
			for line != ".\r\n" {
				if line, err = in.ReadString('\n'); err != nil || stop == "." && line == ".\r\n" {
					return
				}
			}
			c.Write([]byte("250 taken\r\n"))
		}
	}
}

// TestWhatIsCertain breaks the dialog at each step: before the last byte of the message
// it was not sent, after it nobody knows, and with the answer it was sent.
func TestWhatIsCertain(t *testing.T) {
	long := func(c net.Conn) { time.Sleep(3 * time.Second) }
	for name, x := range map[string]struct {
		handle func(net.Conn, *bufio.Reader)
		want   string // not, unsure, sent
	}{
		"closed at once":         {func(net.Conn, *bufio.Reader) {}, "not"},
		"silent":                 {func(c net.Conn, _ *bufio.Reader) { long(c) }, "not"},
		"closed at EHLO":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "EHLO") }, "not"},
		"closed at MAIL":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "MAIL") }, "not"},
		"silent at RCPT":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "RCPT"); long(c) }, "not"},
		"closed at DATA":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "DATA") }, "not"},
		"closed after the dot":   {func(c net.Conn, in *bufio.Reader) { talk(c, in, ".") }, "unsure"},
		"silent after the dot":   {func(c net.Conn, in *bufio.Reader) { talk(c, in, "."); long(c) }, "unsure"},
		"gone in the message":    {func(c net.Conn, in *bufio.Reader) { talk(c, in, "DATA"); c.Write([]byte("354 go on\r\n")) }, "unsure"}, // it was in the network's hands
		"closed at QUIT":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "QUIT") }, "sent"},
		"silent at QUIT":         {func(c net.Conn, in *bufio.Reader) { talk(c, in, "QUIT"); long(c) }, "sent"},
		"no SMTP at all":         {func(c net.Conn, _ *bufio.Reader) { c.Write([]byte("HTTP/1.1 400 Bad Request\r\n\r\n")) }, "not"},
		"busy":                   {func(c net.Conn, _ *bufio.Reader) { c.Write([]byte("421 too many\r\n")) }, "not"},
		"a greeting without end": {func(c net.Conn, _ *bufio.Reader) { flood(c, "220-welcome\r\n") }, "not"},
		"a line without end":     {func(c net.Conn, _ *bufio.Reader) { flood(c, strings.Repeat("2", 100)) }, "not"},
		"greets, then drips":     {func(c net.Conn, in *bufio.Reader) { c.Write([]byte("220 hi\r\n")); drip(c) }, "not"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			began := time.Now()
			err := bad(t, x.handle).Send(ctx, parcel("ina@family.example"))
			got := "not"
			var unsure *outbox.Unsure
			switch {
			case err == nil:
				got = "sent"
			case errors.As(err, &unsure):
				got = "unsure"
			}
			if got != x.want {
				t.Errorf("%s, want %s: %v", got, x.want, err)
			}
			if took := time.Since(began); took > 20*time.Second {
				t.Errorf("it took %v", took)
			}
		})
	}
}

func flood(c net.Conn, text string) {
	for {
		if _, err := c.Write([]byte(text)); err != nil {
			return
		}
	}
}

func drip(c net.Conn) {
	for range 100 {
		if _, err := c.Write([]byte("2")); err != nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
}
