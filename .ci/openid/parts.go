package main

import (
	"crypto/rsa"
	"net/url"
	"time"

	"github.com/go-jose/go-jose/v4"
	"github.com/zitadel/oidc/v3/pkg/oidc"
	"github.com/zitadel/oidc/v3/pkg/op"
)

// client is the one program that the service knows.
type client struct {
	id, secret, redirect string
	expired              bool // its ID tokens are
}

func (c client) GetID() string                       { return c.id }
func (c client) RedirectURIs() []string              { return []string{c.redirect} }
func (c client) PostLogoutRedirectURIs() []string    { return nil }
func (c client) ApplicationType() op.ApplicationType { return op.ApplicationTypeWeb }
func (c client) AuthMethod() oidc.AuthMethod         { return oidc.AuthMethodBasic }
func (c client) ResponseTypes() []oidc.ResponseType {
	return []oidc.ResponseType{oidc.ResponseTypeCode}
}
func (c client) GrantTypes() []oidc.GrantType         { return []oidc.GrantType{oidc.GrantTypeCode} }
func (c client) LoginURL(id string) string            { return "/login?id=" + url.QueryEscape(id) }
func (c client) AccessTokenType() op.AccessTokenType  { return op.AccessTokenTypeBearer }
func (c client) DevMode() bool                        { return true } // http on loopback
func (c client) IsScopeAllowed(string) bool           { return false }
func (c client) IDTokenUserinfoClaimsAssertion() bool { return true }
func (c client) ClockSkew() time.Duration             { return 0 }
func (c client) RestrictAdditionalIdTokenScopes() func([]string) []string {
	return func(s []string) []string { return s }
}
func (c client) RestrictAdditionalAccessTokenScopes() func([]string) []string {
	return func(s []string) []string { return s }
}

func (c client) IDTokenLifetime() time.Duration {
	if c.expired {
		return -time.Minute
	}
	return 5 * time.Minute
}

// request is a sign-in under way.
type request struct {
	oidc.AuthRequest
	ID    string
	who   person
	at    time.Time
	fault string
}

func (q *request) GetID() string                      { return q.ID }
func (q *request) GetACR() string                     { return q.who.ACR }
func (q *request) GetAMR() []string                   { return q.who.AMR }
func (q *request) GetAuthTime() time.Time             { return q.at }
func (q *request) GetClientID() string                { return q.ClientID }
func (q *request) GetRedirectURI() string             { return q.RedirectURI }
func (q *request) GetResponseType() oidc.ResponseType { return q.ResponseType }
func (q *request) GetResponseMode() oidc.ResponseMode { return q.ResponseMode }
func (q *request) GetScopes() []string                { return q.Scopes }
func (q *request) GetState() string                   { return q.State }
func (q *request) GetSubject() string                 { return q.who.Sub }
func (q *request) Done() bool                         { return q.who.Sub != "" }

func (q *request) GetCodeChallenge() *oidc.CodeChallenge {
	if q.CodeChallenge == "" {
		return nil
	}
	return &oidc.CodeChallenge{Challenge: q.CodeChallenge, Method: q.CodeChallengeMethod}
}

func (q *request) GetAudience() []string { return []string{q.ClientID} }

func (q *request) GetNonce() string {
	if q.fault == "nonce" {
		return "of another sign-in"
	}
	return q.Nonce
}

// key signs; public is what the service shows of it.
type key struct {
	id  string
	key *rsa.PrivateKey
}

func (k key) ID() string                                  { return k.id }
func (k key) SignatureAlgorithm() jose.SignatureAlgorithm { return jose.RS256 }
func (k key) Key() any                                    { return k.key }

type public struct{ key }

func (p public) Algorithm() jose.SignatureAlgorithm { return jose.RS256 }
func (p public) Use() string                        { return "sig" }
func (p public) Key() any                           { return p.key.key.Public() }
