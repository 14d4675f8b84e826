package web

import (
	"bytes"
	"context"
	"fmt"
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
	h := c.Response().Header()
	h.Set("Content-Security-Policy", pdfPolicy)
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name+".pdf"))
	return c.Blob(http.StatusOK, "application/pdf", body)
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
	err := s.view(c, func(r cases.Reader) error {
		for rec, err := range r.Letters("") {
			if err != nil {
				return err
			}
			if rec.PrintRun != name {
				continue
			}
			l, err := letters.Decode(rec)
			if err != nil {
				run.SetAside = append(run.SetAside, letters.SetAside{Number: rec.Number, Kind: rec.Kind, Reason: err.Error()})
				continue
			}
			run.Letters = append(run.Letters, l)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(run.Letters)+len(run.SetAside) == 0 {
		return cases.Errorf(cases.NotFound, "There is no print run %q. Its letters may have been printed again in a later run.", name)
	}
	var buf bytes.Buffer
	if _, err := run.WritePDF(&buf); err != nil {
		return fmt.Errorf("web: print run: %w", err)
	}
	return sendPDF(c, "print-run-"+name, buf.Bytes())
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
		k, err = r.Case(rec.Case)
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
		return templates.Notice{Head: "Came back", Text: infantName(&k.Infant) + ", " + k.Reference + ". Find a new address, and log the contact as came back.",
			LinkText: "Log contact", Link: "/infants/" + k.Reference + "/contacts/new"}, err
	})
}
