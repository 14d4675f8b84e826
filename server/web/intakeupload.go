package web

import (
	"net/http"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// uploadMost is the largest file that the upload page takes.
const uploadMost = 5 << 20

// uploadForm answers GET /intake/upload, with what became of the last file when
// the address names it.
func (s *server) uploadForm(c Ctx) error {
	p := s.uploadPage(s.emptyForm())
	if hash := c.QueryParam("done"); hash != "" {
		if err := s.view(c, func(r cases.Reader) error { return s.uploadResult(r, p, hash) }); err != nil {
			return err
		}
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) uploadPage(f *form) *templates.UploadPage {
	return &templates.UploadPage{Base: templates.Base{Name: "Upload a file of referrals", Current: "intake"},
		Upload: templates.Field{ID: "file", Label: "File", Kind: "file", Accept: ".hl7,.txt,.csv,.dat", Hint: "One HL7 or CSV file", Error: f.errs["file"]}}
}

// uploadResult sets out what became of the items of a document.
func (s *server) uploadResult(r cases.Reader, p *templates.UploadPage, hash string) error {
	doc, err := r.Received(hash)
	if err != nil {
		return err
	}
	res := &templates.UploadResult{Name: shown(or(doc.Name, "the file"))}
	res.Counts, res.Sum = countWords(doc.Counts)
	items, err := r.ItemsOf(hash)
	if err != nil {
		return err
	}
	for i := range items {
		it := &items[i]
		if it.Outcome == string(intake.Opened) {
			res.Opened = append(res.Opened, templates.Sibling{Name: it.Title, Reference: it.Reference})
		}
		if it.Outcome == string(intake.Review) || it.Outcome == string(intake.Refused) {
			for _, why := range it.Reasons {
				res.Faults = append(res.Faults, templates.IntakeProblem{Where: it.Position, Field: it.Title, Text: dated(why)})
			}
		}
	}
	p.Result = res
	return nil
}

// upload answers POST /intake/upload.
func (s *server) upload(c Ctx) error {
	f := s.readForm(c)
	raw, name := f.file(c, "file", uploadMost)
	if !f.ok() {
		return s.invalid(c, s.uploadPage(f), f.problems)
	}
	res, err := s.Intake.Receive(c.Request().Context(), actorOf(c), intake.Document{Source: "upload", Name: name, At: s.Now(), Raw: raw})
	if err != nil {
		return err
	}
	s.tally.forget()
	_, sum := countWords(countsOf(res))
	n := templates.Notice{Head: "File taken in.", Text: name + ": " + sum}
	if res.Again {
		n.Kind, n.Head = "info", "This file was here before."
	}
	return s.saved(c, "/intake/upload?done="+res.Hash, n)
}

func countsOf(r intake.Result) map[string]int {
	m := map[string]int{}
	for o, n := range r.Counts {
		m[string(o)] = n
	}
	return m
}
