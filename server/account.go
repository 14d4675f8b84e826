package main

import (
	"context"
	"crypto/rand"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"dunlin/cases"
	"dunlin/server/auth"
)

// account is what an account job carries.
type account struct {
	Do       string `json:"do,omitempty"` // add, password, disable, enable, list
	ID       string `json:"id,omitempty"`
	Name     string `json:"name,omitempty"`
	Role     string `json:"role,omitempty"`
	Password string `json:"password,omitempty"`
}

func accountCommand() command {
	return command{name: "account", args: "add|password|disable|enable|list|add-key|disable-key|keys [flags]", short: "manage accounts and keys from the terminal",
		long: `Adds and changes accounts when nobody can sign in:
  account add --id WORK-EMAIL --name NAME --role coordinator|nurse|manager|administrator
  account password --id WORK-EMAIL
  account disable --id WORK-EMAIL, account enable --id WORK-EMAIL
  account list
  account add-key --name LABORATORY, account disable-key --name LABORATORY, account keys
A key is what a laboratory's system shows to the web service (POST /intake/documents);
it is printed once and kept only as a checksum.
A password is read from --password-file; without it one is made and printed once.`,
		run: runAccount}
}

func runAccount(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "store", "zone", "code")
	id := fs.String("id", "", "work `email`, the sign-in name")
	name := fs.String("name", "", "the person's `name`")
	role := fs.String("role", "", "the `role`")
	file := fs.String("password-file", "", "`file` that holds the password")
	do := ""
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		do, args = args[0], args[1:]
	}
	if code, done := parse(std, fs, args); done {
		return code
	}
	o := &op{Command: "account", Account: account{Do: do, ID: *id, Name: *name, Role: *role}}
	switch do {
	case "add", "password":
		made, err := choosePassword(*file, &o.Account.Password)
		if err != nil {
			return fail(std, "account", err)
		}
		if made {
			defer func() { fmt.Fprintf(std.out, "Password, shown only now: %s\n", o.Account.Password) }()
		}
	case "disable", "enable", "list", "add-key", "disable-key", "keys":
	default:
		return wrongUse(std, fs, "say what to do: add, password, disable, enable, list, add-key, disable-key or keys")
	}
	switch {
	case strings.HasSuffix(do, "-key") && *name == "":
		return wrongUse(std, fs, "--name is missing; name who sends with the key")
	case strings.HasSuffix(do, "-key"), do == "list", do == "keys":
	case *id == "":
		return wrongUse(std, fs, "--id is missing")
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin account: %s\n", people(err))
		return exitUsage
	}
	return doOp(ctx, std, cfg, o, do != "add" && do != "add-key")
}

// choosePassword reads the password from a file, or makes one.
func choosePassword(file string, to *string) (made bool, err error) {
	if file == "" {
		*to = rand.Text()
		return true, nil
	}
	data, err := os.ReadFile(file)
	*to = strings.TrimRight(string(data), "\r\n")
	return false, err
}

func (o *op) account(ctx context.Context, s *site, out io.Writer) (int, error) {
	by := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "command line"}
	a := &o.Account
	var err error
	done := ""
	switch a.Do {
	case "list":
		return exitOK, listAccounts(ctx, s, out)
	case "keys", "add-key", "disable-key":
		return o.key(ctx, s, by, out)
	case "add":
		_, err = auth.Create(ctx, s.db, by, a.ID, a.Name, cases.Role(a.Role), a.Password)
		done = "added"
	case "password":
		err = auth.SetPassword(ctx, s.db, by, a.ID, a.Password)
		done = "has a new password"
	case "disable", "enable":
		off := a.Do == "disable"
		err = auth.Change(ctx, s.db, by, a.ID, "account-"+a.Do+"d", func(x *cases.Account) error {
			x.Disabled = off
			return nil
		})
		done = a.Do + "d"
	}
	if err != nil {
		return exitFailed, err
	}
	fmt.Fprintf(out, "%s: %s\n", a.ID, done)
	return exitOK, nil
}

func listAccounts(ctx context.Context, s *site, out io.Writer) error {
	return s.db.View(ctx, func(r cases.Reader) error {
		list, err := r.Accounts()
		for _, a := range list {
			state := ""
			if a.Disabled {
				state = "  disabled"
			}
			fmt.Fprintf(out, "%s  %s  %s%s\n", a.ID, a.Name, a.Role, state)
		}
		return err
	})
}

// key does a job on the keys of the web service.
func (o *op) key(ctx context.Context, s *site, by cases.Actor, out io.Writer) (int, error) {
	keys := auth.Keys{Store: s.db}
	switch o.Account.Do {
	case "add-key":
		key, err := keys.Add(ctx, by, o.Account.Name)
		if err != nil {
			return exitFailed, err
		}
		fmt.Fprintf(out, "%s: key, shown only now: %s\n", o.Account.Name, key)
	case "disable-key":
		if err := keys.Disable(ctx, by, o.Account.Name, true); err != nil {
			return exitFailed, err
		}
		fmt.Fprintf(out, "%s: key disabled\n", o.Account.Name)
	default:
		list, err := keys.List(ctx)
		if err != nil {
			return exitFailed, err
		}
		for _, k := range list {
			state := ""
			if k.Disabled {
				state = "  disabled"
			}
			fmt.Fprintf(out, "%s  made %s by %s%s\n", k.Name, k.Made.In(s.cfg.zone).Format("2 Jan 2006"), k.By, state)
		}
	}
	return exitOK, nil
}
