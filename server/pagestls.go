package main

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"os"
	"sync"
	"time"
)

// pagesCert is the certificate of the pages. It is read again when its file changes,
// so that a renewed one counts without a restart.
type pagesCert struct {
	cert, key string // paths
	mu        sync.Mutex
	pair      *tls.Certificate
	changed   time.Time // of the file that was read
}

// certWarning is how long before its end a certificate is warned of.
const certWarning = 30 * 24 * time.Hour

// pagesTLS reads the certificate of the pages; nil where none is set. One that cannot
// be read or does not count now is refused, since browsers would refuse it too.
func (c *config) pagesTLS(now time.Time) (*pagesCert, error) {
	if c.TLSCert == "" {
		return nil, nil
	}
	p := &pagesCert{cert: c.TLSCert, key: c.TLSKey}
	if err := p.read(); err != nil {
		return nil, err
	}
	leaf := p.pair.Leaf
	switch {
	case now.After(leaf.NotAfter):
		return nil, fmt.Errorf("the certificate %s (tls_cert) ended on %s: browsers would refuse the pages. Put a new certificate and its key there and start again; nothing was changed",
			p.cert, day(leaf.NotAfter, c.zone))
	case now.Before(leaf.NotBefore):
		return nil, fmt.Errorf("the certificate %s (tls_cert) counts from %s on only: look at the clock of this machine (%s) or at the certificate; nothing was changed",
			p.cert, day(leaf.NotBefore, c.zone), now.In(c.zone).Format("2 Jan 2006, 15:04"))
	}
	return p, nil
}

func day(t time.Time, zone *time.Location) string { return t.In(zone).Format("2 Jan 2006") }

// read reads both files; what was read before stays when they cannot be read.
func (p *pagesCert) read() error {
	info, err := os.Stat(p.cert)
	if err != nil {
		return fmt.Errorf("the certificate of the pages (tls_cert) cannot be read: %w", err)
	}
	pair, err := tls.LoadX509KeyPair(p.cert, p.key)
	if err != nil {
		return fmt.Errorf("the certificate of the pages cannot be used (tls_cert %s, tls_key %s): %w", p.cert, p.key, err)
	}
	if pair.Leaf == nil {
		if pair.Leaf, err = x509.ParseCertificate(pair.Certificate[0]); err != nil {
			return fmt.Errorf("the certificate of the pages (tls_cert %s): %w", p.cert, err)
		}
	}
	p.pair, p.changed = &pair, info.ModTime()
	return nil
}

// current is the certificate as its file has it now.
func (p *pagesCert) current(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if info, err := os.Stat(p.cert); err == nil && !info.ModTime().Equal(p.changed) {
		_ = p.read() // half written or without its key yet: the one before goes on
	}
	return p.pair, nil
}

// config demands TLS 1.2 (ASVS 5.0.0, 12.1.1).
func (p *pagesCert) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: p.current}
}

// warning says that the certificate ends soon; "" while it does not.
func (p *pagesCert) warning(now time.Time, zone *time.Location) string {
	if p == nil {
		return ""
	}
	pair, _ := p.current(nil)
	end := pair.Leaf.NotAfter
	switch left := end.Sub(now); {
	case left <= 0:
		return fmt.Sprintf("The certificate of the pages ended on %s. Browsers refuse the pages until a new one lies at %s.", day(end, zone), p.cert)
	case left < certWarning:
		return fmt.Sprintf("The certificate of the pages ends on %s. Put a new one at %s before that day; no restart is needed.", day(end, zone), p.cert)
	}
	return ""
}
