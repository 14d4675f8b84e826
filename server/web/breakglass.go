package web

import (
	"context"
	"net/http"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// openPath is the page on which a person opens an infant outside of their sites, or a
// manager a name, for a typed reason.
const openPath = "/infants/:ref/open"

// openFor gives the line with which the person opened an infant for a reason, while it
// lasts.
func (s *server) openFor(c Ctx, ref string) (cases.Access, bool) {
	who, v := userOf(c), visitOf(c)
	if !can(c, breakGlass) || who.Role == cases.Nurse && !who.Bound() {
		return cases.Access{}, false
	}
	if v.open == nil {
		err := s.view(c, func(r cases.Reader) (err error) {
			v.open, err = openNow(r, who.ID)
			return err
		})
		if err != nil { // then nothing is open
			s.Log.Error("infants opened for a reason", "request", requestOf(c), "err", err)
		}
	}
	a, open := v.open[ref]
	return a, open
}

func (s *server) awayText(c Ctx) []string {
	if userOf(c).Role == cases.Manager {
		return []string{"You see a case only while its closure waits for you. Ask the coordinator.", "Where you need the name, you can open the case for a reason. It is logged, and another person reviews it."}
	}
	return []string{"The infant is of another test site, and your account is bound to yours.", "Where you are asked for help, you can open the case for a reason. It is logged, and another person reviews it."}
}

// openForm answers GET /infants/:ref/open.
func (s *server) openForm(c Ctx) error {
	if _, err := s.caseBehind(c); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.openPage(c, s.emptyForm()))
}

// caseBehind finds the case of the address, whoever asks; nothing of it may be shown.
func (s *server) caseBehind(c Ctx) (k cases.Case, err error) {
	err = s.lines.store.View(c.Request().Context(), func(r cases.Reader) error {
		k, err = r.ByReference(c.Param("ref"))
		return err
	})
	return k, err
}

func (s *server) openPage(c Ctx, f *form) *templates.OpenForReasonPage {
	ref := c.Param("ref")
	return &templates.OpenForReasonPage{Base: templates.Base{Name: "Open " + ref + " for a reason"}, Reference: ref, Action: action(c), Minutes: cases.BreakGlassMinutes,
		Reason: f.field(templates.Field{ID: "reason", Label: "Why do you need to see this infant?", Hint: "Who asked, and what for. At least 20 characters, without the infant’s name", Kind: "area", Rows: 3})}
}

// openInfant answers POST /infants/:ref/open.
func (s *server) openInfant(c Ctx) error {
	k, err := s.caseBehind(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	reason := f.text("reason", "The reason", 300)
	if f.ok() && len([]rune(reason)) < cases.BreakGlassLeast {
		f.fail("reason", "Enter who asked and what for, in at least %d characters", cases.BreakGlassLeast)
	}
	if !f.ok() {
		return s.invalid(c, s.openPage(c, f), f.problems)
	}
	who, v := userOf(c), visitOf(c)
	return s.submit(c, f, "/infants/"+k.Reference, func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: "Opened.", Text: "For one hour. Another person reviews why."}, onceStore{s.Store, &s.tally}.Update(ctx, actorOf(c), func(w cases.Writer) error {
			v.done = true
			return w.LogAccess(cases.Access{By: who.ID, Role: who.Role, Act: cases.ActBreakGlass, Infants: []string{k.Reference}, Why: reason, Until: w.Now().Add(cases.BreakGlassMinutes * time.Minute).UTC(),
				Route: "POST " + openPath, Status: http.StatusSeeOther, From: c.RealIP(), Session: s.sessionMark(c), Request: requestOf(c)})
		})
	})
}
