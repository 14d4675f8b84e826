package auth

import (
	"context"
	"fmt"
	"time"

	"dunlin/cases"
)

// provedFor is how long a shown password counts for what asks for it again.
const provedFor = 5 * time.Minute

// Recent tells whether the person showed the password in the last 5 minutes.
func (g *Guard) Recent(ctx context.Context) bool {
	ago := g.now().Sub(unix(g.sessions.GetString(ctx, keyProved)))
	return ago >= 0 && ago <= provedFor
}

// Prove asks the signed-in person for the password again. Who has none, because another
// service vouches for them, shows a code of the second factor. Failures count as those
// of a sign-in; the error is about the field "password".
func (g *Guard) Prove(ctx context.Context, password string, v Visit) error {
	acc, ok := g.User(ctx)
	if !ok {
		return errHalf
	}
	_, err := g.attempt(ctx, acc.ID, v, func(ctx context.Context, acc cases.Account, _ bool) (bool, error) {
		if acc.Hash == "" {
			return g.useCode(ctx, acc, password)
		}
		return matches(ctx, password, acc.Hash)
	})
	if cases.KindOf(err) == cases.Invalid {
		return invalid("password", "The password is not right")
	}
	if err == nil {
		g.sessions.Put(ctx, keyProved, stamp(g.now()))
	}
	return err
}

// ChangePassword gives the signed-in person, who has just shown the old one, a new
// password. The person's other sessions end.
func (g *Guard) ChangePassword(ctx context.Context, password string) error {
	acc, ok := g.User(ctx)
	if !ok || !g.Recent(ctx) {
		return errHalf
	}
	set, err := newPassword(ctx, g.store, acc.ID, password)
	if err != nil {
		return err
	}
	var hash string
	err = Change(ctx, g.store, actor(acc), acc.ID, "password-changed", "", func(_ cases.Writer, a *cases.Account) error {
		devices := a.Devices
		set(a)
		a.Devices, hash = devices, a.Hash
		return nil
	})
	if err != nil {
		return err
	}
	if err := g.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("auth: new session: %w", err)
	}
	g.sessions.Put(ctx, keyMark, mark(hash))
	own := g.sessions.GetString(ctx, keyID)
	_, err = g.EndSessions(ctx, actor(acc), acc, func(s Session) bool { return s.ID != own })
	return err
}
