package auth

import (
	"context"
	"net/url"
	"time"

	"dunlin/cases"
)

// linkFor is how long an invitation or a link to a new password is good.
const linkFor = 72 * time.Hour

func escape(s string) string { return url.PathEscape(s) }

// Invite makes an account without a password and gives the token of the link with which
// the person chooses one. It is good once, for 72 hours, and kept only as a checksum.
func Invite(ctx context.Context, store Accounts, by cases.Actor, p Person) (acc cases.Account, token string, err error) {
	if acc, err = p.check(); err != nil {
		return acc, "", err
	}
	token = NewToken()
	return acc, token, store.Update(ctx, by, func(w cases.Writer) error {
		acc.Link = &cases.AccountLink{Hash: digest(token), Expires: w.Now().Add(linkFor).UTC(), By: by.Name}
		return add(w, acc, "account-invited")
	})
}

// NewLink gives the token of a new link to a new password; one made before is worth
// nothing any more. The old password is good until the new one is chosen.
func NewLink(ctx context.Context, store Accounts, by cases.Actor, id string) (token string, err error) {
	token = NewToken()
	return token, Change(ctx, store, by, id, "password-link-made", "", func(w cases.Writer, a *cases.Account) error {
		if a.Disabled {
			return cases.Errorf(cases.Refused, "%s is disabled. Enable the account first", a.Name)
		}
		a.Link = &cases.AccountLink{Hash: digest(token), Expires: w.Now().Add(linkFor).UTC(), By: by.Name}
		return nil
	})
}

// errLink is a link that opens nothing: never made, used, replaced or too old.
var errLink = cases.Errorf(cases.NotFound, "This link cannot be used: it is good once, and for 72 hours. Ask an administrator for a new one")

// LinkOf is the account that a link was made for, while it is good.
func (g *Guard) LinkOf(ctx context.Context, token string) (acc cases.Account, err error) {
	sum := digest(token)
	err = g.store.View(ctx, func(r cases.Reader) error {
		list, err := r.Accounts()
		if err != nil {
			return err
		}
		found := false
		for _, a := range list {
			if a.Link != nil && same(a.Link.Hash, sum) && r.Now().Before(a.Link.Expires) && !a.Disabled {
				acc, found = a, true
			}
		}
		if !found {
			return errLink
		}
		return nil
	})
	return acc, err
}

// UseLink gives the account of a link the password that the person chose. The link is
// used up, failures are forgotten, and sessions of an older password end.
func (g *Guard) UseLink(ctx context.Context, token, password string) (acc cases.Account, err error) {
	if acc, err = g.LinkOf(ctx, token); err != nil {
		return acc, err
	}
	set, err := newPassword(ctx, g.store, acc.ID, password)
	if err != nil {
		return acc, err
	}
	sum := digest(token)
	err = Change(ctx, g.store, actor(acc), acc.ID, "password-chosen", "", func(w cases.Writer, a *cases.Account) error {
		if a.Link == nil || !same(a.Link.Hash, sum) || !w.Now().Before(a.Link.Expires) || a.Disabled {
			return errLink
		}
		set(a)
		return nil
	})
	if err != nil {
		return acc, err
	}
	_, err = g.EndSessions(ctx, actor(acc), acc, nil)
	return acc, err
}

// first is the link with which the first administrator is made.
type first struct {
	hash    string
	expires time.Time
}

// firstFor is how long the first link is good.
const firstFor = 15 * time.Minute

// First gives the token of the link that makes the first administrator. It is good for
// 15 minutes, once, and only while there is no account.
func (g *Guard) First() string {
	token := NewToken()
	g.mu.Lock()
	defer g.mu.Unlock()
	g.first = first{digest(token), time.Now().Add(firstFor)}
	return token
}

// errFirst is a first link that opens nothing.
var errFirst = cases.Errorf(cases.NotFound, "This link cannot be used: it is good once, for 15 minutes, and only while there is no account. Start the program again for a new one")

// IsFirst tells whether a token is that of the first link, while it is good. The clock
// is the machine's own, also where the program's is moved.
func (g *Guard) IsFirst(ctx context.Context, token string) error {
	g.mu.Lock()
	ok := g.first.hash != "" && same(g.first.hash, digest(token)) && time.Now().Before(g.first.expires)
	g.mu.Unlock()
	if !ok {
		return errFirst
	}
	return g.store.View(ctx, noAccount)
}

func noAccount(r cases.Reader) error {
	list, err := r.Accounts()
	if err == nil && len(list) > 0 {
		err = errFirst
	}
	return err
}

// MakeFirst makes the first administrator.
func (g *Guard) MakeFirst(ctx context.Context, token, id, name, password string) (cases.Account, error) {
	if err := g.IsFirst(ctx, token); err != nil {
		return cases.Account{}, err
	}
	acc, err := Person{ID: id, Name: name, Role: cases.Administrator}.check()
	if err != nil {
		return acc, err
	}
	if err := CheckPassword(password, acc.ID, acc.Name, MinPassword); err != nil {
		return acc, err
	}
	if acc.Hash, err = Hash(password); err != nil {
		return acc, err
	}
	err = g.store.Update(ctx, cases.Actor{ID: acc.ID, Name: acc.Name, Role: cases.System, Via: "first link"}, func(w cases.Writer) error {
		if err := noAccount(w); err != nil {
			return err
		}
		return add(w, acc, "account-created")
	})
	if err != nil {
		return acc, err
	}
	g.mu.Lock()
	g.first = first{}
	g.mu.Unlock()
	return acc, nil
}
