package web

import (
	"bytes"
	"fmt"
	"iter"
	"net/http"

	"dunlin/cases"
	"dunlin/reminders/letters"
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

// letterPDF answers GET /letters/:id/pdf; with ?as=made as it was before a person changed
// its words.
func (s *server) letterPDF(c Ctx) error {
	var rec cases.Letter
	err := s.view(c, func(r cases.Reader) error {
		var err error
		if rec, err = r.Letter(c.Param("id")); err != nil {
			return err
		}
		saw(c, referencesIn(rec.Data)...) // the list of a test site
		return sawCases(c, r, rec.Case)
	})
	if err != nil {
		return err
	}
	name, decode := "letter-"+rec.Number, letters.Decode
	if c.QueryParam("as") == "made" {
		name, decode = name+"-as-made", letters.DecodeOriginal
	}
	l, err := decode(rec)
	if err != nil {
		return cases.Errorf(cases.Refused, "%s.", sentence(err.Error()))
	}
	var buf bytes.Buffer
	if err := l.WritePDF(&buf); err != nil {
		if rec.Browser {
			return c.Redirect(http.StatusSeeOther, keptPageAt(rec.ID))
		}
		return cases.Errorf(cases.Refused, "This letter cannot be set: %s.", err)
	}
	return sendPDF(c, name, buf.Bytes())
}

// runPDF answers GET /letters/runs/:run/pdf: the letters of a print run in print
// order with the count sheet first and those by certified mail last.
func (s *server) runPDF(c Ctx) error {
	name := c.Param("run")
	run := letters.PrintRun{Name: name, Program: s.LetterFacts().Name}
	if len(name) >= len("2026-03-12") {
		run.On, _ = cases.ParseDay(name[:len("2026-03-12")])
	}
	list, err := s.runLetters(c, name)
	if err != nil {
		return err
	}
	var ids []string
	for i := range list {
		if list[i].l.State != "held" { // taken out of the stack
			ids = append(ids, list[i].l.ID)
			saw(c, referencesIn(list[i].l.Data)...)
			if list[i].l.Case != "" {
				saw(c, list[i].c.Reference)
			}
		}
	}
	if len(ids) == 0 {
		return cases.Errorf(cases.NotFound, "No letter of the print run %q is to be printed any more.", name)
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
