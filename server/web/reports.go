package web

import (
	"fmt"
	"net/http"
	"net/url"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// reportQuery is the choice of cases of a report, from its address.
type reportQuery struct {
	f      *form
	window measures.Window
	route  string
}

// readReportQuery reads the filters of a report. Without any, the cases referred
// in the last year.
func (s *server) readReportQuery(c Ctx) reportQuery {
	today := s.today()
	q := reportQuery{f: s.emptyForm(), window: measures.Window{AsOf: today}}
	given := false
	for _, name := range []string{"from", "to", "route"} {
		if c.QueryParams().Has(name) {
			given = true
		}
		q.f.values.Set(name, c.QueryParam(name))
	}
	if !given {
		q.f.values.Set("from", date(today-364).String())
		q.f.values.Set("to", date(today).String())
	}
	q.window.From, q.window.To = q.f.day("from", "Referred from"), q.f.day("to", "Referred to")
	if q.window.From != 0 && q.window.To != 0 && q.window.To < q.window.From {
		q.f.fail("to", "Referred to must be on or after the first day")
	}
	q.route = q.f.pick("route", "", valuesOf(routes)...)
	return q
}

// report computes the closure times of the chosen cases from their kept
// milestones, which hold for today. Cases opened from test messages never count.
func (s *server) report(c Ctx, q reportQuery) (measures.Report, error) {
	t := measures.NewTally(q.window)
	to := q.window.AsOf
	if q.window.To != 0 {
		to = q.window.To
	}
	err := s.view(c, func(r cases.Reader) error {
		for m, err := range r.Milestones(q.window.From, to) {
			if err != nil {
				return err
			}
			if m.Marks&cases.MarkTestMessage == 0 && (q.route == "" || m.Route == q.route) {
				t.Add(measures.RecordOf(&m))
			}
		}
		return nil
	})
	return t.Report(), err
}

// closureTimes answers GET /reports/closure.
func (s *server) closureTimes(c Ctx) error {
	q := s.readReportQuery(c)
	p := s.closureTimesPage(q)
	p.Reports = s.reportNav(c, c.Path())
	if !q.f.ok() {
		return s.invalid(c, p, q.f.problems)
	}
	rep, err := s.report(c, q)
	if err != nil {
		return err
	}
	fillClosureTimes(p, rep, s.protocol())
	if p.Agrees = can(c, agreeClosing); p.Agrees {
		if p.Waiting, err = s.waitingClosings(c); err != nil {
			return err
		}
	}
	p.Lead = fmt.Sprintf("%s. %s, followed to %s. Test messages are left out.", windowWords(q.window), templates.Count(rep.Cases, "case", "cases"), shortDay(q.window.AsOf))
	return s.render(c, http.StatusOK, p)
}

// waitingClosings are the proposed closings that wait for a second person.
func (s *server) waitingClosings(c Ctx) ([]templates.WaitingClosing, error) {
	var out []templates.WaitingClosing
	err := s.view(c, func(r cases.Reader) error {
		for k, err := range r.Open() {
			if err != nil {
				return err
			}
			if len(k.Closures) == 0 {
				continue
			}
			if x := s.protocol().Assess(&k, s.today()).Proposed; x != nil {
				out = append(out, templates.WaitingClosing{Who: s.who(&k), As: determinationWord(x.As), By: x.By, On: date(x.On)})
			}
		}
		return nil
	})
	return out, err
}

// closureTimesPage is the page with its filters.
func (s *server) closureTimesPage(q reportQuery) *templates.ClosureTimesPage {
	p := &templates.ClosureTimesPage{Base: templates.Base{Name: "Closure times", Current: "reports"}, AsOf: date(q.window.AsOf)}
	p.From = q.f.field(templates.Field{ID: "from", Label: "Referred from", Width: "w14"})
	p.To = q.f.field(templates.Field{ID: "to", Label: "Referred to", Width: "w14"})
	p.Route = q.f.group(templates.Choice{ID: "route", Legend: "Referred by", Options: append([]templates.Option{{Text: "All"}}, optionsOf(routes)...)})
	v := url.Values{}
	for _, name := range []string{"from", "to", "route"} {
		v.Set(name, q.f.typed(name))
	}
	p.Export = "/reports/closure.csv?" + v.Encode()
	return p
}

func windowWords(w measures.Window) string {
	switch {
	case w.From != 0 && w.To != 0:
		return "Infants referred " + shortDay(w.From) + " to " + shortDay(w.To)
	case w.From != 0:
		return "Infants referred from " + shortDay(w.From) + " on"
	case w.To != 0:
		return "Infants referred to " + shortDay(w.To)
	}
	return "All infants referred"
}

// closureTimesCSV answers GET /reports/closure.csv: the figures without names
// or case numbers. Groups under the protocol's least number are left out.
func (s *server) closureTimesCSV(c Ctx) error {
	q := s.readReportQuery(c)
	if !q.f.ok() {
		return s.invalid(c, s.closureTimesPage(q), q.f.problems)
	}
	rep, err := s.report(c, q)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", "closure-times-"+rep.AsOf.String()+".csv"))
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8", closureCSV(rep, s.protocol().SmallNumberBelow))
}
