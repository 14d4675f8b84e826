package web

import (
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// tryAgain is the status of a form of signing in that was refused: wait, or correct it.
func tryAgain(err error) int {
	if cases.KindOf(err) == cases.Refused {
		return http.StatusTooManyRequests
	}
	return http.StatusUnprocessableEntity
}

// asked tells whether an error is one for the person who signs in.
func asked(err error) bool {
	k := cases.KindOf(err)
	return k == cases.Invalid || k == cases.Refused
}

// codeForm answers GET /sign-in/code: the password was right.
func (s *server) codeForm(c Ctx) error {
	acc, ok := s.Auth.Half(c.Request().Context())
	if !ok || acc.Factor == nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	return s.render(c, http.StatusOK, codePage(c.QueryParam("next")))
}

func codePage(next string) *templates.CodePage {
	return &templates.CodePage{Base: templates.Base{Name: "Enter your code"}, Next: safeNext(next),
		Code: templates.Field{ID: "code", Label: "Code", Width: "w14", Complete: "one-time-code", NoSpell: true}}
}

// signInCode answers POST /sign-in/code.
func (s *server) signInCode(c Ctx) error {
	ctx, f := c.Request().Context(), s.readForm(c)
	acc, ok := s.Auth.Half(ctx)
	if !ok {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	p := codePage(f.typed("next"))
	code := f.need("code", "Code", "Enter the six digits, or a recovery code", 60)
	status := http.StatusUnprocessableEntity
	if f.ok() {
		e, err := s.Auth.SignInCode(ctx, code, s.visit(c, acc.ID))
		if err == nil {
			return s.entered(c, e, p.Next)
		}
		if !asked(err) {
			return err
		}
		f.fail("code", "%s", textOf(err))
		status = tryAgain(err)
	}
	p.Code.Error, p.Problems = f.errs["code"], f.problems
	return s.render(c, status, p)
}

// factorPage is the form that sets up a second factor.
func (s *server) factorPage(c Ctx, acc cases.Account, f *form) (*templates.FactorPage, error) {
	n, err := s.Auth.SetUp(c.Request().Context(), acc)
	if err != nil {
		return nil, err
	}
	p := &templates.FactorPage{Base: templates.Base{Name: "Set up a second factor"}, Action: c.Request().URL.Path, QR: drawQR(n.QR),
		Lead: "With it, a password alone opens nothing. You need your phone each time you sign in.",
		Code: f.field(templates.Field{ID: "code", Label: "Code that the app shows now", Width: "w14", InputMode: "numeric", Complete: "one-time-code", NoSpell: true})}
	p.Code.Value = ""
	for i := 0; i < len(n.Secret); i += 4 {
		p.Secret += n.Secret[i:min(i+4, len(n.Secret))] + " "
	}
	p.Secret = strings.TrimSpace(p.Secret)
	return p, nil
}

// drawQR writes the dark modules of a code as a path: one bar for each run in a row.
func drawQR(rows [][]bool) templates.QR {
	var b strings.Builder
	for y, row := range rows {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				b.WriteString("M" + strconv.Itoa(from) + " " + strconv.Itoa(y) + "h" + strconv.Itoa(x-from) + "v1h-" + strconv.Itoa(x-from) + "z")
			}
		}
	}
	return templates.QR{Side: len(rows) + 8, Path: b.String()}
}

// mustFactorForm answers GET /sign-in/set-up: this account must have a second factor.
func (s *server) mustFactorForm(c Ctx) error {
	acc, ok := s.Auth.Half(c.Request().Context())
	if !ok || acc.Factor != nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	p, err := s.factorPage(c, acc, s.emptyForm())
	if err != nil {
		return err
	}
	p.Lead, p.Next = "The program demands a second factor of this account. "+p.Lead, safeNext(c.QueryParam("next"))
	return s.render(c, http.StatusOK, p)
}

// mustFactor answers POST /sign-in/set-up.
func (s *server) mustFactor(c Ctx) error {
	ctx, f := c.Request().Context(), s.readForm(c)
	acc, ok := s.Auth.Half(ctx)
	if !ok || acc.Factor != nil {
		return c.Redirect(http.StatusSeeOther, "/sign-in")
	}
	codes, err := s.confirmFactor(c, acc, f)
	if err != nil || codes == nil {
		return err
	}
	e, err := s.Auth.EnterWithFactor(ctx, s.visit(c, acc.ID))
	if err != nil {
		return err
	}
	s.Auth.KeepDevice(c.Response(), e.Account.ID, e.Device)
	return s.showCodes(c, codes, or(safeNext(f.typed("next")), homes[e.Account.Role]))
}

// confirmFactor reads the code and sets the second factor up. Codes are nil when the
// page was shown again.
func (s *server) confirmFactor(c Ctx, acc cases.Account, f *form) ([]string, error) {
	code := f.need("code", "Code", "Enter the six digits that the app shows now", 20)
	var codes []string
	var err error
	if f.ok() {
		if codes, err = s.Auth.ConfirmFactor(c.Request().Context(), acc, code); err == nil {
			return codes, nil
		}
		if !asked(err) {
			return nil, err
		}
		f.fail("code", "%s", textOf(err))
	}
	p, err := s.factorPage(c, acc, f)
	if err != nil {
		return nil, err
	}
	p.Next = safeNext(f.typed("next"))
	return nil, s.invalid(c, p, f.problems)
}

// codesKey is where a session keeps recovery codes until the person has kept them.
const codesKey = "recovery"

// showCodes keeps recovery codes for the page that shows them.
func (s *server) showCodes(c Ctx, codes []string, next string) error {
	s.Auth.Keep(c.Request().Context(), codesKey, strings.Join(codes, "\n"))
	return c.Redirect(http.StatusSeeOther, "/me/codes?next="+escapeQuery(next))
}
