package web

import (
	"bytes"
	"fmt"
	"net/http"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/export/fhir"
	"dunlin/templates"
)

// exportCaseForm answers GET /infants/:ref/export.
func (s *server) exportCaseForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.exportCasePage(c, &o, s.emptyForm()))
}

// exportCasePage says what the file holds and what stays, and asks for the reason.
func (s *server) exportCasePage(c Ctx, o *opened, f *form) *templates.ExportCasePage {
	p := &templates.ExportCasePage{Base: s.base(c, o, "Export the case", "infants"), Head: "Export the case of " + shortName(&o.c.Infant),
		Lead:   "One file for the program or clinic that takes the infant over. It names the infant and the family.",
		Action: action(c), Back: "/infants/" + o.c.Reference, Button: "Export as FHIR"}
	p.Holds = []templates.Fact{
		{Name: "Goes out", Text: "Infant, family and doctor with addresses and telephone numbers; newborn screen, CFTR variants, weights; sweat tests with the program's reading; bookings; the step that is owed; letters and messages by kind and day; what the person who closed the case decided."},
		{Name: "Stays here", Text: "Contacts, holds, contact flags, notes, values to check, the texts of letters and messages, the change history."},
		{Name: "Form", Text: "HL7 FHIR R4, one bundle of resources as JSON. It claims no profile."},
		{Name: "Log", Text: "Your name, the time and the reason are written down before the file is made."},
	}
	if w := flagWords(&o.c, o.today); w != "" {
		p.Warn = append(p.Warn, "Contact flags of this family: "+w+". The file holds addresses and telephone numbers, and not the flags: tell the receiver.")
	}
	if o.c.TestMessage {
		p.Warn = append(p.Warn, "This case was opened by a test message.")
	}
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Reason", Hint: "Who gets the file, and why", Width: "w20"})
	return p
}

// exportCase answers POST /infants/:ref/export with the bundle, once the export stands
// in the audit trail.
func (s *server) exportCase(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	reason := f.need("reason", "Reason", "Enter who gets the file, and why", 300)
	if !f.ok() {
		return s.invalid(c, s.exportCasePage(c, &o, f), f.problems)
	}
	var source fhir.Source
	if err := s.view(c, func(r cases.Reader) (err error) {
		source, err = fhir.Read(r, o.c.Reference)
		return err
	}); err != nil {
		return err
	}
	bundle := fhir.Make(source, fhir.Options{Program: s.Program, By: actorOf(c).Name, Zone: s.Now().Location(), Protocol: s.protocol(),
		Site: s.siteName, LeaveOut: s.CodesLeftOut})
	var body bytes.Buffer
	if err := bundle.Write(&body); err != nil {
		return err
	}
	if err := s.note(c, export.Log{What: "Case " + o.c.Reference, Format: "FHIR R4", Rows: len(bundle.Entry), Hidden: "Names the infant", Reason: reason}.Event()); err != nil {
		return err
	}
	c.Response().Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", "case-"+o.c.Reference+".json"))
	return c.Blob(http.StatusOK, "application/fhir+json", body.Bytes())
}
