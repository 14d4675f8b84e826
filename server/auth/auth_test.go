package auth

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// shelf keeps accounts in memory. Methods of the store that auth does not use
// are left nil.
type shelf struct {
	cases.Writer
	accounts map[string]cases.Account
	notes    []string
}

func (s *shelf) View(_ context.Context, f func(cases.Reader) error) error { return f(s) }
func (s *shelf) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	return f(s)
}
func (s *shelf) Note(e cases.Event) error { s.notes = append(s.notes, e.Kind); return nil }
func (s *shelf) PutAccount(a cases.Account) error {
	s.accounts[a.ID] = a
	return nil
}
func (s *shelf) Account(id string) (cases.Account, error) {
	a, ok := s.accounts[id]
	if !ok {
		return a, cases.Errorf(cases.NotFound, "no account")
	}
	return a, nil
}

const good = "marsh reed tide stone"

type world struct {
	t     *testing.T
	shelf *shelf
	guard *Guard
	now   time.Time
	jar   []*http.Cookie
}

func newWorld(t *testing.T) *world {
	w := &world{t: t, shelf: &shelf{accounts: map[string]cases.Account{}}, now: time.Date(2026, 3, 5, 8, 0, 0, 0, time.UTC)}
	_, err := Create(t.Context(), w.shelf, cases.Actor{}, " Wren@Alder-Bay.example ", "Wren Castellano", cases.Coordinator, good)
	if err != nil {
		t.Fatal(err)
	}
	w.guard, err = New(w.shelf, Options{Now: func() time.Time { return w.now }})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// do runs f inside a request that carries the cookies so far.
func (w *world) do(f func(ctx context.Context)) {
	r := httptest.NewRequest("GET", "/", nil)
	for _, c := range w.jar {
		r.AddCookie(c)
	}
	rec := httptest.NewRecorder()
	w.guard.Wrap(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { f(r.Context()) })).ServeHTTP(rec, r)
	if c := rec.Result().Cookies(); len(c) > 0 {
		w.jar = c
	}
}

func (w *world) signIn(id, password string) (err error) {
	w.do(func(ctx context.Context) { _, err = w.guard.SignIn(ctx, id, password, "192.0.2.1") })
	return err
}

func (w *world) user() (a cases.Account, ok bool) {
	w.do(func(ctx context.Context) { a, ok = w.guard.User(ctx) })
	return a, ok
}

func TestSignIn(t *testing.T) {
	w := newWorld(t)
	var before, after string
	w.do(func(ctx context.Context) { before = w.guard.Token(ctx) })
	anonymous := w.jar[0].Value
	if err := w.signIn("WREN@alder-bay.example", good); err != nil {
		t.Fatal(err)
	}
	w.do(func(ctx context.Context) { after = w.guard.Token(ctx) })
	if a, ok := w.user(); !ok || a.Role != cases.Coordinator {
		t.Errorf("user %+v, %v", a, ok)
	}
	if before == after || anonymous == w.jar[0].Value {
		t.Error("token or session id not renewed at sign-in")
	}
	c := w.jar[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.MaxAge != 0 || !c.Expires.IsZero() || c.Path != "/" {
		t.Errorf("cookie %+v", c)
	}
	w.do(func(ctx context.Context) {
		if !w.guard.ValidToken(ctx, after) || w.guard.ValidToken(ctx, before) || w.guard.ValidToken(ctx, "") {
			t.Error("tokens compared wrongly")
		}
		if err := w.guard.SignOut(ctx); err != nil {
			t.Error(err)
		}
	})
	if _, ok := w.user(); ok {
		t.Error("signed in after signing out")
	}
}

func TestSignInRefused(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct{ id, password string }{{"wren@alder-bay.example", "wrong"}, {"nobody@alder-bay.example", good}, {"wren@alder-bay.example", ""}} {
		err := w.signIn(c.id, c.password)
		if cases.KindOf(err) != cases.Invalid || !strings.Contains(err.Error(), wrong) {
			t.Errorf("%v: %v", c, err)
		}
	}
	acc := w.shelf.accounts["wren@alder-bay.example"]
	acc.Disabled = true
	w.shelf.accounts[acc.ID] = acc
	if err := w.signIn(acc.ID, good); err == nil || !strings.Contains(err.Error(), wrong) {
		t.Errorf("disabled account: %v", err)
	}
}

// A disabled account, a new role and a new password count at the next request.
func TestUserIsReadAnew(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn("wren@alder-bay.example", good); err != nil {
		t.Fatal(err)
	}
	change := func(f func(*cases.Account)) {
		if err := Change(t.Context(), w.shelf, cases.Actor{}, "wren@alder-bay.example", "account-changed", func(a *cases.Account) error { f(a); return nil }); err != nil {
			t.Fatal(err)
		}
	}
	change(func(a *cases.Account) { a.Role = cases.Nurse })
	if a, _ := w.user(); a.Role != cases.Nurse {
		t.Error("old role")
	}
	change(func(a *cases.Account) { a.Disabled = true })
	if _, ok := w.user(); ok {
		t.Error("disabled account is still signed in")
	}
	change(func(a *cases.Account) { a.Disabled = false })
	if err := SetPassword(t.Context(), w.shelf, cases.Actor{}, "wren@alder-bay.example", "another set of five words"); err != nil {
		t.Fatal(err)
	}
	if _, ok := w.user(); ok {
		t.Error("session of the old password goes on")
	}
}

func TestThrottle(t *testing.T) {
	w := newWorld(t)
	const id = "wren@alder-bay.example"
	for range freeTries {
		w.signIn(id, "wrong")
	}
	err := w.signIn(id, good)
	if cases.KindOf(err) != cases.Refused || !strings.Contains(err.Error(), "30 seconds") {
		t.Errorf("after %d failures: %v", freeTries, err)
	}
	w.now = w.now.Add(31 * time.Second)
	if err := w.signIn(id, good); err != nil {
		t.Errorf("after the wait: %v", err)
	}
	if n := w.shelf.accounts[id].Failed; n != 0 {
		t.Errorf("%d failures are kept after a good sign-in", n)
	}
	for range 20 {
		w.signIn("nobody@alder-bay.example", "x")
	}
	if err := w.signIn("nobody@alder-bay.example", "x"); cases.KindOf(err) != cases.Refused {
		t.Errorf("twenty tries from one address: %v", err)
	}
}

// The same session is written as the same bytes.
func TestCodec(t *testing.T) {
	values := map[string]any{"a": "1", "b": "2", "c": "3", "user": "x", "mark": "y"}
	at := time.Date(2026, 3, 5, 8, 0, 0, 123, time.FixedZone("EST", -5*3600))
	first, err := codec{}.Encode(at, values)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		again, _ := codec{}.Encode(at, values)
		if string(again) != string(first) {
			t.Fatalf("%s, then %s", first, again)
		}
	}
	back, got, err := codec{}.Decode(first)
	if err != nil || !back.Equal(at) || len(got) != len(values) || got["user"] != "x" {
		t.Errorf("%v %v %v", back, got, err)
	}
	if _, err := (codec{}).Encode(at, map[string]any{"n": 1}); err == nil {
		t.Error("a number was accepted")
	}
	if _, _, err := (codec{}).Decode([]byte("{")); err == nil {
		t.Error("nonsense was accepted")
	}
}

func TestKeep(t *testing.T) {
	w := newWorld(t)
	w.do(func(ctx context.Context) { w.guard.Keep(ctx, "flash", "saved") })
	w.do(func(ctx context.Context) {
		if got := w.guard.Kept(ctx, "flash"); got != "saved" {
			t.Errorf("kept %q", got)
		}
		if a, b := w.guard.Take(ctx, "flash"), w.guard.Take(ctx, "flash"); a != "saved" || b != "" {
			t.Errorf("took %q, then %q", a, b)
		}
	})
}

func TestWait(t *testing.T) {
	for failed, want := range map[int]time.Duration{0: 0, 4: 0, 5: 30 * time.Second, 6: time.Minute, 8: 4 * time.Minute, 12: time.Hour, 99: time.Hour} {
		if got := wait(failed); got != want {
			t.Errorf("wait(%d) = %v, want %v", failed, got, want)
		}
	}
}

func TestCheckPassword(t *testing.T) {
	for _, c := range []struct{ password, want string }{
		{good, ""}, {"short", "at least 15"}, {strings.Repeat("ab", 10), "different"}, {strings.Repeat("abcdefgh", 40), "at most"},
		{"my dunlin sign-in words", "name of the program"}, {"hello castellano hello", "person's name"}, {"wren.c and some words", "sign-in name"},
	} {
		err := CheckPassword(c.password, "wren.c@alder-bay.example", "Wren Castellano")
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%q: %v, want %q", c.password, err, c.want)
		}
	}
}

func TestCreateRefuses(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		id, name string
		role     cases.Role
	}{{"wren@alder-bay.example", "Wren", cases.Nurse}, {"", "A", cases.Nurse}, {"a b", "A", cases.Nurse}, {"a@b.example", " ", cases.Nurse}, {"a@b.example", "A", cases.System}} {
		if _, err := Create(t.Context(), w.shelf, cases.Actor{}, c.id, c.name, c.role, good); err == nil {
			t.Errorf("%v was accepted", c)
		}
	}
}

func BenchmarkHash(b *testing.B) {
	for b.Loop() {
		if _, err := Hash(good); err != nil {
			b.Fatal(err)
		}
	}
}
