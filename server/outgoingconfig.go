package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/jobs"
	"dunlin/reminders/outbox"
	"dunlin/templates"
)

// outgoingConfig is how messages by e-mail and text leave. Nothing is sent while it is
// empty. Passwords and keys never stand here, only paths of their files.
type outgoingConfig struct {
	Mail   smtpConfig `json:"mail"`
	Text   textConfig `json:"text"`
	Folder string     `json:"folder"`  // messages become files in it, and nothing is sent
	Doctor bool       `json:"doctors"` // doctors and test sites get word by e-mail of what was made for them
	Attach bool       `json:"attach"`  // and a letter to a doctor goes with its message
	Every  string     `json:"every"`   // how often, such as @every 2m
	From   string     `json:"from"`    // hours in which messages to families go out
	Until  string     `json:"until"`
	Words  string     `json:"words"` // folder of the program's own message texts
}

// smtpConfig is the program's mail server. TLS is demanded.
type smtpConfig struct {
	Address      string `json:"address"`  // host:port; "" sends no e-mail
	Security     string `json:"security"` // tls or starttls
	User         string `json:"user"`
	PasswordFile string `json:"password_file"` // path; or DUNLIN_SMTP_PASSWORD
	CAFile       string `json:"ca_file"`
	From         string `json:"from"` // notices of failure come back to it: the mailbox that is read
	FromName     string `json:"from_name"`
}

// textConfig is a service that sends text messages.
type textConfig struct {
	URL     string `json:"url"` // https; "" sends no texts
	KeyFile string `json:"key_file"`
	CAFile  string `json:"ca_file"`
}

const smtpPasswordVariable = "DUNLIN_SMTP_PASSWORD"

func defaultOutgoing() outgoingConfig {
	return outgoingConfig{Mail: smtpConfig{Security: "starttls"}, Every: "@every 2m", From: "09:00", Until: "19:00"}
}

// email and text tell whether a channel is set up.
func (o *outgoingConfig) email() bool { return o.Folder != "" || o.Mail.Address != "" }
func (o *outgoingConfig) text() bool  { return o.Folder != "" || o.Text.URL != "" }

// checkOutgoing finds every fault of the settings about what goes out.
func (c *config) checkOutgoing() (errs []error) {
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	o := &c.Outgoing
	if o.Folder != "" && (o.Mail.Address != "" || o.Text.URL != "") {
		add("outgoing.folder: leave out outgoing.mail.address and outgoing.text.url; nothing is sent while messages go to a folder")
	}
	if m := &o.Mail; m.Address != "" {
		if host, port, err := net.SplitHostPort(m.Address); err != nil || host == "" || portOf(port) == 0 {
			add("outgoing.mail.address %q must be host:port, like smtp.example.org:587", m.Address)
		}
		if m.Security != "tls" && m.Security != "starttls" {
			add("outgoing.mail.security %q must be tls or starttls; nothing is sent in the clear", m.Security)
		}
		if m.User != "" && m.PasswordFile == "" && os.Getenv(smtpPasswordVariable) == "" {
			add("outgoing.mail.password_file is missing; name the file that holds the password, or set %s", smtpPasswordVariable)
		}
	}
	if o.email() && !cases.EmailAddress(o.Mail.From) {
		add("outgoing.mail.from %q must be one address, like followup@example.org; notices of failure come back to it", o.Mail.From)
	}
	if strings.ContainsFunc(o.Mail.FromName, func(r rune) bool { return r < ' ' || r == 127 }) {
		add("outgoing.mail.from_name holds a line break or another control character")
	}
	if o.email() || o.text() {
		for _, x := range []struct{ name, value string }{{"letters.contact", c.Letters.Contact}, {"letters.hours", c.Letters.Hours}, {"outgoing.mail.from_name", o.Mail.FromName}} {
			if w := templates.TellsTooMuch(x.value); w != "" {
				add("%s says %q, which must not stand in a message to a family: nobody knows who else reads it", x.name, w)
			}
		}
	}
	if o.Text.URL != "" {
		if err := (&outbox.Webhook{URL: o.Text.URL}).CheckURL(); err != nil {
			add("outgoing.text.url: %w", err)
		}
	}
	if o.Attach && !o.Doctor {
		add("outgoing.attach needs outgoing.doctors")
	}
	if _, err := jobs.CheckSpec(o.Every); err != nil {
		add("outgoing.every: %w", err)
	}
	from, ferr := cases.ParseClock(o.From)
	until, uerr := cases.ParseClock(o.Until)
	if err := errors.Join(ferr, uerr); err != nil || from >= until {
		add("outgoing.from and outgoing.until must be times like 09:00 and 19:00, the first before the second")
	}
	return errs
}

func portOf(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || n > 65535 {
		return 0
	}
	return n
}

// secret reads a password or key from a file anew, so that it can be changed while the
// program runs. A variable, where one is named and set, wins.
func secret(what, file, variable string) func() (string, error) {
	return func() (string, error) {
		if variable != "" {
			if p := os.Getenv(variable); p != "" {
				return p, nil
			}
		}
		data, err := os.ReadFile(file)
		if err != nil {
			return "", fmt.Errorf("%s: %w", what, err)
		}
		p := strings.TrimRight(string(data), "\r\n")
		if p == "" {
			return "", fmt.Errorf("%s: %s is empty", what, file)
		}
		return p, nil
	}
}
