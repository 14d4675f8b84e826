package openid

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"time"

	"dunlin/cases"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"
)

// ticketFor is how long a person may take at the service.
const ticketFor = 10 * time.Minute

// ErrDown marks the errors of a service that does not answer.
var ErrDown = errors.New("openid: the service does not answer")

// ticket is what is remembered of a sign-in that has begun.
type ticket struct {
	State    string    `json:"state"`
	Nonce    string    `json:"nonce"`
	Verifier string    `json:"verifier"`
	Began    time.Time `json:"began"`
	Again    bool      `json:"again,omitempty"`
}

// Begin gives the address of the service to send a person to, and a ticket to keep in
// that person's session until they come back; a ticket is good once. Again asks the
// service to let the person show their password anew. The error has a text for people
// and is ErrDown too.
func (s *Service) Begin(ctx context.Context, again bool) (address, kept string, err error) {
	ctx, cancel := context.WithTimeout(ctx, stepLimit)
	defer cancel()
	o, err := s.offer(ctx)
	if err != nil {
		return "", "", s.down(err)
	}
	t := ticket{State: rand.Text(), Nonce: rand.Text(), Verifier: oauth2.GenerateVerifier(), Began: s.Now().UTC(), Again: again}
	more := []oauth2.AuthCodeOption{oidc.Nonce(t.Nonce), oauth2.S256ChallengeOption(t.Verifier)}
	if again { // OpenID Connect Core 3.1.2.1
		more = append(more, oauth2.SetAuthURLParam("prompt", "login"), oauth2.SetAuthURLParam("max_age", "0"))
	}
	data, err := json.Marshal(t)
	return s.config(o, "").AuthCodeURL(t.State, more...), string(data), err
}

func (s *Service) config(o *offer, secret string) *oauth2.Config {
	return &oauth2.Config{ClientID: s.ClientID, ClientSecret: secret, Endpoint: o.endpoint, RedirectURL: s.Redirect, Scopes: []string{oidc.ScopeOpenID, "email"}}
}

// Finish reads what a person brings back from the service, with the ticket of their
// session, and gives who the service says they are. Errors have a text for people;
// those of a service that does not answer are ErrDown too.
func (s *Service) Finish(ctx context.Context, kept string, back url.Values) (Person, error) {
	t, err := s.open(kept, back)
	if err != nil {
		return Person{}, err
	}
	ctx, cancel := context.WithTimeout(ctx, wholeLimit)
	defer cancel()
	select {
	case s.work <- struct{}{}:
		defer func() { <-s.work }()
	case <-ctx.Done():
		return Person{}, s.down(ctx.Err())
	}
	o, err := s.offer(ctx)
	if err != nil {
		return Person{}, s.down(err)
	}
	if err := s.answer(o, back); err != nil {
		return Person{}, err
	}
	token, err := s.exchange(ctx, o, t, back.Get("code"))
	if err != nil {
		return Person{}, err
	}
	return s.person(ctx, o, t, token)
}

// open reads the ticket and compares it with what came back.
func (s *Service) open(kept string, back url.Values) (t ticket, err error) {
	stale := cases.Errorf(cases.Refused, "This sign-in was not begun in this browser, or it was used, or more than 10 minutes have passed. Begin again")
	if kept == "" || json.Unmarshal([]byte(kept), &t) != nil || t.State == "" {
		return t, stale
	}
	if age := s.Now().Sub(t.Began); age < 0 || age > ticketFor || len(back["state"]) != 1 ||
		subtle.ConstantTimeCompare([]byte(t.State), []byte(back.Get("state"))) != 1 {
		return t, stale
	}
	return t, nil
}

var codeForm = regexp.MustCompile(`^[a-z_]{1,40}$`)

// answer tells whether the service let the person in.
func (s *Service) answer(o *offer, back url.Values) error {
	if iss := back["iss"]; len(iss) > 0 && iss[0] != s.Issuer || len(iss) == 0 && o.issues {
		return s.refused("the answer names another issuer")
	}
	if code := back.Get("error"); code != "" {
		if code == "access_denied" {
			return cases.Errorf(cases.Refused, "%s did not let you in, or you stopped there. Begin again, or sign in with your password", s.Name)
		}
		if !codeForm.MatchString(code) {
			code = "an error without a proper code"
		}
		return s.refused("the service answers " + code)
	}
	if len(back["code"]) != 1 || back.Get("code") == "" {
		return s.refused("the answer holds no code")
	}
	return nil
}

// exchange turns the code into tokens.
func (s *Service) exchange(ctx context.Context, o *offer, t ticket, code string) (*oauth2.Token, error) {
	secret, err := s.Secret()
	if err != nil {
		return nil, s.refused("the secret cannot be read: " + brief(err))
	}
	token, err := s.config(o, secret).Exchange(oidc.ClientContext(ctx, s.client), code, oauth2.VerifierOption(t.Verifier))
	var answered *oauth2.RetrieveError
	switch {
	case errors.As(err, &answered) && answered.Response != nil && answered.Response.StatusCode < 500:
		text := "an error without a proper code"
		if codeForm.MatchString(answered.ErrorCode) {
			text = answered.ErrorCode
		}
		return nil, s.refused(fmt.Sprintf("the code is refused: status %d, %s", answered.Response.StatusCode, text))
	case answered != nil && answered.Response != nil:
		return nil, s.down(fmt.Errorf("token endpoint: status %d", answered.Response.StatusCode))
	case err != nil:
		return nil, s.down(err)
	}
	return token, nil
}

// refused logs why and gives the one text of what is not a person's doing.
func (s *Service) refused(why string) error {
	s.Log.Warn("sign-in through the service is refused", "why", why)
	return cases.Errorf(cases.Refused, "%s could not sign you in to Dunlin. Begin again, or sign in with your password. If it stays so, tell the administrator", s.Name)
}

// down logs why and gives the text of a service that does not answer.
func (s *Service) down(why error) error {
	s.Log.Warn("the sign-in service does not answer", "err", brief(why))
	return errors.Join(ErrDown, cases.Errorf(cases.Refused, "%s does not answer just now. Sign in with your password, or try again in some minutes", s.Name))
}
