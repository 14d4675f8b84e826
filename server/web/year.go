package web

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
	annual "dunlin/reminders/figures"
	"dunlin/templates"
)

// yearsBack is how many birth years the page offers before this one.
const yearsBack = 9

// firstYear is the first birth year that can be asked for.
const firstYear = 1990

// yearView is the figures of a birth year as somebody asked for them.
type yearView struct {
	year    int
	now     bool // the figures of now, where others were kept
	of      figures
	y       measures.Year
	kept    *annual.Kept          // the newest keeping; nil when there is none
	live    *templates.YearReport // of now
	report  *templates.YearReport // the one shown: kept, or of now
	problem string                // of the year that was asked for
}

// yearOf is the birth year that was asked for; without one the last whole year.
func (s *server) yearOf(text string) (year int, problem string) {
	this, _, _ := s.today().Date()
	if text == "" {
		return s.lastFullYear(), ""
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < firstYear || n > this {
		return s.lastFullYear(), fmt.Sprintf("Select a birth year from %d to %d", firstYear, this)
	}
	return n, ""
}

// readYear reads the request and the figures. Where small numbers are hidden and a
// year was kept, the figures kept are the ones shown: beside them, those of another day
// would tell the few cases between.
func (s *server) readYear(c Ctx) (v yearView, err error) {
	if v.of, err = s.readFigures(c); err != nil {
		return v, err
	}
	v.year, v.problem = s.yearOf(c.QueryParam("year"))
	v.now = v.of.full && c.QueryParam("show") == "now"
	err = s.view(c, func(r cases.Reader) (err error) {
		if v.of.sites == "" { // what was kept is of every site
			if v.kept, err = annual.LastKept(r, v.year); err != nil {
				return err
			}
		}
		v.y, err = annual.Count(r, v.year, s.protocol())
		return err
	})
	if err != nil {
		return v, err
	}
	v.live = annual.Words(v.y.Publish(v.of.rule), s.aboutYear(v.of.sites))
	v.report = v.live
	if v.kept != nil && !v.now {
		v.report = v.kept.Report(v.of.full)
	}
	return v, nil
}

// aboutYear is what the words of the report need besides the figures.
func (s *server) aboutYear(sites string) annual.About {
	program := s.Program
	if sites != "" {
		program += ", " + sites + " only"
	}
	return annual.About{Program: program, Protocol: s.protocol(), Site: func(key string) string { return shown(s.siteName(key)) }}
}

// filter says in words what was asked for.
func (v *yearView) filter() string {
	text := fmt.Sprintf("Infants born in %d, records of %s", v.year, v.report.AsOf)
	if v.report != v.live {
		text += fmt.Sprintf(", as kept, number %d", v.kept.N)
	}
	return text
}

// yearFigures answers GET /reports/year.
func (s *server) yearFigures(c Ctx) error {
	v, err := s.readYear(c)
	if err != nil {
		return err
	}
	if err := s.noteSeen(c, v.of, "Figures for the year", v.filter()); err != nil {
		return err
	}
	p := s.yearPage(c, &v)
	if v.problem != "" {
		return s.invalid(c, p, []templates.Problem{{Field: "year", Text: v.problem}})
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) yearPage(c Ctx, v *yearView) *templates.YearPage {
	p := &templates.YearPage{Base: templates.Base{Name: v.report.Title, Current: "reports"}, Reports: s.reportNav(c, "/reports/year"), Figures: v.of.note(), Report: v.report}
	p.Choice = templates.Choice{ID: "year", Legend: "Born in", Error: v.problem}
	this, _, _ := s.today().Date()
	for y := this; y >= this-yearsBack; y-- {
		p.Choice.Options = append(p.Choice.Options, templates.Option{Value: strconv.Itoa(y), Text: strconv.Itoa(y)})
	}
	if v.year < this-yearsBack {
		p.Choice.Options = append(p.Choice.Options, templates.Option{Value: strconv.Itoa(v.year), Text: strconv.Itoa(v.year)})
	}
	p.Choice = p.Choice.Choose(strconv.Itoa(v.year))
	v.of.link.Set("year", strconv.Itoa(v.year))
	for _, size := range annual.Papers {
		p.Papers = append(p.Papers, templates.Link{Href: v.address("/reports/year.pdf", "paper", size.Key), Text: "PDF, " + size.Name})
	}
	if v.kept != nil {
		s.setKept(v, p)
	}
	if v.of.may {
		p.Keep = s.yearKeep(v)
	}
	return p
}

// address leads to the same figures elsewhere, with one value set.
func (v *yearView) address(path, name, value string) string {
	old := v.of.link[name]
	v.of.link.Set(name, value)
	to := v.of.address(path, v.of.full)
	v.of.link[name] = old
	if old == nil {
		v.of.link.Del(name)
	}
	return to
}

// setKept says which figures are shown, and sets those kept beside those of now.
func (s *server) setKept(v *yearView, p *templates.YearPage) {
	k := v.kept
	if v.report != v.live {
		p.Kept = fmt.Sprintf("These are the figures kept on %s by %s.", shortDay(k.On), k.By)
		if !v.of.full {
			p.Kept += " They stay as they were, so that two reports of one year do not tell single cases."
		} else {
			p.Shows = templates.Link{Href: v.address("/reports/year", "show", "now"), Text: "Show the figures of now"}
		}
	} else {
		p.Shows = templates.Link{Href: v.address("/reports/year", "show", "kept"), Text: "Show the figures that were kept on " + shortDay(k.On)}
	}
	then := k.Report(v.of.full)
	p.Since = &templates.YearSince{Rows: annual.Changes(then, v.live), Says: k.Since(v.live, s.protocol()),
		Lead: fmt.Sprintf("Then: kept on %s by %s, records of %s. Now: records of %s.", shortDay(k.On), k.By, then.AsOf, v.live.AsOf)}
	if len(p.Since.Rows) == 0 {
		p.Since.Says = append([]string{"No figure that may be set side by side has changed."}, p.Since.Says...)
	}
}

// yearPDF answers GET /reports/year.pdf.
func (s *server) yearPDF(c Ctx) error {
	v, err := s.readYear(c)
	if err != nil {
		return err
	}
	if v.problem != "" {
		return s.invalid(c, s.yearPage(c, &v), []templates.Problem{{Field: "year", Text: v.problem}})
	}
	size, _ := annual.PaperOf(c.QueryParam("paper"))
	on := v.y.AsOf
	if v.report != v.live {
		on = v.kept.AsOf
	}
	var buf bytes.Buffer
	made := fmt.Sprintf("Printed %s, %s, by %s", shortDay(s.today()), s.clock(s.Now()), userOf(c).Name)
	if err := annual.Write(&buf, v.report, made, on.Time(), size); err != nil {
		return fmt.Errorf("web: figures for the year: %w", err)
	}
	if err := s.note(c, export.Log{What: "Figures for the year", Format: "PDF", Filter: plainLine(v.filter()), Rows: annual.Rows(v.report), Hidden: v.of.words()}.Event()); err != nil {
		return err
	}
	return sendPDF(c, fmt.Sprintf("figures-%d", v.year), buf.Bytes())
}
