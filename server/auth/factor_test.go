package auth

import (
	"context"
	"image"
	"image/color"
	"strings"
	"testing"
	"time"

	"dunlin/cases"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/pquerna/otp"
	"github.com/pquerna/otp/totp"
)

// withFactor gives wren a second factor and leads back the secret and recovery codes.
func (w *world) withFactor() (secret string, codes []string) {
	w.t.Helper()
	if err := w.signIn(wren, good); err != nil {
		w.t.Fatal(err)
	}
	w.do(func(ctx context.Context) {
		acc, _ := w.guard.User(ctx)
		f, err := w.guard.SetUp(ctx, acc)
		if err != nil {
			w.t.Fatal(err)
		}
		again, err := w.guard.SetUp(ctx, acc)
		if err != nil || again.Secret != f.Secret {
			w.t.Error("the secret changed while it was set up")
		}
		if _, err := w.guard.ConfirmFactor(ctx, acc, "000000"); cases.KindOf(err) != cases.Invalid {
			w.t.Errorf("a wrong code: %v", err)
		}
		secret = f.Secret
		if codes, err = w.guard.ConfirmFactor(ctx, acc, w.at(secret, 0)); err != nil {
			w.t.Fatal(err)
		}
	})
	return secret, codes
}

// at is the code that an app shows some time from now.
func (w *world) at(secret string, d time.Duration) string {
	w.t.Helper()
	c, err := totp.GenerateCode(secret, w.guard.now().Add(d))
	if err != nil {
		w.t.Fatal(err)
	}
	return c
}

// The first two values of the test vectors of RFC 6238, appendix B (SHA-1, eight
// digits there, the last six of them here).
func TestCodesByTime(t *testing.T) {
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ" // 12345678901234567890
	for at, code := range map[int64]string{59: "287082", 1111111109: "081804", 1111111111: "050471", 1234567890: "005924", 2000000000: "279037"} {
		if got := stepOf(secret, code[:3]+" "+code[3:], time.Unix(at, 0), 0); got != at/30 {
			t.Errorf("%d: step %d", at, got)
		}
		if got := stepOf(secret, code, time.Unix(at, 0), at/30); got != 0 {
			t.Errorf("%d: a used code was taken", at)
		}
	}
}

func TestSecondFactor(t *testing.T) {
	w := newWorld(t)
	secret, codes := w.withFactor()
	if len(codes) != 10 || len(codes[0]) != 29 {
		t.Fatalf("recovery codes %q", codes)
	}
	for _, c := range codes {
		for _, a := range w.shelf.accounts[wren].Factor.Codes {
			if strings.Contains(a, plain(c)) {
				t.Error("a recovery code is kept as it is")
			}
		}
	}
	b := w.elsewhere("192.0.2.7")
	if err := b.signIn(wren, good); err != nil || b.next != Code {
		t.Fatalf("%v, next %d", err, b.next)
	}
	if _, in := b.user(); in {
		t.Fatal("signed in by the password alone")
	}
	for _, bad := range []string{"", "123456", w.at(secret, 0), w.at(secret, 90*time.Second), w.at(secret, -90*time.Second)} { // the present one was used to set up
		if err := b.code(wren, bad); cases.KindOf(err) != cases.Invalid {
			t.Errorf("%q: %v", bad, err)
		}
	}
	w.now = w.now.Add(90 * time.Second) // after the failures
	if err := b.code(wren, w.at(secret, 30*time.Second)); err != nil {
		t.Fatalf("a code of the next step: %v", err)
	}
	if acc, in := b.user(); !in || acc.Failed != 0 {
		t.Errorf("%v %+v", in, acc)
	}
	c := w.elsewhere("192.0.2.8")
	if err := c.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	if err := c.code(wren, w.at(secret, 0)); err == nil {
		t.Error("a code before the last one used was taken")
	}
	if err := c.code(wren, strings.ToLower(codes[3])); err != nil {
		t.Errorf("recovery code: %v", err)
	}
	d := w.elsewhere("192.0.2.9")
	if err := d.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	if err := d.code(wren, codes[3]); err == nil {
		t.Error("a recovery code was good twice")
	}
	w.now = w.now.Add(11 * time.Minute)
	if err := d.code(wren, codes[4]); cases.KindOf(err) != cases.Refused {
		t.Errorf("eleven minutes after the password: %v", err)
	}
}

// The picture is read back by a reader of another library, and says what the key says.
func TestPictureOfTheKey(t *testing.T) {
	w := newWorld(t)
	w.do(func(ctx context.Context) {
		f, err := w.guard.SetUp(ctx, w.shelf.accounts[wren])
		if err != nil {
			t.Fatal(err)
		}
		const module, margin = 4, 4
		side := (len(f.QR) + 2*margin) * module
		img := image.NewGray(image.Rect(0, 0, side, side))
		for y := range side {
			for x := range side {
				img.SetGray(x, y, color.Gray{Y: 255})
				i, j := y/module-margin, x/module-margin
				if i >= 0 && j >= 0 && i < len(f.QR) && j < len(f.QR) && f.QR[i][j] {
					img.SetGray(x, y, color.Gray{})
				}
			}
		}
		bmp, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		got, err := qrcode.NewQRCodeReader().Decode(bmp, nil)
		if err != nil {
			t.Fatal(err)
		}
		k, err := otp.NewKeyFromURL(got.GetText())
		if err != nil || k.Secret() != f.Secret || k.AccountName() != wren || k.Issuer() != "Dunlin" || k.Period() != 30 || k.Digits() != otp.DigitsSix {
			t.Errorf("%s: %v", got.GetText(), err)
		}
	})
}

// A role that must have a second factor sets it up before it is let in.
//
//asvs:6.3.3
func TestSecondFactorIsDemanded(t *testing.T) {
	w := newWorld(t)
	if err := w.shelf.Update(t.Context(), cases.Actor{}, func(x cases.Writer) error { return SetFactorRoles(x, []cases.Role{cases.Coordinator}) }); err != nil {
		t.Fatal(err)
	}
	if err := w.signIn(wren, good); err != nil || w.next != NewCodes {
		t.Fatalf("%v, next %d", err, w.next)
	}
	if _, in := w.user(); in {
		t.Fatal("let in without")
	}
	if err := w.try(wren, func(ctx context.Context, v Visit) (Entry, error) { return w.guard.EnterWithFactor(ctx, v) }); err == nil {
		t.Fatal("let in before a second factor was set up")
	}
	w.do(func(ctx context.Context) {
		acc, ok := w.guard.Half(ctx)
		f, err := w.guard.SetUp(ctx, acc)
		if err != nil || !ok || len(f.QR) < 21 || !f.QR[0][0] {
			t.Fatalf("%v %v %v", ok, err, f)
		}
		if _, err := w.guard.ConfirmFactor(ctx, acc, w.at(f.Secret, 0)); err != nil {
			t.Fatal(err)
		}
	})
	if err := w.try(wren, func(ctx context.Context, v Visit) (Entry, error) { return w.guard.EnterWithFactor(ctx, v) }); err != nil {
		t.Fatal(err)
	}
	if _, in := w.user(); !in {
		t.Fatal("not let in")
	}
	// Eight characters are enough now, and keep the second factor even for a role without.
	if err := SetPassword(t.Context(), w.shelf, cases.Actor{}, wren, "tidemark"); err != nil {
		t.Fatal(err)
	}
	w.change(wren, func(a *cases.Account) { a.Role, a.Factor = cases.Nurse, nil })
	if err := w.signIn(wren, "tidemark"); err != nil || w.next != NewCodes {
		t.Errorf("a short password alone: %v, next %d", err, w.next)
	}
	if err := SetPassword(t.Context(), w.shelf, cases.Actor{}, wren, "tidemark"); err == nil {
		t.Error("a short password without second factor was taken")
	}
}
