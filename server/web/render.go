package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

// render fills what all pages have and sends page p. Nothing is sent when the
// page cannot be made.
func (s *server) render(c Ctx, status int, p templates.Page) error {
	s.fill(c, p.Common())
	var buf bytes.Buffer
	if err := s.Pages.Render(&buf, p); err != nil {
		return fmt.Errorf("web: %w", err)
	}
	return c.HTMLBlob(status, buf.Bytes())
}

// fill sets the common part of a page from the session and the store.
func (s *server) fill(c Ctx, b *templates.Base) {
	ctx := c.Request().Context()
	b.Program, b.Help, b.MadeUp = s.Program, s.Help, s.MadeUp
	if c.Get(sessionKey) == nil { // refused before the session was looked at
		b.LetterKeys = true
		return
	}
	b.CSRF = s.Auth.Token(ctx)
	if b.Once == "" {
		b.Once = auth.NewToken()
	}
	b.LetterKeys = s.Auth.Get(ctx, "keys") != "off"
	b.ShortRows = s.Auth.Get(ctx, "rows") == "short"
	b.Colors = s.Auth.Get(ctx, "colors")
	acc := userOf(c)
	if acc.ID == "" {
		return
	}
	b.Idle = int(s.Auth.Idle().Seconds())
	b.User = &templates.User{Name: acc.Name, Role: roleWords[acc.Role], Home: homes[acc.Role]}
	b.Nav = nav(acc.Role, s.counts(c))
	b.NoFind = !can(c, seeCases)
	if text := s.Auth.Take(ctx, "flash"); text != "" && b.Flash == nil {
		var n templates.Notice
		if json.Unmarshal([]byte(text), &n) == nil {
			b.Flash = &n
		}
	}
}

// saved keeps a notice for the next page and leads there. It is the end of
// every form that was saved.
func (s *server) saved(c Ctx, to string, n templates.Notice) error {
	if n.Kind == "" {
		n.Kind = "good"
	}
	text, err := json.Marshal(n)
	if err != nil {
		return fmt.Errorf("web: notice: %w", err)
	}
	s.Auth.Keep(c.Request().Context(), "flash", string(text))
	return c.Redirect(http.StatusSeeOther, to)
}

// invalid shows a form page again with its problems and all that was typed.
func (s *server) invalid(c Ctx, p templates.Page, problems []templates.Problem) error {
	p.Common().Problems = problems
	return s.render(c, http.StatusUnprocessableEntity, p)
}

// today is the day in the program's zone: Now carries its zone.
func (s *server) today() cases.Day { return cases.DayOf(s.Now()) }

// clock is a time of day as shown, 24 hours.
func (s *server) clock(t time.Time) string { return t.In(s.Now().Location()).Format("15:04") }

// date is a day for display; day 0 is no date.
func date(d cases.Day) templates.Date {
	if d == 0 {
		return templates.Date{}
	}
	y, m, day := d.Date()
	return templates.Date{Year: y, Month: time.Month(m), Day: day}
}

// sentence begins with a capital letter.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
