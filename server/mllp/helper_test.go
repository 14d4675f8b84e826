package mllp_test

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/store"
	"dunlin/server/mllp"
)

// today is after all made-up messages were sent.
var today = time.Date(2026, 3, 30, 9, 0, 0, 0, time.UTC)

var sender = cases.Actor{ID: "interface", Name: "Interface", Role: cases.System, Via: "interface"}

// listener is a server over a real store with its queue.
type listener struct {
	t    testing.TB
	db   *store.DB
	addr string
	log  *lockedLog

	mu    sync.Mutex
	fail  error // what Receive answers instead
	hold  chan struct{}
	stop  func() error // ends the server and waits for it
	close func()       // stops and closes the store
}

type lockedLog struct {
	mu sync.Mutex
	b  strings.Builder
}

func (l *lockedLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func listen(t testing.TB, set intake.Settings, change func(*mllp.Options)) *listener {
	t.Helper()
	return listenOn(t, filepath.Join(t.TempDir(), "test.db"), 0, set, change)
}

// listenOn serves the store of a file that may have so many bytes, 0 for any number.
func listenOn(t testing.TB, path string, limit int64, set intake.Settings, change func(*mllp.Options)) *listener {
	t.Helper()
	db, err := store.Open(path, store.Options{Now: func() time.Time { return today }, MaxSize: limit})
	if err != nil {
		t.Fatal(err)
	}
	l := &listener{t: t, db: db, log: &lockedLog{}}
	q := intake.NewQueue(intake.New(db, nil, set, hl7.Format{}), intake.QueueLimits{})
	o := mllp.Options{Addr: "127.0.0.1:0", Live: set.Live, Now: func() time.Time { return today }, Log: slog.New(slog.NewTextHandler(l.log, nil)),
		Receive: func(ctx context.Context, d intake.Document) (intake.Result, error) {
			l.mu.Lock()
			fail, hold := l.fail, l.hold
			l.mu.Unlock()
			if hold != nil {
				<-hold
			}
			if fail != nil {
				return intake.Result{}, fail
			}
			return q.Receive(ctx, sender, d)
		}}
	if change != nil {
		change(&o)
	}
	s, err := mllp.New(o)
	if err != nil {
		t.Fatal(err)
	}
	l.addr = s.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	l.stop = sync.OnceValue(func() error {
		cancel()
		return <-ended
	})
	l.close = sync.OnceFunc(func() {
		if err := l.stop(); err != nil {
			t.Error(err)
		}
		q.Stop()
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(l.close)
	return l
}

func (l *listener) set(fail error, hold chan struct{}) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fail, l.hold = fail, hold
}

// line is a sender's end of a connection.
type line struct {
	net.Conn
	t testing.TB
	r *bufio.Reader
}

func (l *listener) dial() *line {
	l.t.Helper()
	c, err := net.Dial("tcp", l.addr)
	if err != nil {
		l.t.Fatal(err)
	}
	return newLine(l.t, c)
}

func newLine(t testing.TB, c net.Conn) *line {
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	return &line{c, t, bufio.NewReader(c)}
}

func (l *line) send(b ...[]byte) {
	l.t.Helper()
	for _, p := range b {
		if _, err := l.Write(p); err != nil {
			l.t.Fatal(err)
		}
	}
}

// answer reads one answer and gives MSA-1 and MSA-2 of it.
func (l *line) answer() (code, id string) {
	l.t.Helper()
	raw, err := l.r.ReadString(0x1C)
	if err != nil {
		l.t.Fatalf("no answer: %v", err)
	}
	if c, err := l.r.ReadByte(); err != nil || c != '\r' || raw[0] != 0x0B {
		l.t.Fatalf("%q, then %q, %v", raw, c, err)
	}
	m := hl7.Parse([]byte(raw)).Messages[0]
	if len(m.Segments) < 2 || m.Segments[1].Name != "MSA" {
		l.t.Fatalf("%q", raw)
	}
	return m.Segments[1].Field(1).Text(), m.Segments[1].Field(2).Text()
}

func (l *line) wants(code, id string) {
	l.t.Helper()
	if c, i := l.answer(); c != code || i != id {
		l.t.Errorf("answer %s %s, want %s %s", c, i, code, id)
	}
}

// ends fails unless the connection is closed without an answer.
func (l *line) ends() {
	l.t.Helper()
	if b, err := l.r.ReadByte(); err == nil || errors.Is(err, os.ErrDeadlineExceeded) {
		l.t.Errorf("read %q, %v; want the end", b, err)
	}
}

// counts gives the store's items by outcome, and how many wait.
func (l *listener) counts() string {
	l.t.Helper()
	s := ""
	err := l.db.View(context.Background(), func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		if err != nil {
			return err
		}
		waiting, err := r.ItemsWaiting()
		s = fmt.Sprint(counts, " ", len(waiting), " waiting")
		return err
	})
	if err != nil {
		l.t.Fatal(err)
	}
	return s
}

func (l *listener) waitFor(what string, f func() bool) {
	l.t.Helper()
	for range 4000 {
		if f() {
			return
		}
		time.Sleep(2 * time.Millisecond)
	}
	l.t.Fatalf("waited in vain for %s; log:\n%s", what, l.log)
}

func message(t testing.TB, file string, pairs ...string) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("../../cases/intake/hl7/testdata", filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	return []byte(strings.NewReplacer(pairs...).Replace(string(raw)))
}

const d01 = "messages/d01-nbs-cf-two-variants.hl7"

func frame(b []byte) []byte {
	return append(append([]byte{0x0B}, b...), 0x1C, '\r')
}

// authority makes certificates for a test.
type authority struct {
	t    testing.TB
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	raw  []byte
}

func newAuthority(t testing.TB) *authority {
	t.Helper()
	a := &authority{t: t}
	a.cert, a.key, a.raw = a.make(&x509.Certificate{Subject: pkix.Name{CommonName: "Test authority"}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign})
	return a
}

func (a *authority) make(c *x509.Certificate) (*x509.Certificate, *ecdsa.PrivateKey, []byte) {
	a.t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	c.SerialNumber, c.NotBefore, c.NotAfter = big.NewInt(time.Now().UnixNano()), time.Now().Add(-time.Hour), time.Now().Add(time.Hour)
	parent, signer := a.cert, a.key
	if parent == nil {
		parent, signer = c, key
	}
	raw, err := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	made, err := x509.ParseCertificate(raw)
	if err != nil {
		a.t.Fatal(err)
	}
	return made, key, raw
}

func (a *authority) issue(c *x509.Certificate) tls.Certificate {
	a.t.Helper()
	_, key, raw := a.make(c)
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}
}

func (a *authority) pool() *x509.CertPool {
	p := x509.NewCertPool()
	p.AddCert(a.cert)
	return p
}

// files writes the server's certificate and key and the authority as PEM files.
func (a *authority) files() (cert, key, ca string) {
	a.t.Helper()
	c := a.issue(&x509.Certificate{Subject: pkix.Name{CommonName: "localhost"}, DNSNames: []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}})
	k, err := x509.MarshalECPrivateKey(c.PrivateKey.(*ecdsa.PrivateKey))
	if err != nil {
		a.t.Fatal(err)
	}
	dir := a.t.TempDir()
	write := func(name, kind string, raw []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: raw}), 0o600); err != nil {
			a.t.Fatal(err)
		}
		return p
	}
	return write("cert.pem", "CERTIFICATE", c.Certificate[0]), write("key.pem", "EC PRIVATE KEY", k), write("ca.pem", "CERTIFICATE", a.raw)
}
