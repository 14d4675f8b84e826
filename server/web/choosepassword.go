package web

import (
	"errors"
	"net/http"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

// Where links to choose a password lead, and the link of the first start.
const (
	linkPath  = "/set-password/"
	firstPath = "/first/"
)

// LinkPath is the path of a link with which a person chooses a password.
func LinkPath(token string) string { return linkPath + token }

// FirstPath is the path of the link that makes the first administrator.
func FirstPath(token string) string { return firstPath + token }

// secretFields are fields of forms that are never shown or sent again.
var secretFields = []string{"password", "prove", "code"}

func passwordField(f *form) templates.Field {
	return templates.Field{ID: "password", Label: "New password", Complete: "new-password", Error: f.errs["password"]}
}

// linkForm answers GET /set-password/:token. Looking at the page uses nothing up.
func (s *server) linkForm(c Ctx) error {
	acc, err := s.Auth.LinkOf(c.Request().Context(), c.Param("token"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.linkPage(c, acc, s.emptyForm()))
}

func (s *server) linkPage(c Ctx, acc cases.Account, f *form) *templates.PasswordPage {
	p := &templates.PasswordPage{Base: templates.Base{Name: "Choose a password"}, Head: "Choose a password", Lead: "For " + acc.Name + ", " + acc.ID + ".",
		Action: c.Request().URL.Path, ID: acc.ID, Password: passwordField(f), Submit: "Set password", Least: s.least(c, acc)}
	return p
}

// least is how many characters a password of an account must have.
func (s *server) least(c Ctx, acc cases.Account) int {
	if demanded, err := s.Auth.Demanded(c.Request().Context(), acc); err == nil && demanded || acc.Factor != nil {
		return auth.MinWithCode
	}
	return auth.MinPassword
}

// useLink answers POST /set-password/:token.
func (s *server) useLink(c Ctx) error {
	ctx, f := c.Request().Context(), s.readForm(c)
	acc, err := s.Auth.LinkOf(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	if _, err = s.Auth.UseLink(ctx, c.Param("token"), f.typed("password")); err == nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in?chosen=1")
	}
	if !f.takeField(err) {
		return err
	}
	return s.invalid(c, s.linkPage(c, acc, f), f.problems)
}

// firstForm answers GET /first/:token, the link printed at the first start.
func (s *server) firstForm(c Ctx) error {
	if err := s.Auth.IsFirst(c.Request().Context(), c.Param("token")); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, firstPage(c, s.emptyForm()))
}

func firstPage(c Ctx, f *form) *templates.PasswordPage {
	email := f.field(templates.Field{ID: "email", Label: "Work email", Width: "w20", InputMode: "email", Complete: "username", NoSpell: true})
	name := f.field(templates.Field{ID: "name", Label: "Your name", Width: "w20", Complete: "name", NoSpell: true})
	return &templates.PasswordPage{Base: templates.Base{Name: "First administrator"}, Head: "Make the first administrator",
		Lead:   "There is no account yet. An administrator invites the others, and sees no infants.",
		Action: c.Request().URL.Path, Email: &email, FullName: &name, Password: passwordField(f), Least: auth.MinPassword, Submit: "Make the account"}
}

// makeFirst answers POST /first/:token.
func (s *server) makeFirst(c Ctx) error {
	f := s.readForm(c)
	_, err := s.Auth.MakeFirst(c.Request().Context(), c.Param("token"), f.text("email", "Work email", auth.MaxID), f.text("name", "Your name", auth.MaxName), f.typed("password"))
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in?chosen=1")
	}
	if !f.takeField(err) {
		return err
	}
	return s.invalid(c, firstPage(c, f), f.problems)
}

// takeField makes an error about one field a problem of the form.
func (f *form) takeField(err error) bool {
	var e *cases.Error
	if !errors.As(err, &e) || e.Kind != cases.Invalid || e.Field == "" {
		return false
	}
	f.fail(e.Field, "%s", e.Text)
	return true
}
