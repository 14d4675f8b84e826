package web

import (
	"net/http"
	"net/url"
	"strings"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

// escapeQuery writes an address so that it can stand in a query.
func escapeQuery(s string) string { return url.QueryEscape(s) }

// safeNext is an address of this server to go to after sign-in, or "". Only a
// plain path is accepted: "//host", "/\host" and schemes lead elsewhere.
func safeNext(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") ||
		strings.ContainsAny(next, "\\\r\n\t") || strings.HasPrefix(next, "/sign-") {
		return ""
	}
	return next
}

// signInForm shows GET /sign-in.
func (s *server) signInForm(c Ctx) error {
	p := s.signInPage("", c.QueryParam("next"))
	if s.Auth.SignedOut(c.Request().Context()) || c.QueryParam("next") != "" {
		p.Notice = "Sign in to go on. After some minutes without use you are signed out; what was saved is kept."
	}
	if c.QueryParam("out") != "" {
		p.Notice = "You are signed out."
	}
	s.offerService(c, p)
	if c.QueryParam("chosen") != "" {
		p.Notice = "Your password is set. Sign in with it now."
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) signInPage(email, next string) *templates.SignInPage {
	return &templates.SignInPage{
		Base:     templates.Base{Name: "Sign in"},
		Email:    templates.Field{ID: "email", Label: "Work email", Value: email, Width: "w20", InputMode: "email", Complete: "username", NoSpell: true},
		Password: templates.Field{ID: "password"},
		Next:     safeNext(next), Demo: s.Demo, Service: s.serviceLink(safeNext(next), false),
	}
}

// signIn answers POST /sign-in.
func (s *server) signIn(c Ctx) error {
	form := c.Request().PostForm
	email, password, next := form.Get("email"), form.Get("password"), form.Get("next")
	p := s.signInPage(email, next)
	switch {
	case strings.TrimSpace(email) == "":
		p.Email.Error = "Enter your work email"
	case password == "":
		p.Password.Error = "Enter your password"
	}
	status := http.StatusUnprocessableEntity
	if p.Email.Error == "" && p.Password.Error == "" {
		e, err := s.Auth.SignIn(c.Request().Context(), email, password, s.visit(c, email))
		if err == nil {
			return s.entered(c, e, next)
		}
		switch cases.KindOf(err) {
		case cases.Invalid, cases.Refused:
			p.Email.Error = textOf(err)
		default:
			return err
		}
		if cases.KindOf(err) == cases.Refused {
			status = http.StatusTooManyRequests
		}
	}
	for _, f := range []templates.Field{p.Email, p.Password} {
		if f.Error != "" {
			p.Problems = append(p.Problems, templates.Problem{Field: f.ID, Text: f.Error})
		}
	}
	return s.render(c, status, p)
}

// visit is where a request comes from, for an attempt on an account.
func (s *server) visit(c Ctx, id string) auth.Visit {
	r := c.Request()
	return auth.Visit{Address: c.RealIP(), Browser: browserWords(r.UserAgent()), Device: s.Auth.Device(r, id)}
}

// entered leads on from a sign-in: to the second factor, or to the page asked for.
func (s *server) entered(c Ctx, e auth.Entry, next string) error {
	next = safeNext(next)
	switch e.Next {
	case auth.Code:
		return c.Redirect(http.StatusSeeOther, "/sign-in/code?next="+escapeQuery(next))
	case auth.NewCodes:
		return c.Redirect(http.StatusSeeOther, "/sign-in/set-up?next="+escapeQuery(next))
	}
	s.Auth.KeepDevice(c.Response(), e.Account.ID, e.Device)
	if next == "" || next == "/" {
		next = homes[e.Account.Role]
	}
	return c.Redirect(http.StatusSeeOther, next)
}

// browserWords is the family of a browser and of its system, as the browser names them.
func browserWords(agent string) string {
	find := func(list [][2]string, none string) string {
		for _, x := range list {
			if strings.Contains(agent, x[0]) {
				return x[1]
			}
		}
		return none
	}
	family := find([][2]string{{"Edg/", "Edge"}, {"OPR/", "Opera"}, {"Firefox/", "Firefox"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"}}, "Other browser")
	system := find([][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android"}, {"Windows", "Windows"}, {"Mac OS X", "Mac"}, {"CrOS", "Chromebook"}, {"Linux", "Linux"}}, "")
	if system != "" {
		family += " on " + system
	}
	return family
}

// signOut answers POST /sign-out.
func (s *server) signOut(c Ctx) error {
	to := s.afterSignOut(c)
	if err := s.Auth.SignOut(c.Request().Context()); err != nil {
		return err
	}
	c.Response().Header().Set("Clear-Site-Data", `"cache", "storage"`)
	return c.Redirect(http.StatusSeeOther, to)
}

// home answers GET / with the first page of the role.
func (s *server) home(c Ctx) error {
	return c.Redirect(http.StatusSeeOther, homes[userOf(c).Role])
}

// stay answers GET /stay, which the page asks for to keep the session in use.
func (s *server) stay(c Ctx) error { return c.NoContent(http.StatusNoContent) }
