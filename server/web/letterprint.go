package web

import (
	"bytes"
	"context"
	"fmt"
	"iter"
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// pdfPolicy lets the browser show a PDF, which holds nothing that runs.
const pdfPolicy = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"

// sendPDF answers with a PDF that the browser shows.
func sendPDF(c Ctx, name string, body []byte) error {
	pdfHead(c.Response().Header(), name)
	return c.Blob(http.StatusOK, "application/pdf", body)
}

func pdfHead(h http.Header, name string) {
	h.Set("Content-Security-Policy", pdfPolicy)
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name+".pdf"))
}

// letterPDF answers GET /letters/:id/pdf.
func (s *server) letterPDF(c Ctx) error {
	var rec cases.Letter
	err := s.view(c, func(r cases.Reader) error {
		var err error
		rec, err = r.Letter(c.Param("id"))
		return err
	})
	if err != nil {
		return err
	}
	l, err := letters.Decode(rec)
	if err != nil {
		return cases.Errorf(cases.Refused, "%s.", sentence(err.Error()))
	}
	var buf bytes.Buffer
	if err := l.WritePDF(&buf); err != nil {
		return cases.Errorf(cases.Refused, "This letter cannot be set: %s.", err)
	}
	return sendPDF(c, "letter-"+rec.Number, buf.Bytes())
}

// runPDF answers GET /letters/runs/:run: the letters of a print run in print
// order with the count sheet first.
func (s *server) runPDF(c Ctx) error {
	name := c.Param("run")
	run := letters.PrintRun{Name: name, Program: s.LetterFacts().Name}
	if len(name) >= len("2026-03-12") {
		run.On, _ = cases.ParseDay(name[:len("2026-03-12")])
	}
	var ids []string
	err := s.view(c, func(r cases.Reader) error {
		ids = nil
		for rec, err := range r.Letters("") {
			if err != nil {
				return err
			}
			if rec.PrintRun == name {
				ids = append(ids, rec.ID)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(ids) == 0 {
		return cases.Errorf(cases.NotFound, "There is no print run %q. Its letters may have been printed again in a later run.", name)
	}
	run.Each = s.lettersOneByOne(c, ids)
	out := &pdfAnswer{c: c, name: "print-run-" + name}
	_, err = run.WritePDF(out)
	switch {
	case err != nil && out.begun:
		s.Log.Error("print run broken off", "error", err.Error())
		panic(http.ErrAbortHandler) // the browser must not take half a run for a whole one
	case err != nil:
		return fmt.Errorf("web: print run: %w", err)
	}
	return nil
}

// lettersOneByOne reads kept letters as they are asked for, each in a view of its own:
// a long print run holds up nobody, and is never all in memory.
func (s *server) lettersOneByOne(c Ctx, ids []string) iter.Seq2[letters.Letter, error] {
	return func(yield func(letters.Letter, error) bool) {
		for _, id := range ids {
			var rec cases.Letter
			err := s.view(c, func(r cases.Reader) (err error) {
				rec, err = r.Letter(id)
				return err
			})
			var l letters.Letter
			if err == nil {
				l, err = letters.Decode(rec)
			}
			if err != nil {
				l = letters.Letter{Kind: rec.Kind, Occasion: rec.Occasion, Number: rec.Number}
			}
			if !yield(l, err) {
				return
			}
		}
	}
}

// pdfAnswer sends a PDF as it is made. Its headings go out with the first bytes, so
// that a run that cannot be set is still answered with a page that says why.
type pdfAnswer struct {
	c     Ctx
	name  string
	begun bool
}

func (a *pdfAnswer) Write(b []byte) (int, error) {
	r := a.c.Response()
	if !a.begun {
		a.begun = true
		pdfHead(r.Header(), a.name)
		r.Header().Set("Content-Type", "application/pdf")
		r.WriteHeader(http.StatusOK)
	}
	return r.Write(b)
}

// makeLetters answers POST /letters/make: the letters that are due now are made
// as the morning's job makes them, each once.
func (s *server) makeLetters(c Ctx) error {
	if s.Press == nil {
		return cases.Errorf(cases.Refused, "Letters are made by the morning's job only.")
	}
	tally, err := s.Press.Run(c.Request().Context(), s.today())
	if err != nil {
		return err
	}
	s.tally.forget()
	n := templates.Notice{Head: "Letters made", Text: sentence(tally.String()) + "."}
	if len(tally.SetAside) > 0 {
		n.Kind = "warn"
	}
	return s.saved(c, "/letters?state=to-print", n)
}

// cameBack answers POST /letters/:id/came-back.
func (s *server) cameBack(c Ctx) error {
	f := s.readForm(c)
	why := f.text("back-why", "What the envelope says", 200)
	if !f.ok() {
		return cases.Errorf(cases.Invalid, "%s.", f.problems[0].Text)
	}
	id := c.Param("id")
	var rec cases.Letter
	var k cases.Case
	err := s.view(c, func(r cases.Reader) error {
		var err error
		if rec, err = r.Letter(id); err != nil {
			return err
		}
		if rec.Case != "" { // a list of the day is of no case
			k, err = r.Case(rec.Case)
		}
		return err
	})
	if err != nil {
		return err
	}
	if rec.State != "mailed" {
		return cases.Errorf(cases.Refused, "Only a mailed letter can come back. This one is %s.", rec.State)
	}
	note := strings.TrimSpace("Came back. " + why)
	return s.submit(c, f, "/letters?state=came-back", func(ctx context.Context) (templates.Notice, error) {
		err := s.Desk.MarkLetters(ctx, actorOf(c), []string{id}, "came-back", note, "")
		return templates.Notice{Head: "Came back", Text: infantName(&k.Infant) + ", " + k.Reference + ". The contact is logged, and the address is marked as bad. Find a new address.",
			LinkText: "Open the infant", Link: "/infants/" + k.Reference}, err
	})
}
