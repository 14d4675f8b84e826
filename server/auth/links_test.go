package auth

import (
	"context"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

var boss = cases.Actor{ID: "theo@alder-bay.example", Name: "Theo Marsh", Role: cases.Administrator}

// use chooses a password by a link.
func (w *world) use(token, password string) (err error) {
	w.do(func(ctx context.Context) { _, err = w.guard.UseLink(ctx, token, password) })
	return err
}

//asvs:6.4.1
func TestInvitation(t *testing.T) {
	w := newWorld(t)
	acc, token, err := Invite(t.Context(), w.shelf, boss, Person{ID: "Dagny@Alder-Bay.example", Name: "Dagny Achterberg", Role: cases.Nurse, Sites: []string{"heron"}})
	if err != nil {
		t.Fatal(err)
	}
	if len(token) < 22 || strings.Contains(acc.Link.Hash, token) || !acc.Invited() {
		t.Errorf("%q %+v", token, acc)
	}
	if err := w.signIn(acc.ID, ""); err == nil {
		t.Error("signed in without a password")
	}
	if err := w.use(token, "short"); err == nil || !strings.Contains(err.Error(), "at least 15") {
		t.Errorf("short password: %v", err)
	}
	if err := w.use(token+"x", good); cases.KindOf(err) != cases.NotFound {
		t.Errorf("another token: %v", err)
	}
	if err := w.use(token, good); err != nil {
		t.Fatal(err)
	}
	if err := w.use(token, good); cases.KindOf(err) != cases.NotFound {
		t.Errorf("used twice: %v", err)
	}
	if err := w.signIn(acc.ID, good); err != nil {
		t.Error(err)
	}
	if a, _ := w.user(); a.Role != cases.Nurse || !a.AtSite("heron") || a.AtSite("marsh") {
		t.Errorf("%+v", a)
	}
	if _, _, err := Invite(t.Context(), w.shelf, boss, Person{ID: acc.ID, Name: "D", Role: cases.Nurse}); cases.KindOf(err) != cases.Invalid {
		t.Errorf("invited twice: %v", err)
	}
}

//asvs:6.4.1
func TestLinkEnds(t *testing.T) {
	w := newWorld(t)
	link := func() string {
		token, err := NewLink(t.Context(), w.shelf, boss, wren)
		if err != nil {
			t.Fatal(err)
		}
		return token
	}
	first, second := link(), link()
	if err := w.use(first, good); err == nil {
		t.Error("a replaced link was good")
	}
	w.now = w.now.Add(73 * time.Hour)
	if err := w.use(second, good); err == nil {
		t.Error("a link was good after 72 hours")
	}
	third := link()
	w.change(wren, func(a *cases.Account) { a.Disabled = true })
	if err := w.use(third, good); err == nil {
		t.Error("a link of a disabled account was good")
	}
	if _, err := NewLink(t.Context(), w.shelf, boss, wren); cases.KindOf(err) != cases.Refused {
		t.Errorf("a link for a disabled account: %v", err)
	}
}

// A new password by link ends the sessions of the old one and unlocks the account.
//
//asvs:6.4.6
func TestLinkEndsSessions(t *testing.T) {
	w := newWorld(t)
	if err := w.signIn(wren, good); err != nil {
		t.Fatal(err)
	}
	w.change(wren, func(a *cases.Account) { a.Failed = maxFailed })
	token, err := NewLink(t.Context(), w.shelf, boss, wren)
	if err != nil {
		t.Fatal(err)
	}
	if _, in := w.user(); !in {
		t.Error("the session ended before the link was used")
	}
	b := w.elsewhere("192.0.2.8")
	if err := b.use(token, "heron tide ferry stone"); err != nil {
		t.Fatal(err)
	}
	if _, in := w.user(); in {
		t.Error("a session of the old password goes on")
	}
	if err := b.signIn(wren, "heron tide ferry stone"); err != nil {
		t.Error(err)
	}
}

//asvs:6.3.2
func TestFirstLink(t *testing.T) {
	w := newWorld(t)
	make := func(token string) error {
		_, err := w.guard.MakeFirst(t.Context(), token, "theo@alder-bay.example", "Theo Marsh", "heron tide ferry stone")
		return err
	}
	if err := make(w.guard.First()); err == nil {
		t.Fatal("made although there is an account")
	}
	clear(w.shelf.accounts)
	old, token := w.guard.First(), ""
	if token = w.guard.First(); make(old) == nil || make("") == nil {
		t.Fatal("made by a link that was replaced, or by none")
	}
	if _, err := w.guard.MakeFirst(t.Context(), token, "theo@alder-bay.example", "Theo Marsh", "short"); cases.KindOf(err) != cases.Invalid {
		t.Errorf("short password: %v", err)
	}
	if err := make(token); err != nil {
		t.Fatal(err)
	}
	clear(w.shelf.accounts)
	if make(token) == nil {
		t.Error("made twice by one link")
	}
	w.guard.first = first{digest("x"), time.Now().Add(-time.Second)}
	if make("x") == nil {
		t.Error("made by a link that is too old")
	}
}

func TestUsersAreChanged(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	if _, err := Create(ctx, w.shelf, boss, Person{ID: boss.ID, Name: boss.Name, Role: cases.Administrator}, "heron tide ferry stone"); err != nil {
		t.Fatal(err)
	}
	invited, _, err := Invite(ctx, w.shelf, boss, Person{ID: "ada@alder-bay.example", Name: "Ada Moss", Role: cases.Administrator})
	if err != nil {
		t.Fatal(err)
	}
	other := cases.Actor{ID: "x", Role: cases.Administrator}
	if err := Disable(ctx, w.shelf, other, boss.ID, true); err == nil || !strings.Contains(err.Error(), "last administrator") {
		t.Errorf("the last administrator was disabled: %v", err)
	}
	if err := SetRole(ctx, w.shelf, other, boss.ID, cases.Manager, nil); err == nil {
		t.Error("the last administrator was demoted")
	}
	w.change(invited.ID, func(a *cases.Account) { a.Hash = "x" })
	if err := Disable(ctx, w.shelf, boss, boss.ID, true); err == nil || !strings.Contains(err.Error(), "your own") {
		t.Errorf("disabled oneself: %v", err)
	}
	if err := SetRole(ctx, w.shelf, boss, boss.ID, cases.Manager, nil); err != nil {
		t.Errorf("one of two administrators: %v", err)
	}
	if err := SetRole(ctx, w.shelf, boss, wren, cases.Nurse, []string{"heron"}); err != nil || !w.shelf.accounts[wren].AtSite("heron") || w.shelf.accounts[wren].AtSite("marsh") {
		t.Errorf("%v %+v", err, w.shelf.accounts[wren])
	}
	if err := SetRole(ctx, w.shelf, boss, wren, cases.Manager, []string{"heron"}); cases.KindOf(err) != cases.Invalid {
		t.Errorf("sites of a manager: %v", err)
	}
	if err := DropFactor(ctx, w.shelf, boss, wren, "lost phone"); cases.KindOf(err) != cases.Refused {
		t.Errorf("dropped what was not there: %v", err)
	}
}
