package openid

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"
)

// Settings say which service is used, and as whom.
type Settings struct {
	Issuer    string                 // https address, exactly as the service names itself
	ClientID  string                 // what the service calls this program
	Secret    func() (string, error) // read anew for each sign-in
	Redirect  string                 // address of this program that the service sends people back to
	Name      string                 // of the service, for people
	SecondACR []string               // values of acr (OpenID Connect Core 2) that stand for two factors
	Roots     *x509.CertPool         // whom to trust; nil is the system's list
	Now       func() time.Time       // time.Now when nil
	Log       *slog.Logger           // nil logs nothing
}

// Service is a sign-in service.
type Service struct {
	Settings
	client *http.Client
	asking chan struct{} // held while the service is asked what it offers
	work   chan struct{} // bounds the sign-ins that are being ended

	mu     sync.Mutex
	known  *offer
	renew  time.Time // when to ask anew what it offers
	failed time.Time // when asking last failed
}

// offer is what the service says about itself.
type offer struct {
	provider *oidc.Provider
	endpoint oauth2.Endpoint
	end      string // address at which its own session ends; may be ""
	issues   bool   // it names itself in what it sends back (RFC 9207)
}

// Times and bounds of asking the service.
const (
	keepOffer    = time.Hour
	askAgain     = 10 * time.Second // after a failure, so that nobody waits for the same fault
	troubleFor   = time.Minute
	asksTogether = 4
	stepLimit    = 5 * time.Second
	wholeLimit   = 8 * time.Second
)

// New makes the Service; it asks nothing of the network.
func New(s Settings) (*Service, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if s.Now == nil {
		s.Now = time.Now
	}
	if s.Log == nil {
		s.Log = slog.New(slog.DiscardHandler)
	}
	return &Service{Settings: s, client: client(s.Roots), asking: make(chan struct{}, 1), work: make(chan struct{}, asksTogether)}, nil
}

// Check finds what is wrong with the settings; the errors name the fields of the
// settings file.
func (s *Settings) Check() error {
	var errs []error
	if err := safe(s.Issuer); err != nil {
		errs = append(errs, fmt.Errorf("oidc.issuer %q %w", s.Issuer, err))
	}
	if err := safe(s.Redirect); err != nil {
		errs = append(errs, fmt.Errorf("oidc.redirect %q %w", s.Redirect, err))
	}
	if s.ClientID == "" {
		errs = append(errs, errors.New("oidc.client_id is missing: the service gives it when this program is registered there"))
	}
	if s.Secret == nil {
		errs = append(errs, errors.New("oidc.client_secret_file is missing: name the file that holds the secret which the service gave"))
	}
	if s.Name == "" {
		errs = append(errs, errors.New("oidc.name is missing: it stands on the sign-in page, like City hospital account"))
	}
	return errors.Join(errs...)
}

// safe demands https, or http on this machine.
func safe(address string) error {
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.Fragment != "":
		return errors.New("must be a full address, like https://signin.example.org")
	case u.Scheme == "https", u.Scheme == "http" && loopback(u.Hostname()):
		return nil
	}
	return errors.New("must begin with https://")
}

// offer asks the service what it offers, at most once an hour. While it cannot be asked
// anew, what it said before holds.
func (s *Service) offer(ctx context.Context) (*offer, error) {
	select {
	case s.asking <- struct{}{}:
		defer func() { <-s.asking }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	now := s.Now()
	s.mu.Lock()
	known, fresh, failed := s.known, now.Before(s.renew), now.Sub(s.failed) < askAgain
	s.mu.Unlock()
	switch {
	case known != nil && (fresh || failed):
		return known, nil
	case failed:
		return nil, errors.New("it did not answer a moment ago")
	}
	found, err := s.discover(ctx)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		if ctx.Err() == nil || errors.Is(ctx.Err(), context.DeadlineExceeded) { // else the person went away
			s.failed = now
		}
		if known != nil {
			s.Log.Warn("sign-in service says nothing new about itself", "err", brief(err))
			return known, nil
		}
		return nil, err
	}
	s.known, s.renew, s.failed = found, now.Add(keepOffer), time.Time{}
	return found, nil
}

func (s *Service) discover(ctx context.Context) (*offer, error) {
	p, err := oidc.NewProvider(oidc.ClientContext(ctx, s.client), s.Issuer)
	if err != nil {
		return nil, err
	}
	var more struct {
		End     string   `json:"end_session_endpoint"`
		Issues  bool     `json:"authorization_response_iss_parameter_supported"`
		Methods []string `json:"token_endpoint_auth_methods_supported"`
		Keys    string   `json:"jwks_uri"`
	}
	if err := p.Claims(&more); err != nil {
		return nil, err
	}
	o := &offer{provider: p, endpoint: p.Endpoint(), issues: more.Issues}
	for what, address := range map[string]string{"authorization_endpoint": o.endpoint.AuthURL, "token_endpoint": o.endpoint.TokenURL, "jwks_uri": more.Keys} {
		if err := safe(address); err != nil {
			return nil, fmt.Errorf("its %s %w", what, err)
		}
	}
	// Without a list, HTTP Basic is the way (OpenID Connect Discovery 1.0, section 3).
	o.endpoint.AuthStyle = oauth2.AuthStyleInHeader
	if len(more.Methods) > 0 && !slices.Contains(more.Methods, "client_secret_basic") {
		o.endpoint.AuthStyle = oauth2.AuthStyleInParams
	}
	if safe(more.End) == nil {
		o.end = more.End
	}
	return o, nil
}

// Title is the name of the service, for people.
func (s *Service) Title() string { return s.Name }

// Trouble tells whether the service did not answer within the last minute.
func (s *Service) Trouble() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return !s.failed.IsZero() && s.Now().Sub(s.failed) < troubleFor
}

// EndSession is the address at which a person ends the session of the service itself;
// "" when it offers none or was not asked yet. It names the program and no person.
func (s *Service) EndSession() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil || s.known.end == "" {
		return ""
	}
	u, err := url.Parse(s.known.end)
	if err != nil {
		return ""
	}
	q := u.Query()
	q.Set("client_id", s.ClientID) // OpenID Connect RP-Initiated Logout 1.0, section 2
	u.RawQuery = q.Encode()
	return u.String()
}
