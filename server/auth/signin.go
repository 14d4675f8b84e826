package auth

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"dunlin/cases"
)

// wrong is the one answer to a wrong name, a wrong password, a disabled account and one
// without a password, so that accounts cannot be guessed.
const wrong = "Email or password is not right"

// Next is what a sign-in needs after the password.
type Next int

// What a sign-in needs.
const (
	Done     Next = iota // nothing: signed in
	Code                 // a code of the second factor
	NewCodes             // a second factor must be set up first
)

// Entry is how far a sign-in has come. Device is the token to keep in the browser when
// it became a known device just now, else "".
type Entry struct {
	Account cases.Account
	Next    Next
	Device  string
}

// SignIn checks a sign-in name and password. When that is enough it opens a new
// session; else the session remembers it for 10 minutes while the second factor is
// asked for. Errors have a text for people: wrong, or how long to wait.
func (g *Guard) SignIn(ctx context.Context, id, password string, v Visit) (Entry, error) {
	id = fold(id)
	acc, err := g.attempt(ctx, id, v, func(ctx context.Context, acc cases.Account, found bool) (bool, error) {
		hash := acc.Hash
		if hash == "" {
			hash = g.dummy
		}
		ok, err := matches(ctx, password, hash)
		if err != nil {
			return false, fmt.Errorf("auth: compare password: %w", err)
		}
		return ok && found && acc.Hash != "" && !acc.Disabled, nil
	})
	if err != nil {
		return Entry{}, err
	}
	return g.enter(ctx, acc, v, false)
}

// Enter goes on with a sign-in whose first factor another service vouched for; second
// tells whether that service asked for a second one too. The account must exist.
func (g *Guard) Enter(ctx context.Context, id string, v Visit, second bool) (Entry, error) {
	acc, err := g.account(ctx, fold(id))
	if err == nil && acc.Disabled {
		err = cases.Errorf(cases.Refused, "This account is disabled. An administrator can enable it")
	}
	if err != nil {
		return Entry{}, err
	}
	return g.enter(ctx, acc, v, second)
}

// enter opens a session, or remembers that a second factor is still to be shown.
func (g *Guard) enter(ctx context.Context, acc cases.Account, v Visit, second bool) (Entry, error) {
	demanded, err := g.Demanded(ctx, acc)
	switch {
	case err != nil:
		return Entry{}, err
	case !second && acc.Factor != nil:
		return Entry{Account: acc, Next: Code}, g.half(ctx, acc)
	case !second && demanded:
		return Entry{Account: acc, Next: NewCodes}, g.half(ctx, acc)
	}
	return g.open(ctx, acc, v, second)
}

// Demanded tells whether an account must have a second factor: its role must, or its
// password is too short to stand alone.
func (g *Guard) Demanded(ctx context.Context, acc cases.Account) (demanded bool, err error) {
	err = g.store.View(ctx, func(r cases.Reader) error {
		roles, err := FactorRoles(r)
		demanded = acc.Short || slices.Contains(roles, acc.Role)
		return err
	})
	return demanded, err
}

func (g *Guard) account(ctx context.Context, id string) (acc cases.Account, err error) {
	err = g.store.View(ctx, func(r cases.Reader) error {
		acc, err = r.Account(id)
		return err
	})
	return acc, err
}

// attempt lets one guess be made for an account, if it need not wait, and counts it
// when it fails. An account that does not exist is treated alike, in words and in time.
func (g *Guard) attempt(ctx context.Context, id string, v Visit, guess func(context.Context, cases.Account, bool) (bool, error)) (cases.Account, error) {
	now := g.now()
	acc, err := g.account(ctx, id)
	if err != nil && cases.KindOf(err) != cases.NotFound {
		return acc, err
	}
	known := err == nil && device(&acc, v.Device, now) >= 0
	if !known && g.throttle.blocked(v.Address, now) {
		return acc, cases.Errorf(cases.Refused, "Too many failed tries from this place. Wait a minute, then try again")
	}
	leave, err := g.throttle.enter(ctx, known)
	if err != nil {
		return acc, err
	}
	defer leave()
	if acc, err = g.account(ctx, id); err != nil && cases.KindOf(err) != cases.NotFound { // others may have failed meanwhile
		return acc, err
	}
	found := err == nil
	t, most := g.count(&acc, found, id, v.Device, now)
	if err := mayTry(*t, most, now); err != nil {
		return acc, err
	}
	ok, err := guess(ctx, acc, found)
	if err != nil || ok {
		return acc, err
	}
	if !known {
		g.throttle.strike(v.Address, now)
	}
	return acc, g.failed(ctx, acc, found, id, v.Device)
}

// count is where the failures of an attempt are counted, and how many are allowed.
func (g *Guard) count(acc *cases.Account, found bool, id, token string, now time.Time) (*tries, int) {
	if !found {
		return g.throttle.place(id), maxFailed
	}
	if i := device(acc, token, now); i >= 0 {
		return &tries{acc.Devices[i].Failed, acc.Devices[i].FailedAt}, maxDeviceFailed
	}
	return &tries{acc.Failed, acc.FailedAt}, maxFailed
}

// failed counts a failure and gives the error to show. A name without an account makes
// an audit entry too, without the name: people type passwords into the wrong field.
func (g *Guard) failed(ctx context.Context, acc cases.Account, found bool, id, token string) error {
	now, who := g.now(), cases.Actor{ID: "nobody", Name: "Nobody", Role: cases.System, Via: "web"}
	if found {
		who = actor(acc)
	}
	err := g.store.Update(ctx, who, func(w cases.Writer) error {
		if !found {
			t := g.throttle.place(id)
			t.failed, t.at = t.failed+1, now.Unix()
			return w.Note(cases.Event{Kind: "sign-in-failed", Text: "There is no such account"})
		}
		acc, err := w.Account(acc.ID)
		if err != nil {
			return err
		}
		n := 0
		if i := device(&acc, token, now); i >= 0 {
			acc.Devices[i].Failed, acc.Devices[i].FailedAt = acc.Devices[i].Failed+1, now.Unix()
			n = acc.Devices[i].Failed
		} else {
			acc.Failed, acc.FailedAt = acc.Failed+1, now.Unix()
			n = acc.Failed
		}
		if err := w.PutAccount(acc); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "sign-in-failed", Text: fmt.Sprintf("Try %d failed", n)})
	})
	if err != nil {
		return err
	}
	return &cases.Error{Kind: cases.Invalid, Field: "email", Text: wrong}
}

// open renews the session's token, so that a token known before sign-in is
// worth nothing after it, and notes the sign-in.
func (g *Guard) open(ctx context.Context, acc cases.Account, v Visit, second bool) (Entry, error) {
	if err := g.sessions.RenewToken(ctx); err != nil {
		return Entry{}, fmt.Errorf("auth: new session: %w", err)
	}
	e := Entry{}
	now := g.now()
	err := g.store.Update(ctx, actor(acc), func(w cases.Writer) error {
		a, err := w.Account(acc.ID)
		if err != nil {
			return err
		}
		if a.Disabled || a.Hash != acc.Hash {
			return cases.Errorf(cases.Refused, "This account was changed just now. Sign in again")
		}
		a.SignedIn = now.Unix()
		e.Device = welcome(&a, v.Device, now)
		e.Account = a
		if err := w.PutAccount(a); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "signed-in", Text: acc.Name})
	})
	if err != nil {
		return Entry{}, err
	}
	g.forgetHalf(ctx)
	for k, text := range map[string]string{keyUser: acc.ID, keyMark: mark(acc.Hash), keyToken: NewToken(), keyID: NewToken(),
		keySince: stamp(now), keyProved: stamp(now), keyFrom: v.Address, keyWith: v.Browser} {
		g.sessions.Put(ctx, k, text)
	}
	if second {
		g.sessions.Put(ctx, keySecond, "yes")
	}
	return e, nil
}

// welcome forgets the failures of where a good sign-in came from. A device that was not
// known becomes so: the token is given back, and the oldest of too many is forgotten.
func welcome(a *cases.Account, token string, now time.Time) (fresh string) {
	until := now.Add(deviceFor).Unix()
	if i := device(a, token, now); i >= 0 {
		a.Devices[i].Failed, a.Devices[i].FailedAt, a.Devices[i].Expires = 0, 0, until
		return ""
	}
	a.Failed, a.FailedAt = 0, 0
	fresh = NewToken()
	a.Devices = append(a.Devices, cases.KnownDevice{Hash: digest(fresh), Expires: until})
	slices.SortStableFunc(a.Devices, func(x, y cases.KnownDevice) int { return cmp.Compare(y.Expires, x.Expires) })
	a.Devices = a.Devices[:min(len(a.Devices), maxDevices)]
	return fresh
}

func actor(acc cases.Account) cases.Actor {
	return cases.Actor{ID: acc.ID, Name: acc.Name, Role: acc.Role, Via: "web"}
}

// roughly is a duration in words, rounded up.
func roughly(d time.Duration) string {
	if d <= time.Minute {
		return fmt.Sprintf("%d seconds", int((d+time.Second-1)/time.Second))
	}
	return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
}
