package mllp_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"net"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/server/mllp"
)

func secure(t *testing.T, a *authority) func(*mllp.Options) {
	cert, key, ca := a.files()
	c, err := mllp.LoadTLS(cert, key, ca)
	if err != nil {
		t.Fatal(err)
	}
	return func(o *mllp.Options) { o.TLS = c }
}

// TestCertificates: only who shows a certificate of the program's authority over TLS
// 1.2 or later can send, and is known by its name.
//
//asvs:12.3.2
func TestCertificates(t *testing.T) {
	a, foreign := newAuthority(t), newAuthority(t)
	l := listen(t, intake.Settings{}, secure(t, a))
	client := func(c *x509.Certificate) *x509.Certificate {
		c.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}
		return c
	}
	lab := a.issue(client(&x509.Certificate{Subject: pkix.Name{CommonName: "lab.example"}}))
	old := a.issue(client(&x509.Certificate{Subject: pkix.Name{CommonName: "old.example"}}))
	for name, tc := range map[string]struct {
		conf *tls.Config
		ok   bool
	}{
		"certificate":               {&tls.Config{Certificates: []tls.Certificate{lab}}, true},
		"no certificate":            {&tls.Config{}, false},
		"another authority":         {&tls.Config{Certificates: []tls.Certificate{foreign.issue(client(&x509.Certificate{Subject: pkix.Name{CommonName: "lab.example"}}))}}, false},
		"a server's certificate":    {&tls.Config{Certificates: []tls.Certificate{a.issue(&x509.Certificate{Subject: pkix.Name{CommonName: "x"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})}}, false},
		"TLS 1.1":                   {&tls.Config{Certificates: []tls.Certificate{old}, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}, false},
		"TLS 1.2":                   {&tls.Config{Certificates: []tls.Certificate{lab}, MaxVersion: tls.VersionTLS12}, true},
		"name in another extension": {&tls.Config{Certificates: []tls.Certificate{a.issue(client(&x509.Certificate{DNSNames: []string{"alt.example"}}))}}, true},
	} {
		t.Run(name, func(t *testing.T) {
			tc.conf.RootCAs = a.pool()
			tc.conf.ServerName = "localhost"
			// In TLS 1.3 a refused certificate shows at the first read.
			code := func() string {
				nc, err := tls.Dial("tcp", l.addr, tc.conf)
				if err != nil {
					return ""
				}
				c := newLine(t, nc)
				if _, err := c.Write(frame(message(t, d01))); err != nil {
					return ""
				}
				if _, err := c.r.ReadString(0x1C); err != nil {
					return ""
				}
				return "answered"
			}()
			if (code != "") != tc.ok {
				t.Errorf("answered: %q, want %v", code, tc.ok)
			}
		})
	}
	// A sender that does not speak TLS gets no answer.
	plain := l.dial()
	plain.send(frame(message(t, d01)))
	if raw, _ := plain.r.ReadString(0x1C); strings.Contains(raw, "MSA") {
		t.Errorf("%q", raw)
	}
	if got := l.counts(); got != "map[duplicate:2 opened:1] 0 waiting" {
		t.Error(got)
	}
	err := l.db.View(context.Background(), func(r cases.Reader) error {
		docs, err := r.ReceivedLast(5)
		if len(docs) != 1 || !strings.HasSuffix(docs[0].Sender, ".example") {
			t.Errorf("%+v", docs)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestWrongAuthorityOfTheServer: a sender that trusts another authority refuses it.
func TestWrongAuthorityOfTheServer(t *testing.T) {
	l := listen(t, intake.Settings{}, secure(t, newAuthority(t)))
	other := newAuthority(t)
	if c, err := tls.Dial("tcp", l.addr, &tls.Config{RootCAs: other.pool(), ServerName: "localhost"}); err == nil {
		c.Close()
		t.Error("the server was trusted")
	}
}

// TestStrangersTakeNoPlace: connections without a handshake do not keep senders out.
func TestStrangersTakeNoPlace(t *testing.T) {
	a := newAuthority(t)
	tlsOn := secure(t, a)
	l := listen(t, intake.Settings{}, func(o *mllp.Options) { tlsOn(o); o.MaxConns, o.Frame = 4, 200*time.Millisecond })
	for range 4 {
		l.dial() // says nothing
	}
	lab := a.issue(&x509.Certificate{Subject: pkix.Name{CommonName: "lab.example"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}})
	l.waitFor("a place", func() bool {
		nc, err := tls.Dial("tcp", l.addr, &tls.Config{RootCAs: a.pool(), ServerName: "localhost", Certificates: []tls.Certificate{lab}})
		if err != nil {
			return false
		}
		c := newLine(t, nc)
		if _, err := c.Write(frame(message(t, d01))); err != nil {
			return false
		}
		_, err = c.r.ReadByte()
		return err == nil
	})
}

// TestRefusedSetUps: no plain listener that other machines can reach, and no TLS
// without an authority of the senders.
func TestRefusedSetUps(t *testing.T) {
	receive := func(context.Context, intake.Document) (intake.Result, error) { return intake.Result{}, nil }
	for name, o := range map[string]mllp.Options{
		"loopback only": {Addr: "0.0.0.0:0", Receive: receive},
		"authority":     {Addr: "127.0.0.1:0", Receive: receive, TLS: &tls.Config{}},
		"Receive":       {Addr: "127.0.0.1:0"},
		"listened":      {Addr: "256.0.0.1:0", Receive: receive},
	} {
		if _, err := mllp.New(o); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	ln, err := net.Listen("tcp", "0.0.0.0:0")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := mllp.New(mllp.Options{Listener: ln, Receive: receive}); err == nil {
		t.Error("an open plain listener was taken")
	}
	if _, err := mllp.LoadTLS("no.pem", "no.pem", "no.pem"); err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Error(err)
	}
}
