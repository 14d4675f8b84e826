package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

const returnedPath = "/letters/returned"

// returnedPage answers GET /letters/returned: one field for the number on the letter,
// and with a number the letter it belongs to.
func (s *server) returnedPage(c Ctx) error {
	f := s.emptyForm("number", c.QueryParam("number"))
	p, _, err := s.returnedForm(c, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	return s.render(c, http.StatusOK, p)
}

// returnedForm finds the letter of the number that was typed; nil when there is none,
// with the reason at the field.
func (s *server) returnedForm(c Ctx, f *form) (*templates.ReturnedPage, *listed, error) {
	var found *listed
	if typed := strings.TrimSpace(f.typed("number")); typed != "" {
		var err error
		if found, err = s.returnedLetter(c, f, typed); err != nil {
			return nil, nil, err
		}
	}
	p := &templates.ReturnedPage{Base: templates.Base{Name: "Returned mail", Current: "letters"}, Parts: s.letterParts(c, "returned"),
		Number: f.field(templates.Field{ID: "number", Label: "Number of the letter", Hint: "Scan the code below the window, or type the number: eight signs", Width: "w20", NoSpell: true})}
	if found != nil {
		l := &found.l
		p.Number.Value = ""
		to := cases.LetterKindOf(l.Kind).To
		p.Found = &templates.ReturnedLetter{ID: l.ID, Number: l.Number, About: or(found.c.Reference, s.nameOfLetter(l, &found.c)), Href: letterHref(l.State, l.ID), Kind: cases.LetterKindOf(l.Kind).Word, To: toWords[to], Mailed: letterState(l).Text,
			Why:  f.group(templates.Choice{ID: "back-why", Legend: "What the envelope says", Options: optionsOf(backReasons)}),
			Note: f.field(templates.Field{ID: "note", Label: "Anything else on it", Hint: "Such as a new address on a yellow sticker", Optional: true, Width: "w20"})}
	}
	err := s.view(c, func(r cases.Reader) (err error) {
		p.Back, err = s.backToday(r)
		return err
	})
	return p, found, err
}

// returnedLetter finds a letter by what was scanned or typed.
func (s *server) returnedLetter(c Ctx, f *form, typed string) (*listed, error) {
	number, err := letters.NumberOf(shown(typed))
	if err != nil {
		f.fail("number", "%s", sentence(err.Error()))
		return nil, nil
	}
	var x listed
	err = s.view(c, func(r cases.Reader) (err error) {
		if x.l, err = r.LetterByNumber(number); err == nil {
			x.c, err = caseOfLetter(r, &x.l)
		}
		return err
	})
	switch {
	case err != nil && cases.KindOf(err) == cases.NotFound:
		f.fail("number", "No letter of this program has the number %s. Compare it with the letter itself, and put the envelope aside", number)
		return nil, nil
	case err != nil:
		return nil, err
	}
	switch x.l.State {
	case "mailed", "unclaimed", "refused":
		return &x, nil
	case "came-back":
		f.fail("number", "Letter %s was marked as come back on %s already. Take the next one", number, shortDay(x.l.Changed))
	case "to-print", "printed", "held":
		f.fail("number", "Letter %s was not marked as mailed: it stands as %s. Mark it mailed first, then scan it again", number, strings.ToLower(letterTag(x.l.State).Text))
	default:
		f.fail("number", "Letter %s stands as %s, so it did not come back. Put the envelope aside and ask", number, strings.ToLower(letterTag(x.l.State).Text))
	}
	return nil, nil
}

// backToday are the letters that were taken in today, the newest first.
func (s *server) backToday(r cases.Reader) ([]templates.ReturnedRow, error) {
	var out []templates.ReturnedRow
	today := s.today()
	for _, state := range []string{"came-back", "refused", "unclaimed"} {
		for l, err := range r.Letters(state) {
			if err != nil {
				return nil, err
			}
			if l.Changed != today {
				continue
			}
			k, err := caseOfLetter(r, &l)
			if err != nil {
				return nil, err
			}
			row := templates.ReturnedRow{Number: l.Number, Reference: k.Reference, What: letterTag(state).Text + ". " + l.Note}
			if k.ID != "" {
				if a := s.protocol().Assess(&k, today); a.Actions.Has(cases.ActFindAddress) {
					row.Next = findAddressWords
				} else {
					row.Next = a.ActionWord()
				}
			}
			out = append(out, row)
		}
	}
	return out, nil
}

// takeReturned answers POST /letters/returned: the letter of the number came back, and
// the page is ready for the next one.
func (s *server) takeReturned(c Ctx) error {
	f := s.readForm(c)
	p, x, err := s.returnedForm(c, f)
	if err != nil {
		return err
	}
	if f.ok() && x == nil {
		f.fail("number", "Scan or type the number of the letter")
	}
	if !f.ok() {
		p.Number = f.field(p.Number)
		return s.invalid(c, p, f.problems)
	}
	if f.values["asked"] == nil { // scanned: shown first, so that a person says why
		return c.Redirect(http.StatusSeeOther, returnedPath+"?number="+escapeQuery(x.l.Number))
	}
	if err := s.comeBack(c, f, x, returnedPath); err != nil || f.ok() {
		return err
	}
	p.Found.Why, p.Found.Note = f.group(p.Found.Why), f.field(p.Found.Note)
	return s.invalid(c, p, f.problems)
}

// comeBack reads what the envelope says and records that a letter came back. What is
// wrong with the form stands in it.
func (s *server) comeBack(c Ctx, f *form, x *listed, to string) error {
	why := f.pick("back-why", "Choose what the envelope says", valuesOf(backReasons)...)
	note := f.text("note", "Note", 200)
	if !f.ok() {
		return nil
	}
	ch := cases.LetterChange{State: "came-back", Note: "Came back: " + strings.ToLower(wordOf(backReasons, why))}
	if certified(&x.l) && x.l.State == "mailed" {
		switch why {
		case "refused":
			ch.State, ch.Note = "refused", "Refused"
		case "not collected":
			ch.State, ch.Note = "unclaimed", "Not collected"
		}
	}
	if note != "" {
		ch.Note += ". " + note
	}
	return s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		err := s.Desk.ChangeLetters(ctx, actorOf(c), []string{x.l.ID}, ch)
		n := templates.Notice{Head: letterTag(ch.State).Text + ":", Text: fmt.Sprintf("letter %s. %s", x.l.Number, s.owedAfter(ctx, x))}
		if x.c.ID != "" && err == nil {
			n.LinkText, n.Link = "Open the infant", "/infants/"+x.c.Reference
		}
		return n, err
	})
}

// cameBack answers POST /letters/:id/came-back, from the letter itself.
func (s *server) cameBack(c Ctx) error {
	f := s.readForm(c)
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	if x.l.State != "mailed" && x.l.State != "unclaimed" && x.l.State != "refused" {
		return cases.Errorf(cases.Refused, "Only a mailed letter can come back. This one is %s.", strings.ToLower(letterTag(x.l.State).Text))
	}
	if err := s.comeBack(c, f, &x, "/letters?state=came-back"); err != nil || f.ok() {
		return err
	}
	return s.letterProblem(c, &x, f)
}
