package openid

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"dunlin/cases"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"
)

// Person is who the service vouches for.
type Person struct {
	Email  string    // verified by the service, in lower case
	Second bool      // the service asked for two factors
	At     time.Time // when the person last showed who they are; zero when the service does not say
	Again  bool      // the person was sent there to show it again
}

// claims are the parts of an ID token that are used.
type claims struct {
	Email    string   `json:"email"`
	Verified verified `json:"email_verified"`
	AMR      []string `json:"amr"`
	ACR      string   `json:"acr"`
	Party    string   `json:"azp"`
	At       int64    `json:"auth_time"`
}

// verified is true for true and for "true", which some services write; never else.
type verified bool

// UnmarshalJSON reads the claim.
func (v *verified) UnmarshalJSON(b []byte) error {
	*v = string(b) == "true" || string(b) == `"true"`
	return nil
}

// skew is how far the clock of the service may be from ours.
const skew = 2 * time.Minute

// person checks the ID token and reads who it is about.
func (s *Service) person(ctx context.Context, o *offer, t ticket, token *oauth2.Token) (Person, error) {
	raw, _ := token.Extra("id_token").(string)
	if raw == "" {
		return Person{}, s.refused("there is no ID token")
	}
	id, err := o.provider.Verifier(&oidc.Config{ClientID: s.ClientID, Now: s.Now}).Verify(oidc.ClientContext(ctx, s.client), raw)
	if err != nil {
		return Person{}, s.refused("the ID token is not good: " + brief(err))
	}
	var c claims
	if err := id.Claims(&c); err != nil {
		return Person{}, s.refused("the ID token cannot be read")
	}
	if err := s.fits(id, &c, t); err != nil {
		return Person{}, s.refused(err.Error())
	}
	if c.Email == "" {
		if err := s.ask(ctx, o, id, token, &c); err != nil {
			return Person{}, err
		}
	}
	p := Person{Email: strings.ToLower(strings.TrimSpace(c.Email)), Second: twoFactors(c.AMR) || c.ACR != "" && slices.Contains(s.SecondACR, c.ACR), Again: t.Again}
	if c.At > 0 {
		p.At = time.Unix(c.At, 0)
	}
	switch {
	case p.Email == "":
		return Person{}, cases.Errorf(cases.Refused, "%s does not tell your work email, so Dunlin cannot find your account. Sign in with your password, and tell the administrator", s.Name)
	case !bool(c.Verified):
		return Person{}, cases.Errorf(cases.Refused, "%s has not verified your work email, so it cannot sign you in. Sign in with your password, or have the email verified there", s.Name)
	}
	return p, nil
}

// fits compares the ID token with what was asked for (OpenID Connect Core 3.1.3.7).
func (s *Service) fits(id *oidc.IDToken, c *claims, t ticket) error {
	now := s.Now()
	switch {
	case id.Nonce != t.Nonce:
		return errors.New("the ID token answers another sign-in: its nonce differs")
	case c.Party != "" && c.Party != s.ClientID, c.Party == "" && len(id.Audience) > 1:
		return errors.New("the ID token was made for another program: azp")
	case id.IssuedAt.After(now.Add(skew)):
		return errors.New("the ID token is of the future: compare the clocks")
	case id.Subject == "":
		return errors.New("the ID token names nobody")
	case t.Again && (c.At == 0 || time.Unix(c.At, 0).Before(t.Began.Add(-skew))):
		return errors.New("the person was to show the password again, and the service does not say so: auth_time")
	}
	return nil
}

// ask reads the e-mail where the service keeps it out of ID tokens.
func (s *Service) ask(ctx context.Context, o *offer, id *oidc.IDToken, token *oauth2.Token, c *claims) error {
	if o.provider.UserInfoEndpoint() == "" {
		return nil
	}
	if err := safe(o.provider.UserInfoEndpoint()); err != nil {
		return s.refused("its userinfo_endpoint " + err.Error())
	}
	if id.AccessTokenHash != "" {
		if err := id.VerifyAccessToken(token.AccessToken); err != nil {
			return s.refused("the access token is not the one that the ID token names")
		}
	}
	info, err := o.provider.UserInfo(oidc.ClientContext(ctx, s.client), oauth2.StaticTokenSource(token))
	if err != nil {
		return s.down(err)
	}
	if info.Subject != id.Subject { // OpenID Connect Core 5.3.2
		return s.refused("what the service tells is about somebody else")
	}
	var more claims
	if err := info.Claims(&more); err != nil {
		return s.refused("what the service tells cannot be read")
	}
	c.Email, c.Verified = more.Email, more.Verified
	return nil
}

// twoFactors tells whether methods of RFC 8176 are two factors: it says so, or something
// known stands beside something had or something of the body. Questions about oneself
// (kba), the place and the network are no factor.
func twoFactors(amr []string) bool {
	var knows, has, is bool
	for _, m := range amr {
		switch m {
		case "mfa":
			return true
		case "pwd", "pin":
			knows = true
		case "otp", "hwk", "swk", "sc", "sms", "tel":
			has = true
		case "face", "fpt", "iris", "retina", "vbm":
			is = true
		}
	}
	return knows && (has || is) || has && is
}
