package mllp

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"unicode"
)

// LoadTLS reads the server's certificate and key, and the certificates of the
// authority that signs the senders' certificates, all PEM files.
func LoadTLS(certFile, keyFile, clientCAFile string) (*tls.Config, error) {
	cert, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		return nil, fmt.Errorf("the certificate of the HL7 listener cannot be read: %w", err)
	}
	pem, err := os.ReadFile(clientCAFile)
	if err != nil {
		return nil, fmt.Errorf("the authority of the senders' certificates cannot be read: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("%s holds no certificate (PEM) of an authority", clientCAFile)
	}
	return &tls.Config{Certificates: []tls.Certificate{cert}, ClientCAs: pool}, nil
}

// strict gives a copy that demands TLS 1.2 and a client certificate.
func strict(c *tls.Config) (*tls.Config, error) {
	if c.ClientCAs == nil {
		return nil, errors.New("the HL7 listener needs the authority that signs the senders' certificates")
	}
	c = c.Clone()
	c.MinVersion = max(c.MinVersion, tls.VersionTLS12)
	c.SessionTicketsDisabled = true // each connection shows its certificate
	c.ClientAuth = tls.RequireAndVerifyClientCert
	return c, nil
}

// loopback tells whether an address reaches no other machine.
func loopback(a net.Addr) bool {
	switch t := a.(type) {
	case *net.TCPAddr:
		return t.IP.IsLoopback()
	case *net.UnixAddr:
		return true
	}
	return false
}

// certName is who a certificate names: its common name, else its first alternative
// name, else its number.
func certName(c *x509.Certificate) string {
	names := []string{c.Subject.CommonName}
	names = append(append(names, c.DNSNames...), c.EmailAddresses...)
	for _, u := range c.URIs {
		names = append(names, u.String())
	}
	for _, n := range append(names, "certificate "+c.SerialNumber.Text(16)) {
		n = strings.TrimSpace(strings.Map(func(r rune) rune {
			if !unicode.IsPrint(r) {
				return -1
			}
			return r
		}, n))
		if r := []rune(n); len(r) > 100 {
			n = string(r[:100])
		}
		if n != "" {
			return n
		}
	}
	return ""
}
