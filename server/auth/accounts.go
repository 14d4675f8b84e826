package auth

import (
	"context"
	"strings"
	"time"

	"dunlin/cases"
)

// Accounts is the part of the store that keeps accounts.
type Accounts interface {
	View(ctx context.Context, f func(cases.Reader) error) error
	Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error
}

// Roles lists the roles that an account may have.
var Roles = []cases.Role{cases.Coordinator, cases.Nurse, cases.Manager, cases.Administrator}

// Create adds an account, or fails when the sign-in name is taken. The name is
// compared in lower case. The error of a bad password says what is wrong.
func Create(ctx context.Context, store Accounts, by cases.Actor, id, name string, role cases.Role, password string) (cases.Account, error) {
	id = fold(id)
	if id == "" || strings.ContainsAny(id, " \t\r\n") {
		return cases.Account{}, &cases.Error{Kind: cases.Invalid, Field: "email", Text: "Enter the work email, without spaces"}
	}
	if strings.TrimSpace(name) == "" {
		return cases.Account{}, &cases.Error{Kind: cases.Invalid, Field: "name", Text: "Enter the person's name"}
	}
	if !known(role) {
		return cases.Account{}, &cases.Error{Kind: cases.Invalid, Field: "role", Text: "Select a role"}
	}
	if err := CheckPassword(password, id, name); err != nil {
		return cases.Account{}, err
	}
	hash, err := Hash(password)
	if err != nil {
		return cases.Account{}, err
	}
	acc := cases.Account{ID: id, Name: strings.TrimSpace(name), Role: role, Hash: hash}
	err = store.Update(ctx, by, func(w cases.Writer) error {
		switch _, err := w.Account(id); {
		case err == nil:
			return cases.Errorf(cases.Refused, "There is an account with this work email already")
		case cases.KindOf(err) != cases.NotFound:
			return err
		}
		if err := w.PutAccount(acc); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "account-created", Text: "Account of " + acc.Name + ", " + string(role)})
	})
	return acc, err
}

// Change applies f to an account and notes the event kind in the audit trail.
func Change(ctx context.Context, store Accounts, by cases.Actor, id, kind string, f func(*cases.Account) error) error {
	return store.Update(ctx, by, func(w cases.Writer) error {
		acc, err := w.Account(fold(id))
		if err != nil {
			return err
		}
		if err := f(&acc); err != nil {
			return err
		}
		if err := w.PutAccount(acc); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: kind, Text: "Account of " + acc.Name})
	})
}

// SetPassword gives an account a new password and forgets its failures.
// Sessions opened with the old password end at their next request.
func SetPassword(ctx context.Context, store Accounts, by cases.Actor, id, password string) error {
	var name string
	err := store.View(ctx, func(r cases.Reader) error {
		acc, err := r.Account(fold(id))
		name = acc.Name
		return err
	})
	if err != nil {
		return err
	}
	if err := CheckPassword(password, id, name); err != nil {
		return err
	}
	hash, err := Hash(password)
	if err != nil {
		return err
	}
	return Change(ctx, store, by, id, "password-set", func(a *cases.Account) error {
		a.Hash, a.Failed, a.FailedAt = hash, 0, 0
		return nil
	})
}

func known(role cases.Role) bool {
	for _, r := range Roles {
		if r == role {
			return true
		}
	}
	return false
}

func fold(id string) string { return strings.ToLower(strings.TrimSpace(id)) }

// wait is how long sign-in is refused after so many failures in a row: nothing
// up to 5, then 30 seconds, doubling up to an hour.
func wait(failed int) time.Duration {
	if failed < freeTries {
		return 0
	}
	d := 30 * time.Second
	for i := freeTries; i < failed && d < time.Hour; i++ {
		d *= 2
	}
	return min(d, time.Hour)
}

// freeTries may fail before sign-in must wait; after maxFailed in a row the
// account is locked until an administrator sets a new password (NIST SP
// 800-63B: at most 100 consecutive failures).
const (
	freeTries = 5
	maxFailed = 100
)
