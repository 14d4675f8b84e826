package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"dunlin/server/mllp"
	"dunlin/templates"
)

// examineSettings looks at what the settings name, without changing anything: faults
// keep a part of the program from working, looks are what a person should know.
func (c *config) examineSettings() (faults []error, looks []string) {
	fault := func(err error) {
		if err != nil {
			faults = append(faults, err)
		}
	}
	fault(c.Letters.Envelope.Check())
	fault(writableFolder("store", filepath.Dir(c.Store)))
	_, err := postalAreas(c.Postal, nil)
	fault(err)
	if texts, err := c.letterTexts(); err != nil {
		fault(err)
	} else {
		looks = append(looks, c.letterWarnings(texts)...)
	}
	if dir := c.Outgoing.Words; dir != "" {
		_, err := templates.ParseMessages(os.DirFS(dir))
		fault(err)
	}
	if i := c.Interface; i.Listen != "" && i.Cert != "" {
		_, err := mllp.LoadTLS(i.Cert, i.Key, i.ClientCA)
		fault(err)
	}
	cert, err := c.pagesTLS(time.Now())
	fault(err)
	if w := cert.warning(time.Now(), c.zone); w != "" {
		looks = append(looks, w)
	}
	if c.Backup.Folder != "" {
		fault(writableFolder("backup.folder", c.Backup.Folder))
	}
	if c.Outgoing.Folder != "" {
		fault(writableFolder("outgoing.folder", c.Outgoing.Folder))
	}
	for _, s := range c.secretFiles() {
		look, err := s.examine()
		fault(err)
		if look != "" {
			looks = append(looks, look)
		}
	}
	return faults, append(looks, c.lookAt()...)
}

// lookAt says what a program that serves should have, and has not.
func (c *config) lookAt() (looks []string) {
	look := func(format string, args ...any) { looks = append(looks, fmt.Sprintf(format, args...)) }
	if c.Backup.Folder == "" {
		look("no back-ups are made: set backup.folder and backup.recipients")
	}
	if err := c.Letters.Check(); err != nil {
		look("letters cannot be made yet: %s", strings.ReplaceAll(err.Error(), "\n", ", "))
	}
	if host, _, err := net.SplitHostPort(c.Listen); err == nil && !isLoopback(host) && !c.secure() {
		look("listen %s can be reached from other machines without TLS: names and results would cross the network for anyone to read. Set tls_cert and tls_key, or listen on 127.0.0.1 behind a proxy and set proxied", c.Listen)
	}
	if c.Proxied && len(c.TrustedProxies) == 0 {
		look("trusted_proxies is empty: everybody seems to sign in from the address of the proxy, and one person's wrong tries slow down all. Name the proxy's address")
	}
	if c.AdminAnywhere && c.AdminListen != "" {
		look("admin_listen %s asks nobody who they are: let only the right machines reach it", c.AdminListen)
	}
	if c.AdminListen == "" {
		look("nothing watches the program: set admin_listen and have /healthz asked every few minutes")
	}
	for _, name := range strayVariables() {
		look("%s is set and is no setting: dunlin config names lists them", name)
	}
	return looks
}

// namedFile is a file that a setting names.
type namedFile struct {
	setting, path string
	secret        bool
}

// secretFiles lists the files with passwords, keys and certificates that are in use.
func (c *config) secretFiles() (out []namedFile) {
	add := func(use bool, setting, path string, secret bool) {
		if use && path != "" {
			out = append(out, namedFile{setting, path, secret})
		}
	}
	mail, text := &c.Outgoing.Mail, &c.Outgoing.Text
	add(c.Mailbox.Address != "", "mailbox.password_file", c.Mailbox.PasswordFile, true)
	add(c.Mailbox.Address != "", "mailbox.ca_file", c.Mailbox.CAFile, false)
	add(mail.Address != "", "outgoing.mail.password_file", mail.PasswordFile, true)
	add(mail.Address != "", "outgoing.mail.ca_file", mail.CAFile, false)
	add(text.URL != "", "outgoing.text.key_file", text.KeyFile, true)
	add(text.URL != "", "outgoing.text.ca_file", text.CAFile, false)
	add(true, "tls_key", c.TLSKey, true)
	add(c.Interface.Listen != "", "interface.key", c.Interface.Key, true)
	return out
}

// examine tells whether the file can be read, and whether others can read a secret.
func (f namedFile) examine() (look string, wrong error) {
	data, err := os.ReadFile(f.path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", f.setting, err)
	}
	if strings.TrimSpace(string(data)) == "" {
		return "", fmt.Errorf("%s: %s is empty", f.setting, f.path)
	}
	if info, err := os.Stat(f.path); err == nil && f.secret && info.Mode().Perm()&0o077 != 0 {
		look = fmt.Sprintf("%s: others on this machine may read %s: chmod 600 %s", f.setting, f.path, f.path)
	}
	return look, nil
}

// writableFolder tells whether this user may write in a folder, or make it.
func writableFolder(setting, dir string) error {
	info, err := os.Stat(dir)
	if errors.Is(err, fs.ErrNotExist) && setting != "store" {
		if parent := filepath.Dir(dir); parent != dir {
			return writableFolder(setting, parent) // it is made when it is first needed
		}
	}
	switch {
	case err != nil:
		return fmt.Errorf("%s: the folder %s: %w", setting, dir, err)
	case !info.IsDir():
		return fmt.Errorf("%s: %s is no folder", setting, dir)
	case syscall.Access(dir, writeAndEnter) != nil:
		return fmt.Errorf("%s: the folder %s cannot be written by %s", setting, dir, osUser())
	}
	return nil
}

// writeAndEnter are the rights W_OK and X_OK of access(2).
const writeAndEnter = 2 | 1
