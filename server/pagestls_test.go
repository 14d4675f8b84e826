package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// certificate writes a certificate of its own making that counts for some days.
func certificate(t *testing.T, dir string, from, to time.Time) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(from.UnixNano()), Subject: pkix.Name{CommonName: "localhost"}, DNSNames: []string{"localhost"},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, NotBefore: from, NotAfter: to, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	raw, err := x509.CreateCertificate(rand.Reader, c, c, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	for path, b := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: raw}, key: {Type: "PRIVATE KEY", Bytes: private}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(b), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// A certificate that cannot be used is said when the program starts, and what to do.
func TestACertificateThatCannotBeUsedIsSaid(t *testing.T) {
	now, day := time.Now(), 24*time.Hour
	for name, c := range map[string]struct {
		from, to time.Time
		spoil    func(cert, key string) error
		want     string
	}{
		"ended":          {now.Add(-9 * day), now.Add(-day), nil, "(tls_cert) ended on"},
		"not yet":        {now.Add(day), now.Add(9 * day), nil, "look at the clock of this machine"},
		"missing":        {now.Add(-day), now.Add(day), func(cert, _ string) error { return os.Remove(cert) }, "(tls_cert) cannot be read"},
		"no certificate": {now.Add(-day), now.Add(day), func(cert, _ string) error { return os.WriteFile(cert, []byte("x"), 0o600) }, "cannot be used (tls_cert"},
		"no key":         {now.Add(-day), now.Add(day), func(_, key string) error { return os.WriteFile(key, []byte("x"), 0o600) }, "tls_key"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			cert, key := certificate(t, dir, c.from, c.to)
			if c.spoil != nil {
				if err := c.spoil(cert, key); err != nil {
					t.Fatal(err)
				}
			}
			var out, errs sharedText
			code := run(context.Background(), stdio{strings.NewReader(""), &out, &errs}, []string{"serve", "--store", filepath.Join(dir, "d.db"), "--listen", freeAddress(t), "--tls-cert", cert, "--tls-key", key})
			if code == exitOK || !strings.Contains(errs.String(), c.want) {
				t.Errorf("ended with %d, said %q, want %q", code, errs.String(), c.want)
			}
		})
	}
}

// TLS 1.1 and older are refused, 1.2 and 1.3 are not; a renewed certificate counts at
// once, and one that ends within 30 days is warned of.
//
//asvs:12.1.1
func TestPagesDemandTLS12(t *testing.T) {
	dir, now, zone := t.TempDir(), time.Now(), time.UTC
	cfg := &config{zone: zone}
	cfg.TLSCert, cfg.TLSKey = certificate(t, dir, now.Add(-time.Hour), now.Add(20*24*time.Hour))
	p, err := cfg.pagesTLS(now)
	if err != nil {
		t.Fatal(err)
	}
	if w := p.warning(now, zone); !strings.Contains(w, "ends on") {
		t.Errorf("warning %q", w)
	}
	if w := p.warning(now.Add(21*24*time.Hour), zone); !strings.Contains(w, "ended on") {
		t.Errorf("warning %q", w)
	}
	srv := httptest.NewUnstartedServer(http.NotFoundHandler())
	srv.TLS, srv.Config.ErrorLog = p.config(), silentLog()
	srv.StartTLS()
	defer srv.Close()
	for version, good := range map[uint16]bool{tls.VersionTLS10: false, tls.VersionTLS11: false, tls.VersionTLS12: true, tls.VersionTLS13: true} {
		c, err := tls.Dial("tcp", srv.Listener.Addr().String(), &tls.Config{MinVersion: version, MaxVersion: version, InsecureSkipVerify: true})
		if err == nil {
			c.Close()
		}
		if (err == nil) != good {
			t.Errorf("TLS version %x: %v", version, err)
		}
	}
	certificate(t, dir, now.Add(-time.Hour), now.Add(90*24*time.Hour))
	later := now.Add(time.Minute)
	if err := os.Chtimes(cfg.TLSCert, later, later); err != nil {
		t.Fatal(err)
	}
	if w := p.warning(now, zone); w != "" {
		t.Errorf("the renewed certificate is not read: %q", w)
	}
	var none *pagesCert
	if none.warning(now, zone) != "" {
		t.Error("a certificate that is not there is warned of")
	}
}
