package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

const openAgesPath = "/reports/ages"

// What the rows and the columns of open cases can be.
var (
	openRows    = []word{{"late", "Days late in the current step"}, {"owner", "Person in charge"}, {"site", "Test site"}, {"step", "Current step"}}
	openColumns = []word{{"age", "Age"}, {"late", "Days late in the current step"}}
)

// readOpen reads the open cases as they stand today. keep, when it is not nil, gets each
// with its assessment.
func (s *server) readOpen(c Ctx, keep func(measures.OpenCase, *cases.Case, *cases.Assessment)) ([]measures.OpenCase, error) {
	var out []measures.OpenCase
	err := s.view(c, func(r cases.Reader) error {
		for k, err := range r.Open() {
			if err != nil {
				return err
			}
			a := s.protocol().AssessStep(&k, s.today())
			if o, ok := measures.OpenCaseOf(&k, &a); ok {
				out = append(out, o)
				if keep != nil {
					keep(o, &k, &a)
				}
			}
		}
		return nil
	})
	return out, err
}

// openDimensions reads what rows and columns are.
func (s *server) openDimensions(c Ctx) (f *form, rows, columns measures.Dimension) {
	f = s.emptyForm("rows", c.QueryParam("rows"), "columns", c.QueryParam("columns"))
	rows = measures.Dimension(or(f.pick("rows", "", valuesOf(openRows)...), "late"))
	columns = measures.Dimension(or(f.pick("columns", "", valuesOf(openColumns)...), "age"))
	if rows == columns && f.ok() {
		f.fail("columns", "Rows and columns must be two different things")
	}
	return f, rows, columns
}

// openAges answers GET /reports/ages.
func (s *server) openAges(c Ctx) error {
	figs, err := s.readFigures(c)
	if err != nil {
		return err
	}
	f, rows, columns := s.openDimensions(c)
	p := &templates.OpenAgesPage{Base: templates.Base{Name: "Open cases by age", Current: "reports"}, Reports: s.reportNav(c, c.Path()), Figures: figs.note(), Files: figs.fileTabs(openAgesPath),
		Head: wordOf(openRows, string(rows)), Lead: fmt.Sprintf("As of %s. Test messages are left out.", shortDay(s.today())), Terms: openTerms}
	p.Rows = f.group(templates.Choice{ID: "rows", Legend: "Rows", Options: optionsOf(openRows)})
	p.Columns = f.group(templates.Choice{ID: "columns", Legend: "Columns", Options: optionsOf(openColumns)})
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	open, err := s.readOpen(c, nil)
	if err != nil {
		return err
	}
	if err := s.noteSeen(c, figs, "Open cases by age", p.Head+" by "+wordOf(openColumns, string(columns))); err != nil {
		return err
	}
	t := measures.AgeOpen(open, rows, columns, figs.rule)
	p.Says = openSays(&t)
	s.openTable(c, p, &t)
	return s.render(c, http.StatusOK, p)
}

var openTerms = []string{
	"Every case that is open today counts once. Age is in days since birth; days late are those since the due day of the current step, not of the case.",
	"On time: the step is not due yet, or waits for nothing that has a day. The person in charge is the one recorded with the case.",
	"The test site is that of the first collection, else of the last appointment.",
	"One table is shown at a time: from several tables of the same cases, small counts could be worked out.",
}

// openTable sets out the counts. A count leads to its cases for who may see cases, also
// where small numbers are hidden.
func (s *server) openTable(c Ctx, p *templates.OpenAgesPage, t *measures.Ageing) {
	name := func(d measures.Dimension, keys []string, i int) string {
		if i == len(keys) {
			return "All"
		}
		return s.openWord(d, keys[i])
	}
	for i, cells := range t.Cells {
		row := templates.OpenAgesRow{Name: name(t.Rows, t.RowKeys, i), Total: i == len(t.RowKeys)}
		for j, cell := range cells {
			out := templates.OpenAgesCell{Head: name(t.Columns, t.ColumnKeys, j), Text: cellText(cell), Total: row.Total || j == len(t.ColumnKeys)}
			if i == 0 {
				p.Heads = append(p.Heads, out.Head)
			}
			if can(c, seeCases) && (cell.Hidden || cell.N > 0) {
				v := url.Values{}
				if i < len(t.RowKeys) {
					v.Set(string(t.Rows), t.RowKeys[i])
				}
				if j < len(t.ColumnKeys) {
					v.Set(string(t.Columns), t.ColumnKeys[j])
				}
				out.Link = openAgesPath + "/cases?" + v.Encode()
				out.Label = fmt.Sprintf("%s: list of cases, %s, %s", out.Text, row.Name, out.Head)
			}
			row.Cells = append(row.Cells, out)
		}
		p.Table = append(p.Table, row)
	}
}

// openSays puts the counts into sentences, made from the table's shown totals alone.
func openSays(t *measures.Ageing) []string {
	if t.Cells == nil {
		return []string{"No case is open."}
	}
	last, end := t.Cells[len(t.RowKeys)], len(t.ColumnKeys)
	if last[end].Hidden {
		return []string{"How many cases are open is hidden: they are few."}
	}
	out := []string{templates.Count(last[end].N, "case is open", "cases are open") + "."}
	sum := func(d measures.Dimension, keys ...string) (n int, ok bool) {
		for _, key := range keys {
			var cell measures.Cell
			switch d {
			case t.Rows:
				cell = t.Cells[slices.Index(t.RowKeys, key)][end]
			case t.Columns:
				cell = last[slices.Index(t.ColumnKeys, key)]
			default:
				return 0, false
			}
			if cell.Hidden {
				return 0, false
			}
			n += cell.N
		}
		return n, true
	}
	if n, ok := sum(measures.ByLate, "1-3", "4-7", "8-14", "15-"); ok {
		out = append(out, fmt.Sprintf("The current step of %s is late.", templates.Thousands(n)))
	}
	if n, ok := sum(measures.ByAge, "60-179", "180-"); ok {
		out = append(out, fmt.Sprintf("%s are 60 days old or older.", templates.Thousands(n)))
	}
	return out
}

// stepWords are the steps as groups of cases.
var stepWords = map[cases.Step]string{
	cases.StepReferAtOnce: "Two variants, refer now", cases.StepVerify: "Does not fit", cases.StepRecordResult: "Result not in", cases.StepDecide: "Ready to close",
	cases.StepAwaitTest: "Booked", cases.StepRepeatTest: "Repeat due", cases.StepTellPrimary: "Primary care not told", cases.StepReachFamily: "Family not reached",
	cases.StepClearHold: "On hold", cases.StepReweigh: "Weight check due", cases.StepBookTest: "No test booked, or missed", cases.StepLookAgain: "Time to look again",
}

var lateWords = map[string]string{"on-time": "On time", "today": "Due today", "1-3": "1 to 3 days late", "4-7": "4 to 7 days late", "8-14": "8 to 14 days late", "15-": "15 days late or more"}

// openWord names a group of open cases.
func (s *server) openWord(d measures.Dimension, key string) string {
	switch d {
	case measures.ByAge:
		return ageBandWord(key)
	case measures.ByLate:
		return or(lateWords[key], key)
	case measures.ByStep:
		return or(stepWords[cases.Step(key)], key)
	case measures.BySite:
		if key == measures.Nobody {
			return "Not known yet"
		}
		return shown(s.siteName(key))
	}
	if key == measures.Nobody {
		return "Nobody in charge"
	}
	return shown(key)
}

// ageBandWord says "28-41" as "28 to 41 days" and "180-" as "180 days and over".
func ageBandWord(key string) string {
	from, to, _ := strings.Cut(key, "-")
	if to == "" {
		return from + " days and over"
	}
	return from + " to " + to + " days"
}

// openCases answers GET /reports/ages/cases: the open cases behind one count, those
// whose step is latest first.
func (s *server) openCases(c Ctx) error {
	p := &templates.OpenCasesPage{Base: templates.Base{Name: "Open cases", Current: "reports"}, Reports: s.reportNav(c, openAgesPath), Back: openAgesPath}
	want, head := map[measures.Dimension]string{}, ""
	for _, d := range []measures.Dimension{measures.ByAge, measures.ByLate, measures.ByOwner, measures.BySite, measures.ByStep} {
		if key := c.QueryParam(string(d)); key != "" {
			want[d] = key
			head += ", " + s.openWord(d, key)
		}
	}
	p.Head = "Open cases" + head
	type found struct {
		late int
		row  templates.OpenCaseRow
	}
	var list []found
	_, err := s.readOpen(c, func(o measures.OpenCase, k *cases.Case, a *cases.Assessment) {
		for d, key := range want {
			if o.Key(d) != key {
				return
			}
		}
		owner := s.openWord(measures.ByOwner, o.Key(measures.ByOwner))
		list = append(list, found{o.Late, templates.OpenCaseRow{Who: s.who(k), Reason: caseTag(a), Next: a.ActionWord(), Late: lateTag(a.Next.Due, s.today()), Owner: owner, Site: s.openWord(measures.BySite, o.Key(measures.BySite))}})
	})
	if err != nil {
		return err
	}
	slices.SortStableFunc(list, func(a, b found) int { return b.late - a.late })
	pages := max(1, (len(list)+pageRows-1)/pageRows)
	page, err := strconv.Atoi(c.QueryParam("page"))
	if err != nil || page < 1 || page > pages {
		page = 1
	}
	at := func(n int) string {
		if n < 1 || n > pages {
			return ""
		}
		v := url.Values{"page": {strconv.Itoa(n)}}
		for d, key := range want {
			v.Set(string(d), key)
		}
		return openAgesPath + "/cases?" + v.Encode()
	}
	p.Pager = templates.Pager{Page: page, Pages: pages, Prev: at(page - 1), Next: at(page + 1)}
	from := (page - 1) * pageRows
	for _, x := range list[from:min(len(list), from+pageRows)] {
		p.Rows = append(p.Rows, x.row)
	}
	p.Lead = showing(from, len(p.Rows), len(list)) + " The latest step first."
	return s.render(c, http.StatusOK, p)
}
