package main

import (
	"crypto/x509"
	"fmt"
	"net"
	"os"
	"strings"

	"dunlin/cases/intake"
	"dunlin/reminders/jobs"
)

// intakeConfig is what the program chooses about what arrives; a sender's own choices,
// on the page of senders, win over it.
type intakeConfig struct {
	OpenOnRepeatCard bool             `json:"open_on_repeat_card"` // open a case when another card is asked for
	ReviewDays       int              `json:"review_days"`         // days until a waiting item is due; 0 means 7
	DateOrder        intake.DateOrder `json:"date_order"`          // of dates in numbers in line lists; "" is not known
	CommaDecimals    bool             `json:"comma_decimals"`
}

// mailboxConfig is the mailbox that referrals reach. The password never stands here:
// it is in the file, or in DUNLIN_MAILBOX_PASSWORD.
type mailboxConfig struct {
	Address      string `json:"address"`       // host:port; "" reads no mailbox
	Security     string `json:"security"`      // tls, starttls, or none (loopback only)
	User         string `json:"user"`          // name to sign in with
	PasswordFile string `json:"password_file"` // path
	CAFile       string `json:"ca_file"`       // own certificate authority, PEM; "" is the system's
	Folder       string `json:"folder"`        // read from
	Handled      string `json:"handled"`       // where messages taken in are moved; "" leaves them
	Trouble      string `json:"trouble"`       // where messages that cannot be read are moved; "" leaves them
	Every        string `json:"every"`         // how often, such as @every 3m
	MaxMB        int    `json:"max_mb"`        // largest message
}

// interfaceConfig is the HL7 listener, off while Listen is empty. Outside loopback it
// asks every sender for a certificate of ClientCA.
type interfaceConfig struct {
	Listen   string `json:"listen"`
	Cert     string `json:"cert"`
	Key      string `json:"key"`
	ClientCA string `json:"client_ca"`
}

const mailboxPasswordVariable = "DUNLIN_MAILBOX_PASSWORD"

func defaultMailbox() mailboxConfig {
	return mailboxConfig{Security: "tls", Folder: "INBOX", Every: "@every 3m", MaxMB: 25}
}

// settings gives the program's own choices to intake.
func (c *config) settings() intake.Settings {
	return intake.Settings{OpenOnRepeatCard: c.Intake.OpenOnRepeatCard, ReviewDays: c.Intake.ReviewDays,
		DateOrder: c.Intake.DateOrder, CommaDecimals: c.Intake.CommaDecimals, Live: c.Live}
}

// checkArrivals finds every fault of the settings about what arrives.
func (c *config) checkArrivals() (errs []error) {
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	switch c.Intake.DateOrder {
	case "", intake.DayMonth, intake.MonthDay:
	default:
		add("intake.date_order %q must be %q or %q, or left out", c.Intake.DateOrder, intake.DayMonth, intake.MonthDay)
	}
	if c.Intake.ReviewDays < 0 || c.Intake.ReviewDays > 60 {
		add("intake.review_days must be from 0 to 60")
	}
	if m := c.Mailbox; m.Address != "" {
		host, _, err := net.SplitHostPort(m.Address)
		switch {
		case err != nil:
			add("mailbox.address %q must be host:port, like imap.example.org:993", m.Address)
		case m.Security == "none" && !isLoopback(host):
			add("mailbox.security none is for loopback only: names and results would cross the network for anyone to read. Use tls or starttls")
		}
		if m.Security != "tls" && m.Security != "starttls" && m.Security != "none" {
			add("mailbox.security %q must be tls or starttls", m.Security)
		}
		if m.User == "" {
			add("mailbox.user is missing")
		}
		if m.PasswordFile == "" && os.Getenv(mailboxPasswordVariable) == "" {
			add("mailbox.password_file is missing; name the file that holds the password, or set %s", mailboxPasswordVariable)
		}
		if m.Folder == "" {
			add("mailbox.folder is missing; INBOX is usual")
		}
		for name, f := range map[string]string{"handled": m.Handled, "trouble": m.Trouble} {
			if f != "" && f == m.Folder {
				add("mailbox.%s must be another folder than mailbox.folder", name)
			}
		}
		if _, err := jobs.CheckSpec(m.Every); err != nil {
			add("mailbox.every: %w", err)
		}
		if m.MaxMB < 1 || m.MaxMB > 60 {
			add("mailbox.max_mb must be from 1 to 60")
		}
	}
	if i := c.Interface; i.Listen != "" {
		host, _, err := net.SplitHostPort(i.Listen)
		switch {
		case err != nil:
			add("interface.listen %q must be host:port, like 127.0.0.1:2575", i.Listen)
		case !isLoopback(host) && (i.Cert == "" || i.ClientCA == ""):
			add("interface: outside loopback the listener needs cert, key and client_ca, so that each sender shows a certificate")
		}
		if (i.Cert == "") != (i.Key == "") {
			add("interface.cert and interface.key: give both or none")
		}
	}
	return errs
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// password reads the mailbox's password anew, so that it can be changed while the
// program runs.
func (m mailboxConfig) password() (string, error) {
	if p := os.Getenv(mailboxPasswordVariable); p != "" {
		return p, nil
	}
	data, err := os.ReadFile(m.PasswordFile)
	if err != nil {
		return "", fmt.Errorf("the mailbox's password: %w", err)
	}
	p := strings.TrimRight(string(data), "\r\n")
	if p == "" {
		return "", fmt.Errorf("the mailbox's password: %s is empty", m.PasswordFile)
	}
	return p, nil
}

// certificates reads a file of certificate authorities; nil for no file.
func certificates(path string) (*x509.CertPool, error) {
	if path == "" {
		return nil, nil
	}
	pem, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("%s holds no certificate", path)
	}
	return pool, nil
}
