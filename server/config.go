package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"time"

	"dunlin/cases"
	"dunlin/cases/export/fhir"
	"dunlin/reminders/letters"
)

// config is the program's settings: defaults, then the file, then DUNLIN_*
// variables, then flags. Secrets never stand in it, only paths of their files.
type config struct {
	Store    string          `json:"store"`     // path of the store file
	Listen   string          `json:"listen"`    // address of the pages
	Zone     string          `json:"zone"`      // the program's time zone
	Code     string          `json:"code"`      // two letters before references
	Help     string          `json:"help_line"` // phone and hours of support, in the footer
	Protocol json.RawMessage `json:"protocol"`  // values that differ from the defaults
	Daily    string          `json:"daily"`     // times of the daily job, five cron fields
	TLSCert  string          `json:"tls_cert"`  // paths; both or none
	TLSKey   string          `json:"tls_key"`
	Proxied  bool            `json:"proxied"` // served over TLS by a proxy in front
	// TrustedProxies are addresses or networks of proxies in front: only they may say for
	// whom they ask (X-Forwarded-For).
	TrustedProxies []string        `json:"trusted_proxies"`
	Postal         string          `json:"postal"`     // path of a CSV of postal codes with their middles: postal,lat,lon
	Letters        letters.Program `json:"letters"`    // the program's own facts for letters
	HeadsFile      string          `json:"heads_file"` // where the ends of both chains are noted each day, outside the store
	// LettersFolder is the path of a folder with letter texts of the program's own.
	LettersFolder string `json:"letters_folder"`

	// PostalAreas are the first three digits of postal codes that a de-identified extract
	// may give: those of areas with more than 20,000 people (45 CFR 164.514(b)(2)(i)(B)).
	PostalAreas []string `json:"postal_areas"`
	// CodesLeftOut are code systems whose codes an exported case must not carry: snomed,
	// loinc, icd-10-cm. The words stay.
	CodesLeftOut []string `json:"codes_left_out"`

	Live      bool            `json:"live"`      // test messages that come by themselves open nothing
	Intake    intakeConfig    `json:"intake"`    // choices about what arrives
	Mailbox   mailboxConfig   `json:"mailbox"`   // read every few minutes, when it has an address
	Interface interfaceConfig `json:"interface"` // the HL7 listener, when it has an address
	Outgoing  outgoingConfig  `json:"outgoing"`  // messages by e-mail and text, when a server is named

	// AdminListen is the address of /healthz and /metrics, off while empty. They tell no
	// personal facts, and stay on this machine unless AdminAnywhere says otherwise.
	AdminListen   string `json:"admin_listen"`
	AdminAnywhere bool   `json:"admin_anywhere"`
	LogLevel      string `json:"log_level"` // debug, info, warn or error

	SignIn signInConfig `json:"sign_in"` // how long a session lasts
	OIDC   oidcConfig   `json:"oidc"`    // a service through which staff may sign in, when it has an issuer

	Backup backupConfig `json:"backup"` // where back-ups go, how often, and which stay

	file     string // path of the settings file, "" when none
	zone     *time.Location
	protocol *cases.Protocol
	proxies  []*net.IPNet
}

func defaultConfig() config {
	return config{
		Store: "dunlin.db", Listen: "127.0.0.1:8480", Zone: "America/New_York", Code: "AB", Daily: "0 6 * * *", LogLevel: "info",
		Mailbox: defaultMailbox(), Outgoing: defaultOutgoing(), Backup: defaultBackup(), SignIn: defaultSignIn(),
		Letters: letters.Program{Name: "Newborn screening follow-up", Envelope: letters.No10()},
	}
}

// configFlags adds --config and the named settings to a command; get reads defaults,
// file, DUNLIN_* variables and flags, in this order.
func configFlags(fs *flag.FlagSet, names ...string) (get func() (*config, error)) {
	return readingFlags(fs, addSettingFlags(fs, append(names, protocolSetting), false))
}

// configAllFlags is configFlags with a flag for every setting; those named stand in the
// command's help.
func configAllFlags(fs *flag.FlagSet, names ...string) (get func() (*config, error)) {
	return readingFlags(fs, addSettingFlags(fs, append(names, protocolSetting), true))
}

func readingFlags(fs *flag.FlagSet, given map[string]string) func() (*config, error) {
	file := fs.String("config", os.Getenv(variablePrefix+"CONFIG"), "settings `file` (JSON)")
	return func() (*config, error) {
		c := defaultConfig()
		var errs []error
		if *file != "" {
			c.file = *file
			errs = append(errs, readConfigFile(*file, &c))
		}
		errs = append(errs, c.fromVariables(), c.applyFlags(given), c.settle())
		return &c, errors.Join(errs...)
	}
}

func ptr[T any](v T) *T { return &v }

var areaForm = regexp.MustCompile(`^[0-9]{3}$`)

var codeForm = regexp.MustCompile(`^[A-Z]{2}$`)

// settle works out zone and protocol and reports every fault at once.
func (c *config) settle() error {
	var errs []error
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	zone, err := time.LoadLocation(c.Zone)
	if err != nil || c.Zone == "" || c.Zone == "Local" {
		add("zone %q is not known; use a name like America/New_York", c.Zone)
		zone = time.UTC
	}
	c.zone = zone
	for _, a := range c.PostalAreas {
		if !areaForm.MatchString(a) {
			add("postal_areas: %q is not the first three digits of a postal code", a)
		}
	}
	if !codeForm.MatchString(c.Code) {
		add("code %q must be two capital letters", c.Code)
	}
	if c.Store == "" {
		add("store: name the store file")
	}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		add("tls_cert and tls_key: give both or none")
	}
	errs = append(errs, c.checkProxies()...)
	errs = append(errs, c.checkArrivals()...)
	errs = append(errs, c.checkOutgoing()...)
	if err := fhir.CheckLeaveOut(c.CodesLeftOut); err != nil {
		add("codes_left_out: %w", err)
	}
	errs = append(errs, c.checkOIDC()...)
	errs = append(errs, c.checkBackup()...)
	errs = append(errs, c.SignIn.check()...)
	errs = append(errs, c.checkAdmin()...)
	c.protocol = cases.DefaultProtocol()
	if len(c.Protocol) > 0 && string(c.Protocol) != "null" {
		p, err := cases.ParseProtocol(c.Protocol)
		if err != nil {
			errs = append(errs, err)
		} else {
			c.protocol = p
		}
	}
	return errors.Join(errs...)
}

// socket is where a serving program listens for commands: beside the store.
func (c *config) socket() string {
	return filepath.Join(filepath.Dir(c.Store), "."+filepath.Base(c.Store)+".sock")
}

// checkProxies reads the networks of the proxies in front.
func (c *config) checkProxies() (errs []error) {
	c.proxies = nil
	for _, text := range c.TrustedProxies {
		p, err := netip.ParsePrefix(text)
		if a, aerr := netip.ParseAddr(text); aerr == nil {
			p, err = netip.PrefixFrom(a, a.BitLen()), nil
		}
		switch {
		case err != nil:
			errs = append(errs, fmt.Errorf("trusted_proxies: %q is no address or network, like 10.1.2.3 or 10.1.2.0/24", text))
		case p.Bits() == 0:
			errs = append(errs, fmt.Errorf("trusted_proxies: %q is every address, so that anybody could say to be anybody; name the proxies", text))
		default:
			p = p.Masked()
			c.proxies = append(c.proxies, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
		}
	}
	if len(c.TrustedProxies) > 0 && !c.Proxied && c.TLSCert == "" {
		errs = append(errs, errors.New("trusted_proxies: set proxied too when the proxy serves over TLS, else cookies would travel unprotected"))
	}
	return errs
}

// secure tells whether cookies may demand TLS.
func (c *config) secure() bool { return c.TLSCert != "" || c.Proxied }
