package auth

import (
	"context"
	"fmt"
	"slices"

	"dunlin/cases"
)

// SetRole gives an account another role and other test sites. It counts at the person's
// next request. The last administrator keeps the role.
func SetRole(ctx context.Context, store Accounts, by cases.Actor, id string, role cases.Role, sites []string) error {
	return store.Update(ctx, by, func(w cases.Writer) error {
		acc, err := w.Account(fold(id))
		if err != nil {
			return err
		}
		now, err := Person{acc.ID, acc.Name, role, sites}.check()
		if err != nil {
			return err
		}
		if acc.Role == cases.Administrator && role != cases.Administrator {
			if err := notLast(w, acc); err != nil {
				return err
			}
		}
		if acc.Role == role && slices.Equal(acc.Sites, sites) {
			return nil
		}
		acc.Role, acc.Sites = role, now.Sites
		if err := w.PutAccount(acc); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "role-changed", Text: fmt.Sprintf("Account of %s, %s%s", acc.Name, role, atSites(sites))})
	})
}

// Disable takes an account out of use or puts it back. Nobody disables their own, and
// the last administrator stays.
func Disable(ctx context.Context, store Accounts, by cases.Actor, id string, off bool) error {
	kind := "account-enabled"
	if off {
		kind = "account-disabled"
	}
	return Change(ctx, store, by, id, kind, "", func(w cases.Writer, a *cases.Account) error {
		if off && a.ID == by.ID {
			return cases.Errorf(cases.Refused, "You cannot disable your own account. Ask another administrator")
		}
		if off && a.Role == cases.Administrator {
			if err := notLast(w, *a); err != nil {
				return err
			}
		}
		a.Disabled = off
		if off {
			a.Link = nil
		}
		return nil
	})
}

// notLast refuses when no other administrator could sign in.
func notLast(r cases.Reader, acc cases.Account) error {
	list, err := r.Accounts()
	if err != nil {
		return err
	}
	for _, a := range list {
		if a.ID != acc.ID && a.Role == cases.Administrator && !a.Disabled && !a.Invited() {
			return nil
		}
	}
	return cases.Errorf(cases.Refused, "%s is the last administrator who can sign in. Make another one first", acc.Name)
}

// Unlock forgets the failures of an account, so that it can be signed in to at once.
func Unlock(ctx context.Context, store Accounts, by cases.Actor, id string) error {
	return Change(ctx, store, by, id, "account-unlocked", "", func(_ cases.Writer, a *cases.Account) error {
		a.Failed, a.FailedAt = 0, 0
		for i := range a.Devices {
			a.Devices[i].Failed, a.Devices[i].FailedAt = 0, 0
		}
		return nil
	})
}

// Locked tells whether nobody can sign in to an account from a device that it was not
// used on before.
func Locked(acc *cases.Account) bool { return acc.Failed >= maxFailed }
