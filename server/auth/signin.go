package auth

import (
	"context"
	"fmt"
	"time"

	"dunlin/cases"

	"golang.org/x/time/rate"
)

// wrong is the one answer to a wrong name, a wrong password and a disabled
// account, so that accounts cannot be guessed.
const wrong = "Email or password is not right"

// SignIn checks a sign-in name and password and opens a new session. address
// is the client's network address, for throttling. Errors have a text for
// people: wrong, or how long to wait.
func (g *Guard) SignIn(ctx context.Context, id, password, address string) (cases.Account, error) {
	if !g.allow(address) {
		return cases.Account{}, cases.Errorf(cases.Refused, "Too many tries from this place. Wait a minute, then try again")
	}
	id = fold(id)
	acc, err := g.account(ctx, id)
	if err != nil && cases.KindOf(err) != cases.NotFound {
		return cases.Account{}, err
	}
	found := err == nil
	if found {
		if err := g.mayTry(acc); err != nil {
			return cases.Account{}, err
		}
	}
	hash := acc.Hash
	if !found || hash == "" {
		hash = g.dummy
	}
	ok, err := matches(password, hash)
	if err != nil {
		return cases.Account{}, fmt.Errorf("auth: compare password: %w", err)
	}
	if !found || !ok || acc.Disabled {
		return cases.Account{}, g.failed(ctx, acc, found)
	}
	return acc, g.open(ctx, acc)
}

func (g *Guard) account(ctx context.Context, id string) (acc cases.Account, err error) {
	err = g.store.View(ctx, func(r cases.Reader) error {
		acc, err = r.Account(id)
		return err
	})
	return acc, err
}

// mayTry refuses while the account must wait after failures.
func (g *Guard) mayTry(acc cases.Account) error {
	if acc.Failed >= maxFailed {
		return cases.Errorf(cases.Refused, "This account is locked after %d failed tries. An administrator can set a new password", acc.Failed)
	}
	left := time.Unix(acc.FailedAt, 0).Add(wait(acc.Failed)).Sub(g.now())
	if acc.Failed < freeTries || left <= 0 {
		return nil
	}
	return cases.Errorf(cases.Refused, "Too many failed tries. Try again in %s", roughly(left))
}

// failed counts a failure of a known account and gives the error to show.
func (g *Guard) failed(ctx context.Context, acc cases.Account, found bool) error {
	text := wrong
	if found {
		err := g.store.Update(ctx, actor(acc), func(w cases.Writer) error {
			now, err := w.Account(acc.ID)
			if err != nil {
				return err
			}
			now.Failed, now.FailedAt = now.Failed+1, g.now().Unix()
			if err := w.PutAccount(now); err != nil {
				return err
			}
			return w.Note(cases.Event{Kind: "sign-in-failed", Text: fmt.Sprintf("Try %d failed", now.Failed)})
		})
		if err != nil {
			return err
		}
	}
	return &cases.Error{Kind: cases.Invalid, Field: "email", Text: text}
}

// open renews the session's token, so that a token known before sign-in is
// worth nothing after it.
func (g *Guard) open(ctx context.Context, acc cases.Account) error {
	if err := g.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("auth: new session: %w", err)
	}
	err := g.store.Update(ctx, actor(acc), func(w cases.Writer) error {
		if acc.Failed > 0 {
			acc.Failed, acc.FailedAt = 0, 0
			if err := w.PutAccount(acc); err != nil {
				return err
			}
		}
		return w.Note(cases.Event{Kind: "signed-in", Text: acc.Name})
	})
	if err != nil {
		return err
	}
	g.sessions.Put(ctx, keyUser, acc.ID)
	g.sessions.Put(ctx, keyMark, mark(acc.Hash))
	g.sessions.Put(ctx, keyToken, NewToken())
	return nil
}

func actor(acc cases.Account) cases.Actor {
	return cases.Actor{ID: acc.ID, Name: acc.Name, Role: acc.Role, Via: "web"}
}

// allow lets one address try ten times at once and then once every six seconds.
func (g *Guard) allow(address string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	l := g.perIP[address]
	if l == nil {
		if len(g.perIP) > 10_000 {
			clear(g.perIP)
		}
		l = rate.NewLimiter(rate.Every(6*time.Second), 10)
		g.perIP[address] = l
	}
	return l.AllowN(g.now(), 1)
}

// roughly is a duration in words, rounded up.
func roughly(d time.Duration) string {
	if d <= time.Minute {
		return fmt.Sprintf("%d seconds", int((d+time.Second-1)/time.Second))
	}
	return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
}
