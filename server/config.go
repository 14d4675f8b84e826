package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/export/fhir"
	"dunlin/reminders/letters"
)

// config is the program's settings: defaults, then the file, then DUNLIN_*
// variables, then flags. Secrets never stand in it, only paths of their files.
type config struct {
	Store    string          `json:"store"`    // path of the store file
	Listen   string          `json:"listen"`   // address of the pages
	Zone     string          `json:"zone"`     // the program's time zone
	Code     string          `json:"code"`     // two letters before references
	Help     string          `json:"help"`     // phone and hours of support, in the footer
	Protocol json.RawMessage `json:"protocol"` // values that differ from the defaults
	Daily    string          `json:"daily"`    // times of the daily job, five cron fields
	TLSCert  string          `json:"tls_cert"` // paths; both or none
	TLSKey   string          `json:"tls_key"`
	Proxied  bool            `json:"proxied"` // served over TLS by a proxy in front
	Postal   string          `json:"postal"`  // path of a CSV of postal codes with their middles: postal,lat,lon
	Letters  letters.Program `json:"letters"` // the program's own facts for letters
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

	Backup backupConfig `json:"backup"` // where back-ups go, how often, and which stay

	file     string // path of the settings file, "" when none
	zone     *time.Location
	protocol *cases.Protocol
}

func defaultConfig() config {
	return config{
		Store: "dunlin.db", Listen: "127.0.0.1:8480", Zone: "America/New_York", Code: "AB", Daily: "0 6 * * *",
		Mailbox: defaultMailbox(), Outgoing: defaultOutgoing(), Backup: defaultBackup(),
		Letters: letters.Program{Name: "Newborn screening follow-up", Envelope: letters.No10()},
	}
}

// setting binds one setting to its variable and flag.
type setting struct {
	name, help string
	at         func(*config) *string
}

var textSettings = []setting{
	{"store", "path of the store `file`", func(c *config) *string { return &c.Store }},
	{"zone", "the program's time `zone`", func(c *config) *string { return &c.Zone }},
	{"code", "two `letters` before case references", func(c *config) *string { return &c.Code }},
	{"listen", "`address` of the pages", func(c *config) *string { return &c.Listen }},
	{"daily", "times of the daily job, five cron `fields`", func(c *config) *string { return &c.Daily }},
	{"help-line", "phone and hours of support, shown on every page", func(c *config) *string { return &c.Help }},
	{"letters-folder", "`folder` of letter texts that take the place of the built-in ones, or add languages", func(c *config) *string { return &c.LettersFolder }},
	{"tls-cert", "`path` of the certificate", func(c *config) *string { return &c.TLSCert }},
	{"tls-key", "`path` of the certificate's key", func(c *config) *string { return &c.TLSKey }},
}

// configFlags adds --config, --protocol and the named settings to a command.
func configFlags(fs *flag.FlagSet, names ...string) func() (*config, error) {
	file := fs.String("config", os.Getenv("DUNLIN_CONFIG"), "settings `file` (JSON)")
	protocol := fs.String("protocol", "", "protocol `file`: JSON with only the values that differ")
	given := map[string]*string{}
	for _, s := range textSettings {
		if slices.Contains(names, s.name) {
			given[s.name] = fs.String(s.name, "", s.help+" (default "+*s.at(ptr(defaultConfig()))+")")
		}
	}
	return func() (*config, error) {
		c := defaultConfig()
		var errs []error
		if *file != "" {
			c.file = *file
			errs = append(errs, readConfigFile(*file, &c))
		}
		for _, s := range textSettings {
			if v, ok := os.LookupEnv("DUNLIN_" + strings.ToUpper(strings.ReplaceAll(s.name, "-", "_"))); ok {
				*s.at(&c) = v
			}
			if v := given[s.name]; v != nil && *v != "" {
				*s.at(&c) = *v
			}
		}
		if *protocol != "" {
			data, err := os.ReadFile(*protocol)
			if err != nil {
				errs = append(errs, fmt.Errorf("--protocol: %w", err))
			}
			c.Protocol = data
		}
		errs = append(errs, c.settle())
		return &c, errors.Join(errs...)
	}
}

func ptr[T any](v T) *T { return &v }

func readConfigFile(path string, c *config) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("--config: %w", err)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(c); err != nil {
		return fmt.Errorf("settings file %s: %w", path, err)
	}
	return nil
}

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
	errs = append(errs, c.checkArrivals()...)
	errs = append(errs, c.checkOutgoing()...)
	if err := fhir.CheckLeaveOut(c.CodesLeftOut); err != nil {
		add("codes_left_out: %w", err)
	}
	errs = append(errs, c.checkBackup()...)
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

// secure tells whether cookies may demand TLS.
func (c *config) secure() bool { return c.TLSCert != "" || c.Proxied }

func configCommand() command {
	return command{name: "config", args: "[flags]", short: "print the settings in force",
		long: "Prints the settings as they come out of defaults, file, DUNLIN_* variables and flags.",
		run: func(_ context.Context, io stdio, fs *flag.FlagSet, args []string) int {
			get := configFlags(fs, "store", "zone", "code", "listen", "daily", "help-line", "tls-cert", "tls-key", "letters-folder")
			if code, done := parse(io, fs, args); done {
				return code
			}
			c, err := get()
			if err != nil {
				return fail(io, "config", err)
			}
			enc := json.NewEncoder(io.out)
			enc.SetIndent("", "  ")
			if err := enc.Encode(c); err != nil {
				return fail(io, "config", err)
			}
			return exitOK
		}}
}
