package auth

import (
	"context"
	"encoding/json"
	"errors"
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
	settings map[string]json.RawMessage
	notes    []string
	now      *time.Time
}

func (s *shelf) Now() time.Time { return *s.now }
func (s *shelf) Accounts() (list []cases.Account, err error) {
	for _, a := range s.accounts {
		list = append(list, a)
	}
	return list, nil
}
func (s *shelf) Setting(name string) (json.RawMessage, bool, error) {
	v, ok := s.settings[name]
	return v, ok, nil
}
func (s *shelf) PutSetting(name string, v json.RawMessage) error { s.settings[name] = v; return nil }

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

	address string
	devices map[string]string // tokens of the known devices that the browser keeps
	next    Next
}

// elsewhere is another browser at another address.
func (w *world) elsewhere(address string) *world {
	return &world{t: w.t, shelf: w.shelf, guard: w.guard, now: w.now, address: address, devices: map[string]string{}}
}

func newWorld(t *testing.T) *world {
	w := &world{t: t, shelf: &shelf{accounts: map[string]cases.Account{}, settings: map[string]json.RawMessage{}}, now: time.Date(2026, 3, 5, 8, 0, 0, 0, time.UTC), address: "192.0.2.1", devices: map[string]string{}}
	w.shelf.now = &w.now
	_, err := Create(t.Context(), w.shelf, cases.Actor{}, Person{ID: " Wren@Alder-Bay.example ", Name: "Wren Castellano", Role: cases.Coordinator}, good)
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
	return w.try(id, func(ctx context.Context, v Visit) (Entry, error) { return w.guard.SignIn(ctx, id, password, v) })
}

func (w *world) code(id, code string) error {
	return w.try(id, func(ctx context.Context, v Visit) (Entry, error) { return w.guard.SignInCode(ctx, code, v) })
}

func (w *world) try(id string, f func(context.Context, Visit) (Entry, error)) (err error) {
	w.do(func(ctx context.Context) {
		var e Entry
		if e, err = f(ctx, Visit{Address: w.address, Browser: "Firefox", Device: w.devices[fold(id)]}); err != nil {
			return
		}
		w.next = e.Next
		if e.Device != "" {
			w.devices[fold(id)] = e.Device
		}
	})
	return err
}

// change changes an account as an administrator does.
func (w *world) change(id string, f func(*cases.Account)) {
	w.t.Helper()
	err := Change(w.t.Context(), w.shelf, cases.Actor{}, id, "account-changed", "", func(_ cases.Writer, a *cases.Account) error { f(a); return nil })
	if err != nil {
		w.t.Fatal(err)
	}
}

func (w *world) user() (a cases.Account, ok bool) {
	w.do(func(ctx context.Context) { a, ok = w.guard.User(ctx) })
	return a, ok
}

//asvs:7.2.4 7.4.1 3.3.4
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
//
//asvs:7.4.2 8.3.2 7.4.3
func TestUserIsReadAnew(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn("wren@alder-bay.example", good); err != nil {
		t.Fatal(err)
	}
	w.change("wren@alder-bay.example", func(a *cases.Account) { a.Role = cases.Nurse })
	if a, _ := w.user(); a.Role != cases.Nurse {
		t.Error("old role")
	}
	w.change("wren@alder-bay.example", func(a *cases.Account) { a.Disabled = true })
	if _, ok := w.user(); ok {
		t.Error("disabled account is still signed in")
	}
	w.change("wren@alder-bay.example", func(a *cases.Account) { a.Disabled = false })
	if err := SetPassword(t.Context(), w.shelf, cases.Actor{}, "wren@alder-bay.example", "another set of five words"); err != nil {
		t.Fatal(err)
	}
	if _, ok := w.user(); ok {
		t.Error("session of the old password goes on")
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

func TestCreateRefuses(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		p     Person
		field string
	}{{Person{"wren@alder-bay.example", "Wren", cases.Nurse, nil}, "email"}, {Person{"", "A", cases.Nurse, nil}, "email"}, {Person{"a b", "A", cases.Nurse, nil}, "email"},
		{Person{"a@b.example", " ", cases.Nurse, nil}, "name"}, {Person{"a@b.example", strings.Repeat("a", 81), cases.Nurse, nil}, "name"}, {Person{"a@b.example", "A\x00", cases.Nurse, nil}, "name"},
		{Person{"a@b.example", "A", cases.System, nil}, "role"}, {Person{"a@b.example", "A", cases.Manager, []string{"site-1"}}, "sites"}} {
		_, err := Create(t.Context(), w.shelf, cases.Actor{}, c.p, good)
		if e := (*cases.Error)(nil); !errors.As(err, &e) || e.Field != c.field || e.Text == "" {
			t.Errorf("%v: %v, want a fault of %s", c.p, err, c.field)
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
