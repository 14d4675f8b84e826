package web

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"slices"

	"dunlin/cases"
	"dunlin/templates"

	"github.com/labstack/echo/v4"
)

// keptPage is the page of server trouble as rendered at start, so that it can
// be shown whatever is broken.
type keptPage struct{ before, after []byte }

const refMark = "D-0000-0000"

// with is the page with the number of a request.
func (k *keptPage) with(ref string) []byte {
	return bytes.Join([][]byte{k.before, []byte(ref), k.after}, nil)
}

// keep renders the pages that are shown whatever is broken.
func (s *server) keep() (err error) {
	s.last, err = s.keepPage("There is a problem", "Sorry, there is a problem with Dunlin",
		"Nothing was saved. Use the Back button of your browser: what you typed should still be in the form.",
		"Try again in a few minutes. If you need to reach a family now, use the last printed overdue list.")
	if err != nil {
		return err
	}
	s.unlogged, err = s.keepPage("The access log cannot be written", "Sorry, the access log cannot be written",
		"Nothing about infants is shown while Dunlin cannot write down who sees it.",
		"If you sent a form, it may have been saved: look before you send it again.",
		"Try again in a few minutes, and tell the administrator. If you need to reach a family now, use the last printed overdue list.")
	return err
}

func (s *server) keepPage(name, head string, text ...string) (k keptPage, err error) {
	p := &templates.ProblemPage{Base: templates.Base{Name: name, Program: s.Program, Help: s.Help, MadeUp: s.MadeUp, LetterKeys: true},
		Head: head, Text: text, Actions: []templates.Link{{Href: "/", Text: "Go to the first page"}}, Ref: refMark}
	var buf bytes.Buffer
	if err := s.Pages.Render(&buf, p); err != nil {
		return k, err
	}
	var ok bool
	if k.before, k.after, ok = bytes.Cut(buf.Bytes(), []byte(refMark)); !ok {
		return k, errors.New("the page of server trouble shows no request number")
	}
	return k, nil
}

// showError turns any error of a handler into a page. Texts of errors are shown
// only when they were written for people.
func (s *server) showError(err error, c Ctx) {
	if c.Response().Committed {
		return
	}
	if isAPI(c) {
		s.apiError(c, err)
		return
	}
	if s.lead(c, err) {
		return
	}
	status, head, text, links := s.explain(c, err)
	if !can(c, seeCases) {
		text = slices.DeleteFunc(text, func(t string) bool { return t == findText })
	}
	if status == http.StatusInternalServerError {
		s.trouble(c)
		return
	}
	if c.Request().Method == http.MethodHead {
		_ = c.NoContent(status)
		return
	}
	var p templates.Page = &templates.ProblemPage{Base: templates.Base{Name: head}, Head: head, Text: text, Actions: links}
	if kept := unsent(c, err); kept != nil {
		p = kept
	}
	if rerr := s.render(c, status, p); rerr != nil {
		s.Log.Error("error page", "request", requestOf(c), "err", rerr)
		s.trouble(c)
	}
}

// unsent is the page that keeps what was typed when a form came in after the
// session had ended, or from before the last sign-in, with a button that sends
// it again. It is offered only when the browser says that the form was this
// site's own; nil otherwise.
func unsent(c Ctx, err error) templates.Page {
	r := c.Request()
	out := errors.Is(err, errSignedOut)
	if !out && !errors.Is(err, errToken) || r.Header.Get("Sec-Fetch-Site") != "same-origin" || isOpen(r.URL.Path) || r.URL.Path == "/sign-out" || r.MultipartForm != nil {
		return nil
	}
	p := &templates.UnsentPage{Base: templates.Base{Name: "Not saved yet"}, SignedOut: out, Action: r.URL.RequestURI()}
	p.Typed, p.Fields = typedIn(r.PostForm)
	return p
}

func (s *server) trouble(c Ctx) {
	if c.Response().Committed {
		return
	}
	_ = c.HTMLBlob(http.StatusInternalServerError, s.last.with(requestOf(c)))
}

// findText is said only to who has the box.
const findText = "Find the infant by name, birth date, case or specimen number in the box at the top of this page."

// explain gives the status and the words of an error.
func (s *server) explain(c Ctx, err error) (status int, head string, text []string, links []templates.Link) {
	home := []templates.Link{{Href: "/", Text: "Go to the first page"}}
	var he *echo.HTTPError
	var away *cases.Elsewhere
	var moved *movedTo
	switch {
	case errors.Is(err, errSignedOut):
		return http.StatusUnauthorized, "You were signed out", []string{"Nothing was saved. Sign in, then enter it again."},
			[]templates.Link{{Href: "/sign-in", Text: "Sign in"}}
	case errors.Is(err, errToken):
		return http.StatusForbidden, "This form could not be used", []string{"Nothing was saved. The form was opened before you last signed in, or it came from another site.", "Go back, reload the page, and enter it again."}, home
	case errors.Is(err, context.DeadlineExceeded):
		return http.StatusServiceUnavailable, "That took too long", []string{"Nothing was saved. Try again in a minute."}, home
	case errors.As(err, &he):
		return s.explainHTTP(he, home)
	case errors.As(err, &away):
		return http.StatusForbidden, "This infant is not among yours", s.awayText(c), []templates.Link{{Href: "/infants/" + away.Reference + "/open", Text: "Open it for a reason"}, home[0]}
	case errors.As(err, &moved):
		return http.StatusConflict, "That cannot be done now", []string{moved.from + " was merged into " + moved.into + ". Record it there.", "Nothing was saved."},
			[]templates.Link{{Href: "/infants/" + moved.into, Text: "Open " + moved.into}}
	}
	switch cases.KindOf(err) {
	case cases.NotFound:
		return http.StatusNotFound, "Page not found", []string{or(textOf(err), "There is no such record."), findText}, home
	case cases.Forbidden:
		return http.StatusForbidden, "You do not have access to this", []string{textOf(err)}, home
	case cases.Conflict:
		return http.StatusConflict, "Somebody changed this record first", []string{textOf(err), "Nothing of yours was saved. Go back, copy what you typed, and open the page again."}, home
	case cases.Refused:
		return http.StatusConflict, "That cannot be done now", []string{textOf(err), "Nothing was saved."}, home
	case cases.Invalid:
		return http.StatusUnprocessableEntity, "There is a problem with what was entered", []string{textOf(err), "Nothing was saved. Use the Back button to correct it."}, home
	}
	return http.StatusInternalServerError, "", nil, nil
}

func (s *server) explainHTTP(he *echo.HTTPError, home []templates.Link) (int, string, []string, []templates.Link) {
	switch he.Code {
	case http.StatusNotFound, http.StatusMethodNotAllowed:
		return he.Code, "Page not found", []string{"If you typed the address, check it is right. If you used an old link, the page may have moved.",
			findText}, home
	case http.StatusRequestEntityTooLarge:
		return he.Code, "That is too large", []string{"Nothing was saved. Forms may hold 64 KB, uploaded files 8 MB. Split the file, or import it with the command dunlin import FILE."}, home
	case http.StatusUnsupportedMediaType, http.StatusBadRequest:
		return he.Code, "This form could not be read", []string{"Nothing was saved. Go back, reload the page, and enter it again."}, home
	}
	if he.Code >= 500 {
		return http.StatusInternalServerError, "", nil, nil
	}
	return he.Code, "That did not work", []string{"Nothing was saved."}, home
}

// textOf is the text of an error that was written for people, with every
// fault; "" for other errors.
func textOf(err error) string {
	var ch *cases.Changed
	if errors.As(err, &ch) {
		return sentence(ch.Error()) + "."
	}
	var e *cases.Error
	if !errors.As(err, &e) {
		return ""
	}
	text := e.Text
	for _, f := range e.Faults {
		if text != "" {
			text += " "
		}
		text += sentence(f.Reason) + "."
	}
	return text
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
