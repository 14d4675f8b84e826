package web

import (
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

// peopleRoutes are the pages of accounts: a person's own, and those of all for the
// administrator.
func (s *server) peopleRoutes() []route {
	return []route{
		get("/prove", anyone, s.proveForm),
		post("/prove", anyone, s.proveNow),
		get("/me/password", anyone, s.proving(s.passwordForm)),
		post("/me/password", anyone, s.proving(s.changePassword)),
		get("/me/second-factor", anyone, s.proving(s.factorForm)),
		post("/me/second-factor", anyone, s.proving(s.setFactor)),
		post("/me/second-factor/off", anyone, s.proving(s.dropFactor)),
		post("/me/codes", anyone, s.proving(s.newCodes)),
		get("/me/codes", anyone, s.codesPage),
		get("/me/codes.txt", anyone, s.codesFile),
		post("/me/codes/kept", anyone, s.codesKept),
		post("/me/sessions", anyone, s.endMySessions),

		get(usersPath, administer, s.usersPage),
		post(usersPath+"/second-factor", administer, s.proving(s.demandFactor)),
		get(usersPath+"/new", administer, s.inviteForm),
		post(usersPath+"/new", administer, s.proving(s.invite)),
		get(usersPath+"/:key", administer, s.userPage),
		post(usersPath+"/:key", administer, s.proving(s.changeRole)),
		post(usersPath+"/:key/:do", administer, s.proving(s.actOnUser)),
	}
}

// mySignIn fills the part of My settings about signing in.
func (s *server) mySignIn(c Ctx, p *templates.MePage) error {
	acc := userOf(c)
	list, err := s.Auth.Sessions(c.Request().Context(), acc.ID)
	if err != nil {
		return err
	}
	demanded, err := s.Auth.Demanded(c.Request().Context(), acc)
	if err != nil {
		return err
	}
	p.Sessions = s.sessionRows(list)
	p.Account = []templates.Fact{{Name: "Work email", Text: acc.ID}, {Name: "Role", Text: roleWords[acc.Role]}}
	if acc.Role == cases.Nurse {
		p.Account = append(p.Account, templates.Fact{Name: "Test sites", Text: s.sitesOf(acc.Sites)})
	}
	if p.HasCodes = acc.Factor != nil; !p.HasCodes {
		p.Factor = "There is no second factor: the password alone opens the account."
		return nil
	}
	p.MayDrop = !demanded
	p.Factor = "A second factor is asked for at each sign-in. " + templates.Count(len(acc.Factor.Codes), "recovery code is", "recovery codes are") + " left."
	return nil
}

// sitesOf names the test sites of a nurse.
func (s *server) sitesOf(keys []string) string {
	if len(keys) == 0 {
		return "Every site"
	}
	names := make([]string, 0, len(keys))
	for _, k := range keys {
		x, _ := s.siteOf(k)
		names = append(names, shown(x.Name))
	}
	return strings.Join(names, ", ")
}

func (s *server) sessionRows(list []auth.Session) []templates.SignedInRow {
	out := make([]templates.SignedInRow, 0, len(list))
	for _, x := range list {
		out = append(out, templates.SignedInRow{ID: x.ID, Browser: or(x.Browser, "Not known"), From: or(x.From, "an address not known"), Since: s.stamp(x.Since), Used: s.stamp(x.Used), Second: x.Second, Own: x.Own})
	}
	return out
}

// passwordForm answers GET /me/password.
func (s *server) passwordForm(c Ctx) error {
	return s.render(c, http.StatusOK, s.myPassword(c, s.emptyForm()))
}

func (s *server) myPassword(c Ctx, f *form) *templates.PasswordPage {
	acc := userOf(c)
	return &templates.PasswordPage{Base: templates.Base{Name: "Change my password"}, Head: "Change my password", Lead: "You stay signed in here. Everywhere else you are signed out.",
		Action: "/me/password", ID: acc.ID, Password: passwordField(f), Least: s.least(c, acc), Submit: "Change password"}
}

// changePassword answers POST /me/password.
func (s *server) changePassword(c Ctx) error {
	f := s.readForm(c)
	if _, sent := f.values["password"]; !sent { // the password was asked for again in between, and is never kept
		return s.render(c, http.StatusOK, s.myPassword(c, f))
	}
	err := s.Auth.ChangePassword(c.Request().Context(), f.typed("password"))
	if err == nil {
		return s.saved(c, "/me", templates.Notice{Head: "Password changed.", Text: "You were signed out everywhere else."})
	}
	if !f.takeField(err) {
		return err
	}
	return s.invalid(c, s.myPassword(c, f), f.problems)
}

// factorForm answers GET /me/second-factor.
func (s *server) factorForm(c Ctx) error {
	p, err := s.factorPage(c, userOf(c), s.emptyForm())
	if err != nil {
		return err
	}
	p.Back = "/me"
	return s.render(c, http.StatusOK, p)
}

// setFactor answers POST /me/second-factor.
func (s *server) setFactor(c Ctx) error {
	codes, err := s.confirmFactor(c, userOf(c), s.readForm(c))
	if err != nil || codes == nil {
		return err
	}
	return s.showCodes(c, codes, "/me")
}

// dropFactor answers POST /me/second-factor/off.
func (s *server) dropFactor(c Ctx) error {
	acc := userOf(c)
	demanded, err := s.Auth.Demanded(c.Request().Context(), acc)
	if err != nil {
		return err
	}
	if demanded {
		return cases.Errorf(cases.Refused, "Your account must have a second factor. You can set up another phone instead.")
	}
	if err := auth.DropFactor(c.Request().Context(), s.Store, actorOf(c), acc.ID, ""); err != nil {
		return err
	}
	return s.saved(c, "/me", templates.Notice{Kind: "warn", Head: "Second factor taken away.", Text: "The password alone opens your account now."})
}

// newCodes answers POST /me/codes.
func (s *server) newCodes(c Ctx) error {
	codes, err := s.Auth.NewCodes(c.Request().Context(), userOf(c))
	if err != nil {
		return err
	}
	return s.showCodes(c, codes, "/me")
}

// codesPage answers GET /me/codes, as long as the person has not said that they are kept.
func (s *server) codesPage(c Ctx) error {
	text := s.Auth.Kept(c.Request().Context(), codesKey)
	if text == "" {
		return c.Redirect(http.StatusSeeOther, "/me")
	}
	return s.render(c, http.StatusOK, &templates.CodesPage{Base: templates.Base{Name: "Keep your recovery codes"}, Codes: strings.Split(text, "\n"), Next: safeNext(c.QueryParam("next"))})
}

// codesFile answers GET /me/codes.txt.
func (s *server) codesFile(c Ctx) error {
	text := s.Auth.Kept(c.Request().Context(), codesKey)
	if text == "" {
		return cases.Errorf(cases.NotFound, "These codes are not shown any more. Make new ones on the page of your settings.")
	}
	c.Response().Header().Set("Content-Disposition", `attachment; filename="recovery-codes.txt"`)
	return c.Blob(http.StatusOK, "text/plain; charset=utf-8", []byte("Dunlin recovery codes. Each is good once.\n\n"+text+"\n"))
}

// codesKept answers POST /me/codes/kept.
func (s *server) codesKept(c Ctx) error {
	s.Auth.Take(c.Request().Context(), codesKey)
	return s.saved(c, or(safeNext(s.readForm(c).typed("next")), "/me"), templates.Notice{Head: "Second factor set up.", Text: "From now on a code is asked for when you sign in."})
}

// endMySessions answers POST /me/sessions: one of the person's sessions, or all others.
func (s *server) endMySessions(c Ctx) error {
	id := s.readForm(c).typed("id")
	n, err := s.Auth.EndSessions(c.Request().Context(), actorOf(c), userOf(c), func(x auth.Session) bool { return !x.Own && (id == "others" || x.ID == id) })
	if err != nil {
		return err
	}
	return s.saved(c, "/me", endedNotice(n))
}

func endedNotice(n int) templates.Notice {
	if n == 0 {
		return templates.Notice{Kind: "info", Head: "Nothing to end.", Text: "There was no such session any more."}
	}
	return templates.Notice{Head: "Ended:", Text: templates.Count(n, "session", "sessions") + ". They count no more from the next request on."}
}
