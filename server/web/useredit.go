package web

import (
	"errors"
	"net/http"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

// inviteForm answers GET /settings/users/new.
func (s *server) inviteForm(c Ctx) error {
	return s.render(c, http.StatusOK, s.invitePage(c, s.emptyForm()))
}

func (s *server) invitePage(c Ctx, f *form) *templates.UserPage {
	p := &templates.UserPage{Base: templates.Base{Name: "Invite a person", Current: "settings"}, Head: "Invite a person", Links: settingsTabs(c, "users"), Action: usersPath + "/new", New: true}
	p.Person = f.field(templates.Field{ID: "name", Label: "Name", Width: "w20", NoSpell: true})
	p.Email = f.field(templates.Field{ID: "email", Label: "Work email", Hint: "The name to sign in with", Width: "w20", InputMode: "email", NoSpell: true})
	s.roleParts(p, f)
	return p
}

// invite answers POST /settings/users/new.
func (s *server) invite(c Ctx) error {
	f := s.readForm(c)
	x := auth.Person{Name: f.need("name", "Name", "Enter the person's name", auth.MaxName), ID: f.need("email", "Work email", "Enter the work email", auth.MaxID)}
	x.Role, x.Sites = s.readRole(f)
	if f.ok() {
		acc, token, err := auth.Invite(c.Request().Context(), s.Store, actorOf(c), x)
		if err == nil {
			s.Auth.Keep(c.Request().Context(), linkKey(acc.ID), s.linkAddress(c, token))
			return s.saved(c, usersPath+"/"+accountKey(acc.ID), templates.Notice{Head: "Invited:", Text: acc.Name + ". Hand over the link below."})
		}
		if !f.takeField(err) {
			return err
		}
	}
	return s.invalid(c, s.invitePage(c, f), f.problems)
}

// changeRole answers POST /settings/users/:key.
func (s *server) changeRole(c Ctx) error {
	acc, err := s.loadUser(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	role, sites := s.readRole(f)
	if f.ok() {
		err := auth.SetRole(c.Request().Context(), s.Store, actorOf(c), acc.ID, role, sites)
		if err == nil {
			return s.saved(c, usersPath+"/"+accountKey(acc.ID), templates.Notice{Head: "Role saved:", Text: acc.Name + ", " + string(role) + ". It counts from the next request on."})
		}
		if !f.takeActError(err, "role") {
			return err
		}
	}
	return s.userAgain(c, acc, f)
}

// userAgain shows the page of an account with what is wrong.
func (s *server) userAgain(c Ctx, acc cases.Account, f *form) error {
	if f.typed("role") == "" {
		f.values.Set("role", string(acc.Role))
		f.values["sites"] = acc.Sites
	}
	p, err := s.userView(c, acc, f)
	if err != nil {
		return err
	}
	return s.invalid(c, p, f.problems)
}

// takeActError makes what refuses an act a problem of the form.
func (f *form) takeActError(err error, field string) bool {
	var e *cases.Error
	if !errors.As(err, &e) || e.Kind != cases.Refused && e.Kind != cases.Invalid {
		return false
	}
	f.failAt(field, field+"-0", "%s", e.Text)
	return true
}

// actOnUser answers POST /settings/users/:key/:do.
func (s *server) actOnUser(c Ctx) error {
	acc, err := s.loadUser(c)
	if err != nil {
		return err
	}
	f, ctx, by := s.readForm(c), c.Request().Context(), actorOf(c)
	n := templates.Notice{Text: acc.Name + "."}
	switch c.Param("do") {
	case "link":
		n.Head = "Link made:"
		var token string
		if token, err = auth.NewLink(ctx, s.Store, by, acc.ID); err == nil {
			s.Auth.Keep(ctx, linkKey(acc.ID), s.linkAddress(c, token))
		}
	case "unlock":
		n.Head, err = "Failed tries forgotten:", auth.Unlock(ctx, s.Store, by, acc.ID)
	case "factor-off":
		n.Head = "Second factor taken away:"
		reason := f.need("reason", "Reason", "Enter the reason", 200)
		if !f.ok() {
			return s.userAgain(c, acc, f)
		}
		if err = auth.DropFactor(ctx, s.Store, by, acc.ID, reason); err == nil {
			_, err = s.Auth.EndSessions(ctx, by, acc, nil)
		}
	case "end-sessions":
		id, ended := f.typed("id"), 0
		ended, err = s.Auth.EndSessions(ctx, by, acc, func(x auth.Session) bool { return id == "" || x.ID == id })
		n = endedNotice(ended)
	case "disable", "enable":
		n.Head = "Account " + c.Param("do") + "d:"
		if err = auth.Disable(ctx, s.Store, by, acc.ID, c.Param("do") == "disable"); err == nil && c.Param("do") == "disable" {
			_, err = s.Auth.EndSessions(ctx, by, acc, nil)
		}
	default:
		return cases.Errorf(cases.NotFound, "There is no such page.")
	}
	if err != nil {
		if !f.takeActError(err, "role") {
			return err
		}
		return s.userAgain(c, acc, f)
	}
	return s.saved(c, usersPath+"/"+accountKey(acc.ID), n)
}
