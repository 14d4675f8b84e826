package web

import (
	"net/http"

	"dunlin/cases/export"
	"dunlin/cases/measures"
)

// ratesFile answers GET /reports/qns.xlsx and .zip: all rates of the page's cases as a
// file. What is wrong with a filter is said on the page.
func (s *server) ratesFile(format string) func(Ctx) error {
	return func(c Ctx) error {
		q := s.readRatesQuery(c)
		figs, err := s.readFigures(c)
		if err != nil {
			return err
		}
		if !q.f.ok() {
			return c.Redirect(http.StatusSeeOther, "/reports/qns?"+c.QueryString())
		}
		rates, ages, err := s.ratesFor(c, &q)
		if err != nil {
			return err
		}
		var first []measures.QuarterAges
		if ages != nil {
			first = ages.Report(figs.rule)
		}
		return s.sendFigures(c, figs, "rates-"+q.window.AsOf.String(), "QNS by site", format, q.words(), q.window.AsOf,
			func(m export.Made) export.Book { return export.RatesBook(rates.Publish(figs.rule), first, m) })
	}
}

// openAgesFile answers GET /reports/ages.xlsx and .zip: the counts of the page.
func (s *server) openAgesFile(format string) func(Ctx) error {
	return func(c Ctx) error {
		figs, err := s.readFigures(c)
		if err != nil {
			return err
		}
		f, rows, columns := s.openDimensions(c)
		if !f.ok() {
			return c.Redirect(http.StatusSeeOther, openAgesPath+"?"+c.QueryString())
		}
		open, err := s.readOpen(c, nil)
		if err != nil {
			return err
		}
		filter := "All open cases: " + wordOf(openRows, string(rows)) + " by " + wordOf(openColumns, string(columns))
		return s.sendFigures(c, figs, "open-cases-"+s.today().String(), "Open cases by age", format, filter, s.today(),
			func(m export.Made) export.Book {
				return export.AgeingBook(measures.AgeOpen(open, rows, columns, figs.rule), m)
			})
	}
}
