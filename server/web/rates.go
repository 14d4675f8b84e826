package web

import (
	"net/http"
	"strings"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// ratesQuery is the choice of cases, and of what is counted, of the report of rates.
type ratesQuery struct {
	f       *form
	window  measures.Window
	byDay   bool   // the window is one of days of tests and appointments
	measure string // of the tables: a key of a definition
	route   string
}

// rateCounts are the collections that the tables can count.
var rateCounts = []word{{"first", "First tests, up to 3 months"}, {"all", "All collections, up to 3 months"}, {"older", "All collections, over 3 months"}}

var countMeasures = map[string]string{"": measures.QNSFirstYoung, "first": measures.QNSFirstYoung, "all": measures.QNSTestsYoung, "older": measures.QNSTestsOlder}

var rateDays = []word{{"referral", "the day of referral"}, {"test", "the day of the test"}}

// readRatesQuery reads the filters. Without any, the cases referred in the last year.
func (s *server) readRatesQuery(c Ctx) ratesQuery {
	today := s.today()
	q := ratesQuery{f: s.emptyForm(), window: measures.Window{AsOf: today}}
	given := false
	for _, name := range []string{"from", "to", "by", "count", "route"} {
		given = given || c.QueryParams().Has(name)
		q.f.values.Set(name, c.QueryParam(name))
	}
	if !given {
		q.f.values.Set("from", date(today-364).String())
		q.f.values.Set("to", date(today).String())
	}
	q.window.From, q.window.To = q.f.day("from", "From"), q.f.day("to", "To")
	if q.window.From != 0 && q.window.To != 0 && q.window.To < q.window.From {
		q.f.fail("to", "To must be on or after the first day")
	}
	q.byDay = q.f.pick("by", "", valuesOf(rateDays)...) == "test"
	q.measure = countMeasures[q.f.pick("count", "", valuesOf(rateCounts)...)]
	q.route = q.f.pick("route", "", valuesOf(routes)...)
	return q
}

// words says the filter in one line.
func (q *ratesQuery) words() string {
	text := windowWords(q.window)
	if q.byDay {
		text = "Tests and appointments on any day"
		if w := strings.TrimPrefix(windowWords(q.window), "Infants referred "); q.window.From != 0 || q.window.To != 0 {
			text = "Tests and appointments, " + w
		}
	}
	for _, r := range routes {
		if r.value == q.route {
			text += ", referred by: " + r.text
		}
	}
	return text
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

// ratesFor counts the chosen cases by their kept milestones, and the ages at the first
// test unless the window is one of days.
func (s *server) ratesFor(c Ctx, q *ratesQuery) (measures.Rates, *measures.AgesTally, error) {
	t, ages := measures.NewRatesTally(q.window, s.protocol()), measures.NewAgesTally(q.window)
	from, to := q.window.From, q.window.AsOf
	if q.window.To != 0 {
		to = q.window.To
	}
	if q.byDay {
		t, ages, from, to = measures.NewDayTally(q.window, s.protocol()), nil, 0, q.window.AsOf
	}
	err := s.view(c, func(r cases.Reader) error {
		for m, err := range r.Milestones(from, to) {
			if err != nil {
				return err
			}
			if q.route != "" && m.Route != q.route {
				continue
			}
			t.Add(&m)
			if ages != nil {
				ages.Add(&m)
			}
		}
		return nil
	})
	return t.Report(), ages, err
}

// ratesPage answers GET /reports/qns.
func (s *server) ratesPage(c Ctx) error {
	q := s.readRatesQuery(c)
	figs, err := s.readFigures(c)
	if err != nil {
		return err
	}
	p := &templates.RatesPage{Base: templates.Base{Name: "QNS by site", Current: "reports"}, Reports: s.reportNav(c, c.Path()), Figures: figs.note(), Files: figs.fileTabs("/reports/qns"), AsOf: date(q.window.AsOf)}
	p.From = q.f.field(templates.Field{ID: "from", Label: "From", Width: "w14"})
	p.To = q.f.field(templates.Field{ID: "to", Label: "To", Width: "w14"})
	p.By = q.f.group(templates.Choice{ID: "by", Legend: "These are", Options: optionsOf(rateDays)})
	p.Count = q.f.group(templates.Choice{ID: "count", Legend: "Count", Options: optionsOf(rateCounts)})
	p.Route = q.f.group(templates.Choice{ID: "route", Legend: "Referred by", Options: append([]templates.Option{{Text: "All"}}, optionsOf(routes)...)})
	if !q.f.ok() {
		p.Small = "Mend what is marked. No figure is shown until then."
		return s.invalid(c, p, q.f.problems)
	}
	rates, ages, err := s.ratesFor(c, &q)
	if err != nil {
		return err
	}
	if err := s.noteSeen(c, figs, "QNS by site", q.words()+". Count: "+definitionName(q.measure)); err != nil {
		return err
	}
	x := ratesView{s: s, q: &q, r: rates.Publish(figs.rule)}
	x.fill(p)
	if ages != nil {
		p.Ages = s.agesFigure(ages.Report(figs.rule))
	}
	return s.render(c, http.StatusOK, p)
}

func definitionName(key string) string {
	d, _ := measures.DefinitionOf(key)
	return d.Name
}
