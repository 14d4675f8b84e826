package web

import (
	"net/http"

	"dunlin/templates"

	"github.com/labstack/echo/v4"
)

// proving goes around what reaches far: exports that name infants, merges, the
// administration of users. Who has not shown the password in the last 5 minutes is asked
// for it; a form that was sent is kept and sent again with the answer.
func (s *server) proving(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c Ctx) error {
		if s.recent(c) {
			return next(c)
		}
		if c.Request().Method == http.MethodGet {
			return c.Redirect(http.StatusSeeOther, "/prove?next="+escapeQuery(c.Request().URL.RequestURI()))
		}
		f := s.readForm(c)
		ok, status, err := s.proved(c, f)
		if err != nil {
			return err
		}
		if ok {
			return next(c)
		}
		p := s.provePage(c, f, c.Request().URL.RequestURI())
		p.Method, p.Service = "post", s.proveElsewhere(c, "")
		_, p.Fields = typedIn(c.Request().PostForm)
		p.Problems = f.problems
		return s.render(c, status, p)
	}
}

// recent tells whether the person showed the password in the last 5 minutes.
func (s *server) recent(c Ctx) bool { return s.Auth.Recent(c.Request().Context()) }

// proved compares the field "prove" of a form. The status is that of the page which asks
// again.
func (s *server) proved(c Ctx, f *form) (ok bool, status int, err error) {
	if _, sent := f.values["prove"]; !sent {
		return false, http.StatusUnauthorized, nil
	}
	given := f.typed("prove")
	if given == "" {
		f.fail("prove", "Enter your password")
		return false, http.StatusUnprocessableEntity, nil
	}
	err = s.Auth.Prove(c.Request().Context(), given, s.visit(c, userOf(c).ID))
	if err != nil && asked(err) {
		f.fail("prove", "%s", textOf(err))
		return false, tryAgain(err), nil
	}
	return err == nil, http.StatusOK, err
}

func (s *server) provePage(c Ctx, f *form, action string) *templates.ProvePage {
	p := &templates.ProvePage{Base: templates.Base{Name: "Password again"}, Action: action, What: "Your password", Method: "get",
		Password: templates.Field{ID: "prove", Label: "Password", Complete: "current-password", Error: f.errs["prove"]}}
	if userOf(c).Hash == "" {
		p.What, p.Password.Label = "A code", "Code of your second factor"
	}
	return p
}

// proveForm answers GET /prove.
func (s *server) proveForm(c Ctx) error {
	p := s.provePage(c, s.emptyForm(), "/prove")
	p.Fields = []templates.Hidden{{Name: "next", Value: safeNext(c.QueryParam("next"))}}
	p.Service, p.Problems = s.proveElsewhere(c, or(safeNext(c.QueryParam("next")), "/me")), s.serviceProblem(c)
	return s.render(c, http.StatusOK, p)
}

// proveNow answers POST /prove.
func (s *server) proveNow(c Ctx) error {
	f := s.readForm(c)
	f.values.Set("prove", f.typed("prove"))
	next := safeNext(f.typed("next"))
	ok, status, err := s.proved(c, f)
	if err != nil {
		return err
	}
	if ok {
		return c.Redirect(http.StatusSeeOther, or(next, "/"))
	}
	p := s.provePage(c, f, "/prove")
	p.Fields, p.Service = []templates.Hidden{{Name: "next", Value: next}}, s.proveElsewhere(c, or(next, "/me"))
	p.Problems = f.problems
	return s.render(c, status, p)
}
