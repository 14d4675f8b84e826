package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Settings of a sign-in service are checked before the program starts, and nothing is
// asked of the service then.
func TestOIDCSettings(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "secret")
	if err := os.WriteFile(file, []byte("made up\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	good := oidcConfig{Issuer: "https://signin.alder-bay.example", ClientID: "dunlin", SecretFile: file, Name: "Alder Bay staff account", Redirect: "https://dunlin.alder-bay.example/sign-in/service/back"}
	for name, c := range map[string]struct {
		change func(*oidcConfig)
		want   string // "" is good
	}{
		"all":           {func(*oidcConfig) {}, ""},
		"none":          {func(o *oidcConfig) { *o = oidcConfig{} }, ""},
		"no issuer":     {func(o *oidcConfig) { o.Issuer = "" }, "oidc.issuer is missing"},
		"in the clear":  {func(o *oidcConfig) { o.Issuer = "http://signin.alder-bay.example" }, "must begin with https://"},
		"no secret":     {func(o *oidcConfig) { o.SecretFile = "" }, "oidc.client_secret_file is missing"},
		"secret gone":   {func(o *oidcConfig) { o.SecretFile = filepath.Join(dir, "none") }, "secret of the sign-in service"},
		"no name":       {func(o *oidcConfig) { o.Name = "" }, "oidc.name"},
		"other page":    {func(o *oidcConfig) { o.Redirect = "https://dunlin.alder-bay.example/overdue" }, "must end in /sign-in/service/back"},
		"no authority":  {func(o *oidcConfig) { o.CAFile = filepath.Join(dir, "none.pem") }, "oidc.ca_file"},
		"odd authority": {func(o *oidcConfig) { o.CAFile = file }, "holds no certificate"},
	} {
		cfg := defaultConfig()
		cfg.OIDC = good
		c.change(&cfg.OIDC)
		err := cfg.settle()
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if c.want != "" {
			continue
		}
		if s, err := cfg.signInService(time.Now, nil); err != nil || (s == nil) != (name == "none") {
			t.Errorf("%s: %v, %v", name, s, err)
		}
	}
}
