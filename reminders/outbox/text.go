package outbox

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"strings"
	"sync/atomic"
	"time"

	"dunlin/cases"
)

// Webhook hands text messages to a service of the program's choice: one POST of JSON
// for each message, with a key in the heading Authorization. The service answers 2xx
// when it took the message, 408, 425, 429 or 503 when it is to be asked again later, any
// other 4xx when it never will. Every other answer, and none, leaves the message
// uncertain. The address must be https, but for a service on this machine.
type Webhook struct {
	URL     string
	Key     func() (string, error) // read anew each time; nil sends none
	RootCAs *x509.CertPool         // nil is the system's
	Timeout time.Duration          // 0 means 20 s
}

// TextMessage is the body of the request.
type TextMessage struct {
	ID       string `json:"id"` // of this attempt: letter-NUMBER.ATTEMPT
	To       string `json:"to"` // digits, with a leading + where the number has one
	Text     string `json:"text"`
	Language string `json:"language,omitempty"`
}

func textOf(p Parcel) TextMessage {
	return TextMessage{ID: fmt.Sprintf("%s.%d", cases.LetterEnvelopeID(p.Number), p.Attempt), To: cases.TextNumber(p.To), Text: p.Body, Language: p.Language}
}

// CheckURL refuses an address over which texts would cross a network in the clear.
func (h *Webhook) CheckURL() error {
	u, err := url.Parse(h.URL)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.Fragment != "":
		return fmt.Errorf("%q is not an address like https://texts.example.org/send", cases.Printable(h.URL))
	case u.Scheme == "https", u.Scheme == "http" && here(u.Hostname()):
		return nil
	}
	return errors.New("the address must begin with https://, so that nobody reads along")
}

func here(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Send posts one message.
func (h *Webhook) Send(ctx context.Context, p Parcel) error {
	if err := h.CheckURL(); err != nil {
		return err
	}
	if err := p.Check(); err != nil {
		return &Refused{Permanent: true, Text: err.Error()}
	}
	body, err := json.Marshal(textOf(p))
	if err != nil {
		return err
	}
	timeout := h.Timeout
	if timeout <= 0 {
		timeout = usualTimeout
	}
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	var handed atomic.Bool // something of the request may have left
	ctx = httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{GotConn: func(httptrace.GotConnInfo) { handed.Store(true) }})
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, h.URL, bytes.NewReader(body))
	if err != nil {
		return err
	}
	req.GetBody = nil // the library must not send it again by itself
	req.Header.Set("Content-Type", "application/json")
	if err := h.authorize(req); err != nil {
		return err
	}
	res, err := h.client().Do(req)
	switch {
	case err != nil && handed.Load():
		return &Unsure{plain(err)}
	case err != nil:
		return fmt.Errorf("the text service cannot be reached: %w", plain(err))
	}
	defer res.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(res.Body, 300))
	return verdict(res.StatusCode, string(said))
}

// plain is an error of the library without the address, whose query may hold a secret.
func plain(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

func (h *Webhook) authorize(req *http.Request) error {
	if h.Key == nil {
		return nil
	}
	key, err := h.Key()
	if err != nil {
		return err
	}
	if strings.ContainsFunc(key, func(r rune) bool { return r < '!' || r > '~' }) {
		return errors.New("the key of the text service holds a space or a sign that a heading cannot carry")
	}
	req.Header.Set("Authorization", "Bearer "+key)
	return nil
}

// client makes a client for one message: no connection is kept, none is used twice, and
// no answer sends the key elsewhere.
func (h *Webhook) client() *http.Client {
	return &http.Client{
		Transport:     &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: h.RootCAs}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// verdict reads the answer of the service.
func verdict(code int, said string) error {
	no := &Refused{Code: code, Text: cases.Printable(strings.TrimSpace(said))}
	switch {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusRequestTimeout, code == http.StatusTooEarly, code == http.StatusTooManyRequests, code == http.StatusServiceUnavailable,
		code == http.StatusUnauthorized, code == http.StatusForbidden, code >= 300 && code < 400: // key and address are mended by people
		return no
	case code >= 400 && code < 500:
		no.Permanent = true
		return no
	}
	return &Unsure{no}
}
