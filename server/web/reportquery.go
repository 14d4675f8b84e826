package web

import (
	"maps"
	"slices"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// intervalQuery is what the report of closure times was asked, from its address.
type intervalQuery struct {
	f *form
	measures.Question
	also *measures.Question // the same of a second cohort, to compare with
	figures
	known kept // what can be chosen of the cohort's cases
}

// kept are the values that the cases of a cohort have, for the filters.
type kept struct{ sites, languages, counties map[string]bool }

// intervalNames are the names of the filters in the address.
var intervalNames = []string{"start", "end", "by", "from", "to", "group", "route", "class", "site", "language", "county", "also-from", "also-to"}

// cohortDays are the days that can choose a cohort.
var cohortDays = []word{{measures.ByReferral, "Day of referral"}, {measures.ByBirth, "Day of birth"}}

// readyClasses are the classes of readiness.
var readyClasses = []word{{measures.Ready, "Could be ready by day 28"}, {measures.NotReady, "Could not be ready by day 28"}}

// readIntervalQuery reads the filters of the report. What is not given: birth to
// closure, of the cases referred in the last year.
func (s *server) readIntervalQuery(c Ctx) (*intervalQuery, error) {
	fig, err := s.readFigures(c)
	if err != nil {
		return nil, err
	}
	today := s.today()
	q := &intervalQuery{f: s.emptyForm(), figures: fig}
	for _, name := range intervalNames {
		q.f.values.Set(name, c.QueryParam(name))
	}
	for name, value := range map[string]string{"start": string(measures.Birth), "end": string(measures.Closure), "by": measures.ByReferral} {
		if q.f.typed(name) == "" {
			q.f.values.Set(name, value)
		}
	}
	if !c.QueryParams().Has("from") && !c.QueryParams().Has("to") {
		q.f.values.Set("from", date(today-364).String())
		q.f.values.Set("to", date(today).String())
	}
	q.read(today)
	return q, nil
}

// read takes the question from the form, with a problem for each part that cannot be
// used.
func (q *intervalQuery) read(today cases.Day) {
	f := q.f
	q.Window.AsOf = today
	q.From, q.To = measures.Milestone(f.pick("start", "", milestoneValues()...)), measures.Milestone(f.pick("end", "", milestoneValues()...))
	q.By = f.pick("by", "", valuesOf(cohortDays)...)
	q.Window.From, q.Window.To = f.day("from", "The first day"), f.day("to", "The last day")
	order(f, q.Window, "to", "The last day must be on or after the first day")
	q.Group = f.pick("group", "", groupValues()...)
	q.Route = f.pick("route", "", valuesOf(routes)...)
	q.Class = f.pick("class", "", valuesOf(readyClasses)...)
	q.Site, q.Language, q.County = f.text("site", "The test site", 60), f.text("language", "The language", 35), f.text("county", "The county", 60)
	if f.ok() {
		for _, text := range q.Faults() {
			f.fail("end", "%s", text)
		}
	}
	also := q.Question
	also.Group = ""
	also.Window.From, also.Window.To = f.day("also-from", "The first day to compare with"), f.day("also-to", "The last day to compare with")
	order(f, also.Window, "also-to", "The last day to compare with must be on or after the first day")
	if also.Window.From == 0 && also.Window.To == 0 {
		return
	}
	q.also = &also
	if f.ok() && overlap(q.Window, also.Window) {
		f.fail("also-from", "The two cohorts must have no day in common: each infant counts in one of them")
	}
}

// order refuses a window that ends before it begins.
func order(f *form, w measures.Window, name, problem string) {
	if w.From != 0 && w.To != 0 && w.To < w.From {
		f.fail(name, "%s", problem)
	}
}

// overlap tells whether two windows have a day in common; 0 is no bound.
func overlap(a, b measures.Window) bool {
	before := func(a, b measures.Window) bool { return a.To != 0 && b.From != 0 && a.To < b.From }
	return !before(a, b) && !before(b, a)
}

func milestoneValues() []string {
	var out []string
	for _, m := range measures.MilestoneList() {
		out = append(out, string(m.Key))
	}
	return out
}

func groupValues() []string {
	var out []string
	for _, g := range measures.GroupingList() {
		out = append(out, g.Key)
	}
	return out
}

// intervalForm is the form of the report with what was asked. The sites, languages and
// counties offered are those of the cases that were read.
func (s *server) intervalForm(q *intervalQuery) templates.IntervalForm {
	f := q.f
	var starts, ends []templates.Option
	for _, m := range measures.MilestoneList() {
		o := templates.Option{Value: string(m.Key), Text: sentence(m.Name)}
		if m.Key != measures.Closure && m.Key != measures.Determination {
			starts = append(starts, o)
		}
		if m.Key != measures.Birth {
			ends = append(ends, o)
		}
	}
	var groups []templates.Option
	for _, g := range measures.GroupingList() {
		groups = append(groups, templates.Option{Value: g.Key, Text: sentence(g.Name)})
	}
	all := []templates.Option{{Text: "All"}}
	p := templates.IntervalForm{Full: q.full,
		Start: f.group(templates.Choice{ID: "start", Legend: "Time from", Options: starts}),
		End:   f.group(templates.Choice{ID: "end", Legend: "to", Options: ends}),
		Group: f.group(templates.Choice{ID: "group", Legend: "Grouped by", Options: groups}),
		By:    f.group(templates.Choice{ID: "by", Legend: "Cases by", Options: optionsOf(cohortDays)}),
		From:  f.field(templates.Field{ID: "from", Label: "from", Width: "w14"}),
		To:    f.field(templates.Field{ID: "to", Label: "to", Width: "w14"}),
		Route: f.group(templates.Choice{ID: "route", Legend: "Referred by", Options: append(all, optionsOf(routes)...)}),
		Class: f.group(templates.Choice{ID: "class", Legend: "Infants who", Options: append(all[:1:1], optionsOf(readyClasses)...)}),
		Site:  s.filter(f, "site", "Test site", q.known.sites, s.siteName),

		Language: s.filter(f, "language", "Language", q.known.languages, languageWord),
		County:   s.filter(f, "county", "County", q.known.counties, func(name string) string { return name }),
		AlsoFrom: f.field(templates.Field{ID: "also-from", Label: "Compare with cases from", Optional: true, Width: "w14"}),
		AlsoTo:   f.field(templates.Field{ID: "also-to", Label: "Compare with cases to", Optional: true, Width: "w14"}),
	}
	p.NoSites, p.NoLanguages, p.NoCounties = len(p.Site.Options) < 2, len(p.Language.Options) < 2, len(p.County.Options) < 2
	for _, name := range []string{"route", "class", "site", "language", "county", "also-from", "also-to"} {
		p.Further = p.Further || f.typed(name) != ""
	}
	return p
}

// filter is the select of the values that the cases have; what was asked is offered
// in any case.
func (s *server) filter(f *form, id, legend string, known map[string]bool, word func(string) string) templates.Choice {
	c := templates.Choice{ID: id, Legend: legend, Options: []templates.Option{{Text: "All"}}}
	values := slices.Sorted(maps.Keys(known))
	if v := f.typed(id); v != "" && !known[v] && f.errs[id] == "" {
		values = append(values, v)
	}
	none := false
	for _, v := range values {
		if v == "" || v == measures.NotRecorded {
			none = true
			continue
		}
		c.Options = append(c.Options, templates.Option{Value: v, Text: word(v)})
	}
	slices.SortFunc(c.Options[1:], func(a, b templates.Option) int {
		switch {
		case a.Text < b.Text:
			return -1
		case a.Text > b.Text:
			return 1
		}
		return 0
	})
	if none && len(c.Options) > 1 {
		c.Options = append(c.Options, templates.Option{Value: measures.NotRecorded, Text: "Not recorded"})
	}
	return f.group(c)
}

// see notes the values of a case.
func (k *kept) see(m *cases.Milestones) {
	if k.sites == nil {
		k.sites, k.languages, k.counties = map[string]bool{}, map[string]bool{}, map[string]bool{}
	}
	note(k.sites, m.Site)
	note(k.languages, m.Language)
	note(k.counties, m.County)
}

// mostKept bounds the values offered in one select.
const mostKept = 300

func note(set map[string]bool, v string) {
	if !set[v] && len(set) < mostKept {
		set[v] = true
	}
}
