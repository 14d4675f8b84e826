package figures

import (
	"cmp"
	"fmt"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// About is what the words need besides the figures.
type About struct {
	Program  string
	Protocol *cases.Protocol
	Site     func(key string) string // name of a test site; nil: the key itself
}

func (a *About) site(key string) string {
	if a.Site == nil {
		return key
	}
	return a.Site(key)
}

// Words puts the figures of a birth year into words: the report that page and paper
// share.
func Words(y measures.PublishedYear, about About) *templates.YearReport {
	r := &templates.YearReport{
		Year: y.Year, Program: about.Program, AsOf: cases.Say(y.AsOf), Full: y.Below == 0, Below: y.Below,
		Title: fmt.Sprintf("Figures for the year %d", y.Year),
		Lead: fmt.Sprintf("Infants born in %d and referred by %s: %s. Their cases are counted as they stood on that day, open ones included. A case belongs to the year of birth, whenever it was referred or closed. Test messages are left out.",
			y.Year, cases.Say(y.AsOf), cell(y.Cases)),
		Facts: facts(&y, &about), Says: says(&y, &about), Cautions: cautions,
	}
	if !y.Cases.Hidden && y.Cases.N == 0 {
		r.Facts, r.How = nil, how(&y, &about)
		return r
	}
	for _, s := range []templates.YearSection{counted(&y), times(&y, &about), tested(&y), reasons(&y), tests(&y, &about), followUp(&y), groups(&y, &about), recorded(&y)} {
		if len(s.Tables) > 0 || s.Funnel != nil || len(s.Curves) > 0 {
			r.Sections = append(r.Sections, s)
		}
	}
	r.Terms, r.How = terms(&y), how(&y, &about)
	return r
}

// cautions say what no figure says.
var cautions = []string{
	"Figures count what was recorded. They name no cause, and judge no site and no person: a figure outside of its limits is a reason to look.",
	"Dunlin does not diagnose. A determination is that of the named clinician who closed the case. Local protocol and licensed practice come first.",
}

// facts are the figures that stand first.
func facts(y *measures.PublishedYear, about *About) []templates.BigFact {
	out := []templates.BigFact{{Name: "Infants referred", Value: cell(y.Cases), Note: "still open on " + cases.Say(y.AsOf) + ": " + cell(y.Open)}}
	by := about.Protocol.FirstTestByDays
	if x, ok := y.Interval(measures.Birth, measures.FirstTest, ""); ok {
		s := x.All.By(by)
		out = append(out, templates.BigFact{Name: fmt.Sprintf("First test by day %d", by), Value: shareWord(s), Note: limitsNote(s)},
			templates.BigFact{Name: "Median age at first test", Value: sentence(dayWord(x.All.Median)), Note: halfNote(&x.All)})
	}
	if x, ok := y.Interval(measures.Birth, measures.Closure, ""); ok {
		out = append(out, templates.BigFact{Name: "Median age at closure", Value: sentence(dayWord(x.All.Median)), Note: halfNote(&x.All)})
	}
	if r, ok := qnsOf(y); ok {
		name := "QNS, up to 3 months"
		if r.Measure == measures.QNSFirstYoung {
			name = "QNS of first tests, up to 3 months"
		}
		out = append(out, templates.BigFact{Name: name, Value: rateWord(r.HiddenRate), Note: ofWord(r.HiddenRate) + benchmarkNote(r)})
	}
	return out
}

// counted is how many infants came, and how their cases stand.
func counted(y *measures.PublishedYear) templates.YearSection {
	s := templates.YearSection{ID: "counted", Name: "Referred and closed"}
	list := func(name, head string, rows []measures.PublishedCount, word func(string) string) {
		t := templates.YearTable{Name: name, Columns: []templates.YearColumn{{Head: head, Share: 3}, {Head: "Infants", Figure: true, Count: true}}}
		for _, r := range rows {
			t.Rows = append(t.Rows, []string{word(r.As), cell(r.N)})
		}
		t.Rows = append(t.Rows, []string{"All", cell(y.Cases)})
		s.Tables = append(s.Tables, t)
	}
	list("Referred by", "Way", y.ByRoute, cases.RouteWord)
	list("Variants known", "Variants", y.ByVariants, sentence)
	list("How the cases stand", "Closed as", append([]measures.PublishedCount{{As: "open", N: y.Open}}, y.ClosedAs...), func(as string) string {
		if as == "open" {
			return "Still open"
		}
		return cases.DeterminationWord(as)
	})
	return s
}

// reasons is the share closed for each reason by some ages, the others competing.
func reasons(y *measures.PublishedYear) templates.YearSection {
	s := templates.YearSection{ID: "reasons", Name: "Closed by age, by reason"}
	x, ok := y.Interval(measures.Birth, measures.Closure, "")
	if !ok || len(x.All.Incidence) == 0 {
		return s
	}
	s.Lead = "Share of all infants closed for each reason by an age in days, with 95% limits. The reasons compete (Aalen-Johansen): the shares of a column and the share still open add up to 100%."
	t := templates.YearTable{Columns: []templates.YearColumn{{Head: "Reason", Share: 1.6}}}
	for _, day := range reasonDays {
		t.Columns = append(t.Columns, templates.YearColumn{Head: fmt.Sprintf("By day %d", day), Figure: true})
	}
	for _, in := range x.All.Incidence {
		row := []string{sentence(in.As)}
		for _, day := range reasonDays {
			row = append(row, incidenceWord(&x.All, in, day))
		}
		t.Rows = append(t.Rows, row)
	}
	s.Tables = append(s.Tables, t)
	return s
}

// reasonDays are the ages of the table of closures by reason.
var reasonDays = []int{28, 60, 90, 180, 365}

func incidenceWord(g *measures.PublishedGroup, in measures.PublishedReason, day int) string {
	if in.Hidden || len(g.Curve) == 0 {
		return fewWord
	}
	if !g.Curve.DoneBy(day).Known {
		return unknownWord
	}
	step, limits := in.By(float64(day))
	return shareLimits(float64(step.Value), limits)
}

func isTestedBy(measure string) bool {
	for _, days := range measures.TestedAges {
		if measures.TestedBy(days) == measure {
			return true
		}
	}
	return false
}

// tested is the share with a sufficient test by each age, with both denominators.
func tested(y *measures.PublishedYear) templates.YearSection {
	s := templates.YearSection{ID: "tested-by", Name: "Tested by age",
		Lead: "Infants with a test that gave enough sweat, of all who reached the age, tested or not; and of those who could be tested in time."}
	var rows []measures.PublishedRate
	for _, days := range measures.TestedAges {
		key := measures.TestedBy(days)
		if r, ok := rateOf(y, key); ok {
			rows = append(rows, r)
		}
		for _, b := range y.Rates.Breakdowns {
			if b.Measure == key {
				rows = append(rows, b.Rows...)
			}
		}
	}
	if len(rows) == 0 {
		return s
	}
	s.Tables = append(s.Tables, rateTable("", rows, func(r measures.PublishedRate) string {
		return nameOf(r.Measure) + ", " + cmp.Or(r.Name, "all")
	}))
	return s
}

// followUp is what became of the infants who had to be followed.
func followUp(y *measures.PublishedYear) templates.YearSection {
	s := templates.YearSection{ID: "follow-up", Name: "Follow-up"}
	var rows []measures.PublishedRate
	for _, r := range y.Rates.Rates {
		if !isQNS(r.Measure) && !isTestedBy(r.Measure) {
			rows = append(rows, r)
		}
	}
	if len(rows) > 0 {
		s.Tables = append(s.Tables, rateTable("", rows, func(r measures.PublishedRate) string { return nameOf(r.Measure) }))
	}
	if n := y.Rates.PerCase; n != nil {
		s.Notes = append(s.Notes, fmt.Sprintf("Attempts to reach a family, for each case: %.1f (mean of all cases, open ones included).", *n))
	}
	return s
}

// recorded is how complete the data are.
func recorded(y *measures.PublishedYear) templates.YearSection {
	s := templates.YearSection{ID: "recorded", Name: "Data recorded"}
	for _, b := range y.Rates.Breakdowns {
		if b.Measure == measures.Complete {
			s.Tables = append(s.Tables, rateTable("", b.Rows, func(r measures.PublishedRate) string { return sentence(r.Name) }))
		}
	}
	return s
}
