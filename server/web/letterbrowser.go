package web

import (
	"context"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

const letterPagePath = "/letters/page"

// pageAt is the address of a due letter as a page.
func pageAt(key string) string { return letterPagePath + "?letter=" + escapeQuery(key) }

// keptPageAt is the address of a kept letter as a page to be printed from the browser.
func keptPageAt(id string) string { return "/letters/" + id + "/page" }

// dueLetterOf finds a letter that is due by its key.
func (s *server) dueLetterOf(c Ctx, key string) (*dueLetter, error) {
	due, err := s.dueLetters(c, narrow{})
	if err != nil {
		return nil, err
	}
	for i := range due {
		if d := &due[i]; d.key() == key && d.words() {
			return d, nil
		}
	}
	return nil, cases.Errorf(cases.NotFound, "There is no such letter due. It may be made already; see Printed.")
}

// letterPage answers GET /letters/page?letter=...: a due letter as it would read, with
// the button that makes it to be printed from the browser.
func (s *server) letterPage(c Ctx) error {
	d, err := s.dueLetterOf(c, c.QueryParam("letter"))
	if err != nil {
		return err
	}
	saw(c, d.c.Reference)
	p := &templates.LetterSheetPage{Base: templates.Base{Name: "Letter for the browser", Current: "letters"}, Back: letterHref(stateDue, d.key()), Letter: *duePreview(c, d), Draft: true}
	if d.l.ForBrowser(d.err) {
		p.Lead = "This letter is not made yet. Making it gives it a number and records it as printed from the browser by you; it is never made a second time."
		if can(c, sendLetters) && s.Press != nil {
			p.Action, p.Key, p.Button = letterPagePath, d.key(), "Make this letter and print it"
		}
	} else {
		p.Lead = "This letter cannot be made: " + d.note()
	}
	return s.render(c, http.StatusOK, p)
}

// makeForBrowser answers POST /letters/page: makes the letter, in one transaction with
// its case, and shows it with its number. Sent again, it shows the letter that was made.
func (s *server) makeForBrowser(c Ctx) error {
	f := s.readForm(c)
	d, err := s.dueLetterOf(c, f.typed("letter"))
	if err != nil {
		if l, ok := s.madeAs(c, f.typed("letter")); ok {
			return s.saved(c, keptPageAt(l.ID), templates.Notice{Kind: "info", Head: "Made before.", Text: "This letter was made already, as " + l.Number + ". Nothing was made twice."})
		}
		return err
	}
	if s.Press == nil {
		return cases.Errorf(cases.Refused, "Letters are made by the morning's job only.")
	}
	press := *s.Press
	press.Store = onceStore{s.Store, &s.tally}
	l, err := press.MakeForBrowser(c.Request().Context(), actorOf(c), d.c.ID, d.due.Kind, d.due.Occasion)
	if err != nil {
		return err
	}
	return s.saved(c, keptPageAt(l.ID), templates.Notice{Head: "Letter " + l.Number + " made.", Text: "It stands under Printed. Print it now, and mark it mailed when it is in the post."})
}

// madeAs finds the letter that was made of one that was due, by its key.
func (s *server) madeAs(c Ctx, key string) (made cases.Letter, ok bool) {
	part := strings.SplitN(key, "/", 3)
	if len(part) != 3 {
		return made, false
	}
	err := s.view(c, func(r cases.Reader) error {
		k, err := r.ByReference(part[0])
		if err != nil {
			return err
		}
		list, err := r.LettersOf(k.ID)
		for _, l := range list {
			if l.Kind == part[1] && l.Occasion == part[2] {
				made, ok = l, true
			}
		}
		return err
	})
	return made, ok && err == nil
}

// keptLetterPage answers GET /letters/:id/page: a kept letter, with its number and code
// as text, to be printed from the browser.
func (s *server) keptLetterPage(c Ctx) error {
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	saw(c, referencesIn(x.l.Data)...)
	if x.l.Case != "" {
		saw(c, x.c.Reference)
	}
	p := &templates.LetterSheetPage{Base: templates.Base{Name: "Letter for the browser", Current: "letters"}, Back: letterHref(x.l.State, x.l.ID), Letter: *s.preview(c, &x)}
	p.Code = letters.CodeOf(x.l.Number)
	why := ""
	if x.l.Case != "" {
		why = s.protocol().LetterStop(&x.c, x.l.Kind, x.l.Occasion, s.today())
	}
	waits := x.l.State == "to-print" || x.l.State == "printed"
	switch {
	case x.l.State == "held":
		p.Draft, p.Lead = true, "This letter is held and must not go out: "+or(p.Letter.Held, why)
	case waits && why != "":
		p.Draft, p.Lead = true, "This letter must not go out: "+why+"."
	case x.l.State == "to-print":
		p.Lead = "Print this page, then record that it was printed from the browser, so that no print run has it too."
		if can(c, sendLetters) {
			p.Action, p.Button = keptPageAt(x.l.ID), "Record as printed from the browser"
		}
	case x.l.State == "printed":
		p.Lead = "Print this page. When it is in the post, mark it mailed."
		p.Mail = letterHref("printed", x.l.ID)
	default:
		p.Lead = "This is what the letter said."
	}
	return s.render(c, http.StatusOK, p)
}

// printedFromBrowser answers POST /letters/:id/page: a letter that was to be printed was
// printed from the browser.
func (s *server) printedFromBrowser(c Ctx) error {
	f := s.readForm(c)
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	return s.submit(c, f, keptPageAt(x.l.ID), func(ctx context.Context) (templates.Notice, error) {
		who := actorOf(c)
		err := s.Desk.ChangeLetters(ctx, who, []string{x.l.ID}, cases.LetterChange{State: "printed", Browser: true, Note: "Printed from the browser by " + who.Name + "."})
		return templates.Notice{Head: "Recorded as printed from the browser.", Text: "Letter " + x.l.Number + ". Mark it mailed when it is in the post."}, err
	})
}
