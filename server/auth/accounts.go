package auth

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"dunlin/cases"

	"golang.org/x/text/unicode/norm"
)

// Accounts is the part of the store that keeps accounts.
type Accounts interface {
	View(ctx context.Context, f func(cases.Reader) error) error
	Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error
}

// Roles lists the roles that an account may have.
var Roles = []cases.Role{cases.Coordinator, cases.Nurse, cases.Manager, cases.Administrator}

// Person is who an account is made for.
type Person struct {
	ID    string // work email, compared in lower case
	Name  string
	Role  cases.Role
	Sites []string // keys of the test sites of a nurse; none is every site
}

// Most characters of a sign-in name and of a person's name.
const (
	MaxID   = 254
	MaxName = 80
)

// check reads a person as an account without a password. Errors name the field.
func (p Person) check() (cases.Account, error) {
	id, name := fold(p.ID), strings.Join(strings.Fields(p.Name), " ")
	switch {
	case !cases.EmailAddress(id) || len(id) > MaxID:
		return cases.Account{}, invalid("email", "Work email must be an address, like wren@program.example")
	case name == "":
		return cases.Account{}, invalid("name", "Enter the person's name")
	case utf8.RuneCountInString(name) > MaxName || strings.ContainsFunc(name, unicode.IsControl) || !utf8.ValidString(name):
		return cases.Account{}, invalid("name", "Name must be at most %d characters, all of which can be printed", MaxName)
	case !slices.Contains(Roles, p.Role):
		return cases.Account{}, invalid("role", "Select coordinator, nurse, manager or administrator")
	case len(p.Sites) > 0 && p.Role != cases.Nurse:
		return cases.Account{}, invalid("sites", "Test sites are for a nurse. Other roles are bound to no site")
	}
	return cases.Account{ID: id, Name: name, Role: p.Role, Sites: slices.Clone(p.Sites)}, nil
}

// Create adds an account with a password, or fails when the sign-in name is taken. The
// error of a bad password says what is wrong.
func Create(ctx context.Context, store Accounts, by cases.Actor, p Person, password string) (cases.Account, error) {
	acc, err := p.check()
	if err != nil {
		return acc, err
	}
	if err := CheckPassword(password, acc.ID, acc.Name, MinPassword); err != nil {
		return acc, err
	}
	if acc.Hash, err = Hash(password); err != nil {
		return acc, err
	}
	return acc, store.Update(ctx, by, func(w cases.Writer) error { return add(w, acc, "account-created") })
}

// add writes a new account whose sign-in name is free.
func add(w cases.Writer, acc cases.Account, kind string) error {
	switch _, err := w.Account(acc.ID); {
	case err == nil:
		return invalid("email", "There is an account with this work email already")
	case cases.KindOf(err) != cases.NotFound:
		return err
	}
	if err := w.PutAccount(acc); err != nil {
		return err
	}
	return w.Note(cases.Event{Kind: kind, Text: fmt.Sprintf("Account of %s, %s%s", acc.Name, acc.Role, atSites(acc.Sites))})
}

func atSites(sites []string) string {
	if len(sites) == 0 {
		return ""
	}
	return ", at " + strings.Join(sites, ", ")
}

// Change applies f to an account and notes the event kind in the audit trail, with more
// after the person's name.
func Change(ctx context.Context, store Accounts, by cases.Actor, id, kind, more string, f func(cases.Writer, *cases.Account) error) error {
	return store.Update(ctx, by, func(w cases.Writer) error {
		acc, err := w.Account(fold(id))
		if err != nil {
			return err
		}
		if err := f(w, &acc); err != nil {
			return err
		}
		if err := w.PutAccount(acc); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: kind, Text: "Account of " + acc.Name + more})
	})
}

// SetPassword gives an account a new password and forgets its failures.
// Sessions opened with the old password end at their next request.
func SetPassword(ctx context.Context, store Accounts, by cases.Actor, id, password string) error {
	set, err := newPassword(ctx, store, id, password)
	if err != nil {
		return err
	}
	return Change(ctx, store, by, id, "password-set", "", func(_ cases.Writer, a *cases.Account) error {
		set(a)
		return nil
	})
}

// newPassword checks a password for an account and gives what sets it.
func newPassword(ctx context.Context, store Accounts, id, password string) (func(*cases.Account), error) {
	var acc cases.Account
	least := MinPassword
	err := store.View(ctx, func(r cases.Reader) (err error) {
		if acc, err = r.Account(fold(id)); err != nil {
			return err
		}
		roles, err := FactorRoles(r)
		if acc.Factor != nil || slices.Contains(roles, acc.Role) {
			least = MinWithCode
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if err := CheckPassword(password, acc.ID, acc.Name, least); err != nil {
		return nil, err
	}
	hash, err := Hash(password)
	short := least < MinPassword && utf8.RuneCountInString(norm.NFKC.String(password)) < MinPassword
	return func(a *cases.Account) {
		a.Hash, a.Short, a.Link, a.Devices, a.Failed, a.FailedAt = hash, short, nil, nil, 0, 0
	}, err
}

// factorSetting is where the store keeps the roles that must have a second factor.
const factorSetting = "second-factor"

// FactorRoles are the roles that must have a second factor.
func FactorRoles(r cases.Reader) (roles []cases.Role, err error) {
	raw, ok, err := r.Setting(factorSetting)
	if err != nil || !ok {
		return nil, err
	}
	if err := json.Unmarshal(raw, &roles); err != nil {
		return nil, fmt.Errorf("setting %s: %w", factorSetting, err)
	}
	return roles, nil
}

// SetFactorRoles says which roles must have a second factor from their next sign-in on.
func SetFactorRoles(w cases.Writer, roles []cases.Role) error {
	words := "no role"
	if len(roles) > 0 {
		words = fmt.Sprint(roles)
	}
	raw, err := json.Marshal(roles)
	if err != nil {
		return err
	}
	if err := w.PutSetting(factorSetting, raw); err != nil {
		return err
	}
	return w.Note(cases.Event{Kind: "second-factor-required", Text: "Second factor demanded of " + words})
}

func fold(id string) string { return strings.ToLower(strings.TrimSpace(id)) }
