package openid

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"net/http"
	"strings"
)

// maxAnswer bounds what the service may answer, in bytes.
const maxAnswer = 1 << 20

// client asks the service, with bounds on time and size. It follows no redirect: what
// is sent holds the program's secret.
func client(roots *x509.CertPool) *http.Client {
	t := http.DefaultTransport.(*http.Transport).Clone()
	t.TLSClientConfig = &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: roots}
	t.MaxResponseHeaderBytes = 64 << 10
	return &http.Client{Timeout: stepLimit, Transport: bounded{t}, CheckRedirect: func(*http.Request, []*http.Request) error {
		return errors.New("it redirects, which is not followed")
	}}
}

// bounded cuts long answers off.
type bounded struct{ next http.RoundTripper }

// RoundTrip sends a request on.
func (b bounded) RoundTrip(r *http.Request) (*http.Response, error) {
	res, err := b.next.RoundTrip(r)
	if err == nil {
		res.Body = http.MaxBytesReader(nil, res.Body, maxAnswer)
	}
	return res, err
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// brief is an error for the log, at most 300 characters on one line.
func brief(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	if r := []rune(text); len(r) > 300 {
		text = string(r[:300])
	}
	return text
}
