package auth

import (
	"context"
	"crypto/rand"
	"fmt"
	"image/color"
	"slices"
	"strings"
	"time"

	"dunlin/cases"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/totp"
)

// Values of the second factor: codes by time as in RFC 6238, six digits each 30 s, a
// step early or late accepted; ten recovery codes of 120 random bits.
const (
	stepSeconds   = 30
	recoveryCodes = 10
	halfFor       = 10 * time.Minute
)

// half remembers in a new session who has shown the password.
func (g *Guard) half(ctx context.Context, acc cases.Account) error {
	if err := g.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("auth: new session: %w", err)
	}
	g.sessions.Remove(ctx, keyUser)
	g.sessions.Put(ctx, keyToken, NewToken())
	g.sessions.Put(ctx, keyHalf, acc.ID)
	g.sessions.Put(ctx, keyHalfAt, stamp(g.now()))
	g.sessions.Put(ctx, keyMark, mark(acc.Hash))
	return nil
}

func (g *Guard) forgetHalf(ctx context.Context) {
	g.sessions.Remove(ctx, keyHalf)
	g.sessions.Remove(ctx, keyHalfAt)
}

// Half is who has shown the password in this session and not yet the second factor,
// for 10 minutes.
func (g *Guard) Half(ctx context.Context) (acc cases.Account, ok bool) {
	id := g.sessions.GetString(ctx, keyHalf)
	if id == "" || g.now().Sub(unix(g.sessions.GetString(ctx, keyHalfAt))) > halfFor {
		return acc, false
	}
	acc, err := g.account(ctx, id)
	return acc, err == nil && !acc.Disabled && mark(acc.Hash) == g.sessions.GetString(ctx, keyMark)
}

// errHalf is a second factor shown without a password before.
var errHalf = cases.Errorf(cases.Refused, "Sign in with your password again: more than 10 minutes have passed")

// SignInCode ends a sign-in with a code of the second factor or a recovery code.
func (g *Guard) SignInCode(ctx context.Context, code string, v Visit) (Entry, error) {
	acc, ok := g.Half(ctx)
	if !ok || acc.Factor == nil {
		return Entry{}, errHalf
	}
	acc, err := g.attempt(ctx, acc.ID, v, func(ctx context.Context, acc cases.Account, _ bool) (bool, error) {
		return g.useCode(ctx, acc, code)
	})
	if cases.KindOf(err) == cases.Invalid {
		err = invalid("code", "The code is not right, or it was used already. Wait for the next one")
	}
	if err != nil {
		return Entry{}, err
	}
	return g.open(ctx, acc, v, true)
}

// useCode tells whether a code is right, and uses it up.
func (g *Guard) useCode(ctx context.Context, acc cases.Account, code string) (ok bool, err error) {
	err = g.store.Update(ctx, actor(acc), func(w cases.Writer) error {
		a, err := w.Account(acc.ID)
		if err != nil || a.Factor == nil {
			return err
		}
		if step := stepOf(a.Factor.Secret, code, g.now(), a.Factor.Step); step > 0 {
			a.Factor.Step, ok = step, true
			return w.PutAccount(a)
		}
		sum := digest(plain(code))
		i := slices.IndexFunc(a.Factor.Codes, func(c string) bool { return same(c, sum) })
		if i < 0 {
			return nil
		}
		a.Factor.Codes, ok = slices.Delete(a.Factor.Codes, i, i+1), true
		if err := w.PutAccount(a); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "recovery-code-used", Text: fmt.Sprintf("%s has %d left", a.Name, len(a.Factor.Codes))})
	})
	return ok && err == nil, err
}

// stepOf is the step of time whose code this is, after the last one used; 0 for none.
func stepOf(secret, code string, now time.Time, last int64) int64 {
	code = strings.Join(strings.Fields(code), "")
	for d := int64(-1); d <= 1; d++ {
		step := now.Unix()/stepSeconds + d
		want, err := totp.GenerateCodeCustom(secret, time.Unix(step*stepSeconds, 0), totp.ValidateOpts{Period: stepSeconds, Digits: otp.DigitsSix, Algorithm: otp.AlgorithmSHA1})
		if err == nil && same(want, code) && step > last {
			return step
		}
	}
	return 0
}

// plain is a recovery code without its spaces and lines, in capitals.
func plain(code string) string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "-", "", "\t", "").Replace(code))
}

// NewFactor is a second factor that is being set up: the secret as text and as modules
// of a QR code, row by row.
type NewFactor struct {
	Secret string
	QR     [][]bool
}

// keySecret is where a session keeps the secret that is being set up.
const keySecret = "factor"

// SetUp begins to set up a second factor for the account, or goes on with the one begun
// in this session.
func (g *Guard) SetUp(ctx context.Context, acc cases.Account) (f NewFactor, err error) {
	if f.Secret = g.Kept(ctx, keySecret); f.Secret == "" {
		k, err := totp.Generate(totp.GenerateOpts{Issuer: "Dunlin", AccountName: acc.ID})
		if err != nil {
			return f, fmt.Errorf("auth: second factor: %w", err)
		}
		f.Secret = k.Secret()
		g.Keep(ctx, keySecret, f.Secret)
	}
	k, err := otp.NewKeyFromURL(otpURL(g.program, acc.ID, f.Secret))
	if err != nil {
		return f, fmt.Errorf("auth: second factor: %w", err)
	}
	f.QR, err = modules(k)
	return f, err
}

// otpURL is the address that an app for codes reads from the QR code.
func otpURL(program, id, secret string) string {
	issuer := "Dunlin"
	if program != "" {
		issuer += " " + program
	}
	issuer = strings.ReplaceAll(strings.ReplaceAll(escape(issuer), ":", ""), "%3A", "")
	return "otpauth://totp/" + issuer + ":" + escape(id) + "?secret=" + secret + "&issuer=" + issuer + "&period=30&digits=6&algorithm=SHA1"
}

// modules reads the dark modules of a QR code from its image, which is drawn with a
// whole number of pixels a module.
func modules(k *otp.Key) ([][]bool, error) {
	const size = 512
	img, err := k.Image(size, size)
	if err != nil {
		return nil, fmt.Errorf("auth: QR code: %w", err)
	}
	dark := func(x, y int) bool { return color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 128 }
	first := 0
	for first < size && !dark(first, first) {
		first++
	}
	run := first
	for run < size && dark(run, first) {
		run++
	}
	step := (run - first) / 7 // a finder pattern is seven modules wide
	if step < 1 {
		return nil, fmt.Errorf("auth: the QR code cannot be read back")
	}
	n := (size - 2*first) / step
	out := make([][]bool, n)
	for y := range out {
		out[y] = make([]bool, n)
		for x := range out[y] {
			out[y][x] = dark(first+x*step+step/2, first+y*step+step/2)
		}
	}
	return out, nil
}

// ConfirmFactor ends setting up: the code shows that the app has the secret. It gives
// the recovery codes, the only time that they can be seen.
func (g *Guard) ConfirmFactor(ctx context.Context, acc cases.Account, code string) ([]string, error) {
	secret := g.Kept(ctx, keySecret)
	step := int64(0)
	if secret != "" {
		step = stepOf(secret, code, g.now(), 0)
	}
	if step == 0 {
		return nil, invalid("code", "The code is not right. Check that the clock of the phone is right, and enter the code that is shown now")
	}
	codes, sums := newCodes()
	err := Change(ctx, g.store, actor(acc), acc.ID, "second-factor-set", "", func(w cases.Writer, a *cases.Account) error {
		a.Factor = &cases.SecondFactor{Secret: secret, Step: step, Codes: sums, Since: w.Now().UTC()}
		return nil
	})
	if err != nil {
		return nil, err
	}
	g.Take(ctx, keySecret)
	if g.sessions.GetString(ctx, keyUser) == acc.ID {
		g.sessions.Put(ctx, keySecond, "yes")
	}
	return codes, nil
}

// EnterWithFactor opens the session of who had to set up a second factor first.
func (g *Guard) EnterWithFactor(ctx context.Context, v Visit) (Entry, error) {
	acc, ok := g.Half(ctx)
	if !ok || acc.Factor == nil {
		return Entry{}, errHalf
	}
	return g.open(ctx, acc, v, true)
}

// NewCodes gives an account ten new recovery codes; the old ones are worth nothing.
func (g *Guard) NewCodes(ctx context.Context, acc cases.Account) ([]string, error) {
	codes, sums := newCodes()
	return codes, Change(ctx, g.store, actor(acc), acc.ID, "recovery-codes-made", "", func(_ cases.Writer, a *cases.Account) error {
		if a.Factor == nil {
			return cases.Errorf(cases.Refused, "There is no second factor yet. Set it up first")
		}
		a.Factor.Codes = sums
		return nil
	})
}

func newCodes() (codes, sums []string) {
	for range recoveryCodes {
		c := rand.Text()[:24]
		sums = append(sums, digest(c))
		var parts []string
		for i := 0; i < len(c); i += 4 {
			parts = append(parts, c[i:i+4])
		}
		codes = append(codes, strings.Join(parts, "-"))
	}
	return codes, sums
}

// DropFactor takes an account's second factor away: by the person, or by an
// administrator with a reason. The person's sessions go on.
func DropFactor(ctx context.Context, store Accounts, by cases.Actor, id, reason string) error {
	if reason != "" {
		reason = ": " + reason
	}
	return Change(ctx, store, by, id, "second-factor-off", reason, func(_ cases.Writer, a *cases.Account) error {
		if a.Factor == nil {
			return cases.Errorf(cases.Refused, "%s has no second factor", a.Name)
		}
		a.Factor = nil
		return nil
	})
}
