package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/server/auth/openid"
	"dunlin/templates"
)

// Addresses of signing in through another service.
const (
	servicePath     = "/sign-in/service"
	ServiceBackPath = servicePath + "/back" // where the service sends people back to
)

// SignInService is a service through which staff may sign in; openid.Service is one.
type SignInService interface {
	Title() string // its name, for people
	Begin(ctx context.Context, again bool) (address, ticket string, err error)
	Finish(ctx context.Context, ticket string, back url.Values) (openid.Person, error)
	Trouble() bool      // it did not answer lately
	EndSession() string // where its own session is ended, or ""
}

// Keys of what a session keeps about the service.
const (
	ticketKey    = "service-ticket"  // in memory, until the person comes back
	afterKey     = "service-next"    // the page to go to then
	problemKey   = "service-problem" // what went wrong, for the next page
	byServiceKey = "by-service"      // "yes": the session was opened through it
)

// serviceLink offers the service on a page; nil when there is none. Again asks for the
// password anew.
func (s *server) serviceLink(next string, again bool) *templates.ServiceLink {
	if s.SignIn == nil {
		return nil
	}
	q := url.Values{}
	if next != "" {
		q.Set("next", next)
	}
	if again {
		q.Set("again", "1")
	}
	l := &templates.ServiceLink{Name: s.SignIn.Title(), Href: servicePath, Trouble: s.SignIn.Trouble()}
	if len(q) > 0 {
		l.Href += "?" + q.Encode()
	}
	return l
}

// toService answers GET /sign-in/service: it sends the person to the service. A link
// does it, since a form may lead only to this site.
func (s *server) toService(c Ctx) error {
	ctx, next, again := c.Request().Context(), safeNext(c.QueryParam("next")), c.QueryParam("again") != "" && userOf(c).ID != ""
	if s.SignIn == nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	address, ticket, err := s.SignIn.Begin(ctx, again)
	if err != nil {
		return s.serviceFailed(c, err, next, again)
	}
	s.Auth.Keep(ctx, ticketKey, ticket)
	s.Auth.Keep(ctx, afterKey, next)
	return c.Redirect(http.StatusSeeOther, address)
}

// fromService answers the address that the service sends people back to. Whatever comes
// of it, the next page has an address without the code.
func (s *server) fromService(c Ctx) error {
	ctx := c.Request().Context()
	if s.SignIn == nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	ticket, next := s.Auth.Take(ctx, ticketKey), s.Auth.Take(ctx, afterKey)
	again := userOf(c).ID != ""
	p, err := s.SignIn.Finish(ctx, ticket, c.QueryParams())
	if err != nil {
		return s.serviceFailed(c, err, next, again)
	}
	if p.Again {
		return s.shownAgain(c, p, next)
	}
	e, err := s.Auth.Enter(ctx, p.Email, s.visit(c, p.Email), p.Second)
	if err != nil {
		return s.notEntered(c, err, next)
	}
	s.Auth.Set(ctx, byServiceKey, "yes")
	if e.Next == auth.Done {
		s.Auth.ShownAt(ctx, p.At)
	}
	return s.entered(c, e, next)
}

// shownAgain notes that the person who is signed in showed the service who they are.
func (s *server) shownAgain(c Ctx, p openid.Person, next string) error {
	if acc := userOf(c); acc.ID == "" || !strings.EqualFold(acc.ID, p.Email) {
		return s.serviceFailed(c, cases.Errorf(cases.Refused, "%s names another person than the one who is signed in here. Nothing was changed", s.SignIn.Title()), next, true)
	}
	s.Auth.ShownAt(c.Request().Context(), p.At)
	if next == "" {
		return s.saved(c, "/me", templates.Notice{Head: "You showed who you are.", Text: "If a form waits in another tab, go back there within 5 minutes and press its button."})
	}
	return c.Redirect(http.StatusSeeOther, next)
}

// notEntered notes a person whom the service vouches for and who has no way in.
func (s *server) notEntered(c Ctx, err error, next string) error {
	text := "The account is disabled"
	switch cases.KindOf(err) {
	case cases.NotFound:
		text = "There is no account for the email"
		err = cases.Errorf(cases.Refused, "There is no account in Dunlin for the work email that %s gives. Ask an administrator to invite you", s.SignIn.Title())
	case cases.Refused:
	default:
		return err
	}
	nobody := cases.Actor{ID: "nobody", Name: "Nobody", Role: cases.System, Via: "web"}
	if nerr := s.Store.Update(c.Request().Context(), nobody, func(w cases.Writer) error {
		return w.Note(cases.Event{Kind: "sign-in-failed", Text: "Through " + s.SignIn.Title() + ": " + text})
	}); nerr != nil {
		return nerr
	}
	return s.serviceFailed(c, err, next, false)
}

// serviceFailed shows what went wrong on the page that the person came from.
func (s *server) serviceFailed(c Ctx, err error, next string, again bool) error {
	text := textOf(err)
	if text == "" {
		return err
	}
	s.Auth.Keep(c.Request().Context(), problemKey, text)
	to := "/sign-in"
	if again {
		to = "/prove"
	}
	if next != "" {
		to += "?next=" + escapeQuery(next)
	}
	return c.Redirect(http.StatusSeeOther, to)
}

// serviceProblem is what went wrong a moment ago, for the page that offers the service.
func (s *server) serviceProblem(c Ctx) []templates.Problem {
	if s.SignIn == nil {
		return nil
	}
	if text := s.Auth.Take(c.Request().Context(), problemKey); text != "" {
		return []templates.Problem{{Field: "service", Text: text}}
	}
	return nil
}

// afterSignOut is the page after signing out. Who came through the service may still be
// signed in there.
func (s *server) afterSignOut(c Ctx) string {
	if s.SignIn != nil && s.Auth.Get(c.Request().Context(), byServiceKey) != "" {
		return "/sign-in?out=service"
	}
	return "/sign-in?out=1"
}

// offerService adds to the sign-in page what the service needs there.
func (s *server) offerService(c Ctx, p *templates.SignInPage) {
	p.Problems = append(p.Problems, s.serviceProblem(c)...)
	if s.SignIn == nil || c.QueryParam("out") != "service" {
		return
	}
	p.Notice = "You are signed out of Dunlin. You may still be signed in with " + s.SignIn.Title() + "."
	if end := s.SignIn.EndSession(); end != "" {
		p.End = &templates.Link{Href: end, Text: "Sign out there too"}
	}
}

// proveElsewhere offers to show the service again who one is, to people who came
// through it.
func (s *server) proveElsewhere(c Ctx, next string) *templates.ServiceLink {
	if s.SignIn == nil || s.Auth.Get(c.Request().Context(), byServiceKey) == "" {
		return nil
	}
	return s.serviceLink(next, true)
}
