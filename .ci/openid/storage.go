package main

import (
	"context"
	"crypto/rand"
	"crypto/rsa"
	"crypto/subtle"
	"errors"
	"slices"
	"sync"
	"time"

	"github.com/go-jose/go-jose/v4"
	"github.com/zitadel/oidc/v3/pkg/oidc"
	"github.com/zitadel/oidc/v3/pkg/op"
)

// person is somebody whom the service knows.
type person struct {
	Sub      string   `json:"sub"`
	Email    string   `json:"email"`
	Verified bool     `json:"verified"`
	AMR      []string `json:"amr"`
	ACR      string   `json:"acr"`
}

// storage keeps everything in memory.
type storage struct {
	client client
	key    key

	mu       sync.Mutex
	people   []person
	fault    string
	requests map[string]*request
	codes    map[string]string
	tokens   map[string]string // who a token is about
}

func newStorage(c client) (*storage, error) {
	k, err := rsa.GenerateKey(rand.Reader, 2048)
	return &storage{client: c, key: key{"one", k}, requests: map[string]*request{}, codes: map[string]string{}, tokens: map[string]string{}}, err
}

var errNone = errors.New("there is none such")

func (s *storage) request(id string) *request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.requests[id]
}

func (s *storage) find(sub string) (person, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.IndexFunc(s.people, func(p person) bool { return p.Sub == sub })
	if i < 0 {
		return person{}, false
	}
	return s.people[i], true
}

// choose makes a request that of a person, with the fault planted now.
func (s *storage) choose(q *request, who string) bool {
	p, ok := s.find(who)
	s.mu.Lock()
	defer s.mu.Unlock()
	q.who, q.at, q.fault = p, time.Now(), s.fault
	return ok
}

func (s *storage) CreateAuthRequest(_ context.Context, a *oidc.AuthRequest, _ string) (op.AuthRequest, error) {
	q := &request{AuthRequest: *a, ID: rand.Text()}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.requests[q.ID] = q
	return q, nil
}

func (s *storage) AuthRequestByID(_ context.Context, id string) (op.AuthRequest, error) {
	if q := s.request(id); q != nil {
		return q, nil
	}
	return nil, errNone
}

func (s *storage) AuthRequestByCode(ctx context.Context, code string) (op.AuthRequest, error) {
	s.mu.Lock()
	id := s.codes[code]
	s.mu.Unlock()
	return s.AuthRequestByID(ctx, id)
}

func (s *storage) SaveAuthCode(_ context.Context, id, code string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.codes[code] = id
	return nil
}

func (s *storage) DeleteAuthRequest(_ context.Context, id string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.requests, id)
	return nil
}

func (s *storage) CreateAccessToken(_ context.Context, r op.TokenRequest) (string, time.Time, error) {
	id := rand.Text()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tokens[id] = r.GetSubject()
	if q, ok := r.(*request); ok && q.fault == "audience" { // the ID token is made next
		q.ClientID = "another-program"
	}
	return id, time.Now().Add(5 * time.Minute), nil
}

func (s *storage) SetUserinfoFromScopes(context.Context, *oidc.UserInfo, string, string, []string) error {
	return nil
}

// SetUserinfoFromRequest fills an ID token.
func (s *storage) SetUserinfoFromRequest(_ context.Context, u *oidc.UserInfo, r op.IDTokenRequest, scopes []string) error {
	if q, ok := r.(*request); ok && q.fault == "userinfo" {
		scopes = nil
	}
	return s.tell(u, r.GetSubject(), scopes)
}

// SetUserinfoFromToken fills the answer of the UserInfo endpoint.
func (s *storage) SetUserinfoFromToken(_ context.Context, u *oidc.UserInfo, token, _, _ string) error {
	s.mu.Lock()
	sub := s.tokens[token]
	s.mu.Unlock()
	return s.tell(u, sub, []string{oidc.ScopeEmail})
}

func (s *storage) tell(u *oidc.UserInfo, sub string, scopes []string) error {
	p, ok := s.find(sub)
	if !ok {
		return errNone
	}
	u.Subject = p.Sub
	if slices.Contains(scopes, oidc.ScopeEmail) {
		u.Email, u.EmailVerified = p.Email, oidc.Bool(p.Verified)
	}
	return nil
}

func (s *storage) GetClientByClientID(_ context.Context, id string) (op.Client, error) {
	if id != s.client.id {
		return nil, errNone
	}
	c := s.client
	s.mu.Lock()
	defer s.mu.Unlock()
	c.expired = s.fault == "expired"
	return c, nil
}

func (s *storage) AuthorizeClientIDSecret(_ context.Context, id, secret string) error {
	if id != s.client.id || subtle.ConstantTimeCompare([]byte(secret), []byte(s.client.secret)) != 1 {
		return errNone
	}
	return nil
}

func (s *storage) SigningKey(context.Context) (op.SigningKey, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fault == "key" { // one that the service does not publish
		k, err := rsa.GenerateKey(rand.Reader, 2048)
		return key{"one", k}, err
	}
	return s.key, nil
}

func (s *storage) SignatureAlgorithms(context.Context) ([]jose.SignatureAlgorithm, error) {
	return []jose.SignatureAlgorithm{jose.RS256}, nil
}

func (s *storage) KeySet(context.Context) ([]op.Key, error) { return []op.Key{public{s.key}}, nil }

func (s *storage) TerminateSession(context.Context, string, string) error { return nil }

// What the tests do not ask for.

func (s *storage) CreateAccessAndRefreshTokens(context.Context, op.TokenRequest, string) (string, string, time.Time, error) {
	return "", "", time.Time{}, errNone
}

func (s *storage) TokenRequestByRefreshToken(context.Context, string) (op.RefreshTokenRequest, error) {
	return nil, errNone
}

func (s *storage) RevokeToken(context.Context, string, string, string) *oidc.Error { return nil }

func (s *storage) GetRefreshTokenInfo(context.Context, string, string) (string, string, error) {
	return "", "", op.ErrInvalidRefreshToken
}

func (s *storage) SetIntrospectionFromToken(context.Context, *oidc.IntrospectionResponse, string, string, string) error {
	return errNone
}

func (s *storage) GetPrivateClaimsFromScopes(context.Context, string, string, []string) (map[string]any, error) {
	return nil, nil
}

func (s *storage) GetKeyByIDAndClientID(context.Context, string, string) (*jose.JSONWebKey, error) {
	return nil, errNone
}

func (s *storage) ValidateJWTProfileScopes(_ context.Context, _ string, scopes []string) ([]string, error) {
	return scopes, nil
}
