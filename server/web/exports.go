package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/templates"
)

// exportsPath is the page of the exports, and what the addresses of their forms begin with.
const exportsPath = "/reports/exports"

// exportFormats are the formats of an export of lines.
var exportFormats = []word{{export.XLSX, "Workbook (XLSX)"}, {export.ZIP, "CSV files (ZIP)"}, {export.CSV, "One CSV file, lines only"}}

// lineKinds are the cases that a line list can hold.
var lineKinds = []word{{export.OpenCases, "Open cases"}, {export.ClosedCases, "Closed cases"}, {export.AllCases, "All cases"}}

// exportsDays is how far back the page lists what left.
const exportsDays = 30

// exportsPage answers GET /reports/exports.
func (s *server) exportsPage(c Ctx) error {
	f := s.emptyForm()
	year := strconv.Itoa(s.lastFullYear())
	for name, v := range map[string]string{"from_year": year, "to_year": year, "x_format": export.XLSX, "l_format": export.XLSX, "l_which": export.OpenCases} {
		f.values.Set(name, v)
	}
	p, err := s.exportsView(c, f)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// lastFullYear is the last year that is over.
func (s *server) lastFullYear() int {
	y, _, _ := s.today().Date()
	return y - 1
}

// exportsView is the page with the forms that the person may send.
func (s *server) exportsView(c Ctx, f *form) (*templates.ExportsPage, error) {
	p := &templates.ExportsPage{Base: templates.Base{Name: "Exports", Current: "reports"}, Reports: s.reportNav(c, exportsPath), Days: exportsDays,
		Lead: "Files with one line a case. Figures are exported from their own pages. Each file is in the audit trail with who took it, what it holds and how many rows, before it is sent.",
		Forms: []templates.ExportForm{{ID: "extract", Head: "De-identified extract", Action: exportsPath + "/extract", Button: "Export extract",
			Lead: "One line a case, with ages and intervals in days. No name, number, free text, test site or date but the year of birth (45 CFR 164.514(b)(2)); the file says how each of the 18 classes is met.",
			Notes: []string{"Only years of birth that are over: a running year would narrow birth dates.", "Open cases are followed to the last thing recorded of them, since an age with its day gives the birth date.",
				"Few lines of a rare disease can still point at a child. Agree with whoever gets the file what it may be used for."},
			Fields: []templates.Field{f.field(templates.Field{ID: "from_year", Label: "Born from year", Width: "w5", InputMode: "numeric"}), f.field(templates.Field{ID: "to_year", Label: "to year", Width: "w5", InputMode: "numeric"})},
			Format: f.group(templates.Choice{ID: "x_format", Legend: "Format", Options: optionsOf(exportFormats)}),
			Last: []templates.Field{f.field(templates.Field{ID: "x_reason", Label: "Reason", Hint: "Who asked for it, and for what. No infant’s name.", Width: "w20"}),
				f.field(templates.Field{ID: "x_answers", Label: "Who answers for so few lines", Hint: "A person’s name, needed only when the extract has fewer lines than the program’s least number.", Optional: true, Width: "w20"})}}}}
	if can(c, exportRows) {
		p.Forms = append(p.Forms, templates.ExportForm{ID: "lines", Head: "Line list, with names", Action: exportsPath + "/cases", Button: "Export line list",
			Lead: "One line a case: who the infant and family are, how to reach them, readings, next step and due day. Notes and other free text stay here.",
			Notes: []string{"The file names infants. Once saved, the program protects it no more: keep it encrypted, and delete it when it has served.", "Take the fewest cases that serve.",
				"Not a diagnosis: what was recorded, and what the protocol implies. A named person decides."},
			Fields: []templates.Field{f.field(templates.Field{ID: "l_from", Label: "Referred from", Width: "w14"}), f.field(templates.Field{ID: "l_to", Label: "to", Width: "w14"})},
			Which:  f.group(templates.Choice{ID: "l_which", Legend: "Cases", Options: optionsOf(lineKinds)}),
			Format: f.group(templates.Choice{ID: "l_format", Legend: "Format", Options: optionsOf(exportFormats)}),
			Last:   []templates.Field{f.field(templates.Field{ID: "l_reason", Label: "Reason", Hint: "What it is for, and who gets it. No infant’s name.", Width: "w20"})}})
	}
	var err error
	p.Recent, err = s.recentExports(c)
	p.Total = templates.Count(len(p.Recent), "file", "files")
	return p, err
}

// recentExports are the files that left lately, newest first.
func (s *server) recentExports(c Ctx) (rows []templates.ExportRow, err error) {
	err = s.view(c, func(r cases.Reader) error {
		for e, err := range r.EntriesSince(r.Now().AddDate(0, 0, -exportsDays)) {
			if err != nil {
				return err
			}
			if e.Event.Kind != export.EventKind {
				continue
			}
			rows = append(rows, templates.ExportRow{On: date(s.dayOf(e.At)), At: s.clock(e.At), Who: e.Actor.Name, What: e.Event.Text, Why: e.Event.Reason})
		}
		return nil
	})
	for i, j := 0, len(rows)-1; i < j; i, j = i+1, j-1 {
		rows[i], rows[j] = rows[j], rows[i]
	}
	return rows, err
}

// exportExtract answers POST /reports/exports/extract.
func (s *server) exportExtract(c Ctx) error {
	f := s.readForm(c)
	from, to := f.year("from_year", "Born from year"), f.year("to_year", "To year")
	format := f.pick("x_format", "Select a format", valuesOf(exportFormats)...)
	log := export.Log{What: "De-identified extract", Format: format, Reason: f.need("x_reason", "Reason", "Enter the reason for the export", 300), Hidden: export.ExtractHides}
	answers := f.text("x_answers", "Who answers for so few lines", 120)
	var e *export.Extract
	if f.ok() {
		var err error
		if e, err = export.NewExtract(from, to, s.today(), s.Areas); !f.take(err, map[string]string{"from_year": "from_year", "to_year": "to_year"}) {
			if err == nil {
				err = s.view(c, e.Read)
			}
			if err != nil {
				return err
			}
			s.mayBeFew(f, e, answers)
		}
	}
	if !f.ok() {
		return s.exportsAgain(c, f)
	}
	log.Filter = e.Words()
	if e.Few(s.protocol().SmallNumberBelow) {
		log.Hidden += ". So few lines, answered for by " + answers
	}
	b := e.Book(s.Program)
	return s.sendFile(c, fmt.Sprintf("extract-%d-%d", from, to), log, &b, "")
}

// mayBeFew refuses an extract of so few lines that each is somebody, unless a named
// person answers for it; and one of none.
func (s *server) mayBeFew(f *form, e *export.Extract, answers string) {
	switch least := s.protocol().SmallNumberBelow; {
	case e.Len() == 0:
		f.fail("to_year", "No case was born in these years. Choose others")
	case e.Few(least) && answers == "":
		f.fail("x_answers", "The extract would have fewer than %d lines, in which somebody may be recognized. Take more years, or name the person who answers for it", least)
	}
}

// exportLines answers POST /reports/exports/cases.
func (s *server) exportLines(c Ctx) error {
	f := s.readForm(c)
	l := export.Lines{From: f.day("l_from", "Referred from"), To: f.day("l_to", "Referred to"), Which: f.pick("l_which", "Select the cases", valuesOf(lineKinds)...)}
	if l.From != 0 && l.To != 0 && l.To < l.From {
		f.fail("l_to", "Referred to must be on or after the first day")
	}
	format := f.pick("l_format", "Select a format", valuesOf(exportFormats)...)
	log := export.Log{What: "Line list of cases, with names", Format: format, Filter: l.Words(), Reason: f.need("l_reason", "Reason", "Enter the reason for the export", 300)}
	if !f.ok() {
		return s.exportsAgain(c, f)
	}
	return s.sendSnapshot(c, "line-list-"+s.today().String(), log, func(r cases.Reader) export.Book {
		return export.RowsBook(export.Made{Program: s.Program, Filter: l.Words(), AsOf: r.Today(), By: userOf(c).Name},
			func(add func(*cases.Case, *cases.Assessment) error) error {
				return l.Each(r, s.protocol(), func(k *cases.Case, a *cases.Assessment) error {
					if c.Request().Context().Err() != nil {
						return errTooLong
					}
					saw(c, k.Reference)
					return add(k, a)
				})
			})
	})
}

// exportsAgain shows the page again with what was typed.
func (s *server) exportsAgain(c Ctx, f *form) error {
	p, err := s.exportsView(c, f)
	if err != nil {
		return err
	}
	return s.invalid(c, p, f.problems)
}

// year reads a year.
func (f *form) year(name, label string) int {
	t := strings.TrimSpace(f.typed(name))
	n, err := strconv.Atoi(t)
	if err != nil || len(t) != 4 {
		f.fail(name, "%s must be a year, like 2025", label)
		return 0
	}
	return n
}
