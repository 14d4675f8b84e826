package main

import (
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"time"

	"dunlin/server/auth/openid"
	"dunlin/server/web"
)

// oidcConfig is a service through which staff may sign in, by OpenID Connect; none while
// it has no issuer. The secret never stands here, only the path of its file.
type oidcConfig struct {
	Issuer       string   `json:"issuer"`
	ClientID     string   `json:"client_id"`
	SecretFile   string   `json:"client_secret_file"` // path; or DUNLIN_OIDC_SECRET
	Name         string   `json:"name"`
	Redirect     string   `json:"redirect"`
	SecondFactor []string `json:"second_factor_acr"`
	CAFile       string   `json:"ca_file"`
}

const oidcSecretVariable = "DUNLIN_OIDC_SECRET"

// settings reads them for the service; the file of the secret is read at each sign-in.
func (o *oidcConfig) settings() openid.Settings {
	s := openid.Settings{Issuer: o.Issuer, ClientID: o.ClientID, Redirect: o.Redirect, Name: o.Name, SecondACR: o.SecondFactor}
	if o.SecretFile != "" || os.Getenv(oidcSecretVariable) != "" {
		s.Secret = secret("secret of the sign-in service", o.SecretFile, oidcSecretVariable)
	}
	return s
}

// checkOIDC finds every fault of the settings about signing in through a service.
func (c *config) checkOIDC() []error {
	o := &c.OIDC
	if o.Issuer == "" {
		if o.ClientID != "" || o.Redirect != "" || o.SecretFile != "" {
			return []error{errors.New("oidc.issuer is missing: the https address by which the sign-in service names itself")}
		}
		return nil
	}
	s := o.settings()
	errs := []error{s.Check()}
	if o.Redirect != "" && !strings.HasSuffix(o.Redirect, web.ServiceBackPath) {
		errs = append(errs, fmt.Errorf("oidc.redirect %q must end in %s; register the same address at the service", o.Redirect, web.ServiceBackPath))
	}
	if s.Secret != nil {
		if _, err := s.Secret(); err != nil {
			errs = append(errs, fmt.Errorf("oidc.client_secret_file: %w", err))
		}
	}
	if _, err := o.roots(); err != nil {
		errs = append(errs, err)
	}
	return errs
}

func (o *oidcConfig) roots() (*x509.CertPool, error) {
	if o.CAFile == "" {
		return nil, nil
	}
	data, err := os.ReadFile(o.CAFile)
	if err != nil {
		return nil, fmt.Errorf("oidc.ca_file: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(data) {
		return nil, fmt.Errorf("oidc.ca_file: %s holds no certificate in PEM form", o.CAFile)
	}
	return pool, nil
}

// signInService makes the service of the settings; nil for none. Nothing is asked of it
// before somebody signs in through it.
func (c *config) signInService(now func() time.Time, log *slog.Logger) (web.SignInService, error) {
	if c.OIDC.Issuer == "" {
		return nil, nil
	}
	s := c.OIDC.settings()
	s.Now, s.Log = now, log
	var err error
	if s.Roots, err = c.OIDC.roots(); err != nil {
		return nil, err
	}
	return openid.New(s)
}
