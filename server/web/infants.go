package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// infants answers GET /infants: the open cases.
func (s *server) infants(c Ctx) error { return s.infantsPage(c, "", false) }

// askInfants answers POST /infants/find. What was typed is kept in the session
// and not in the address, where names would stay in the browser's history.
func (s *server) askInfants(c Ctx) error {
	f, ctx := s.readForm(c), c.Request().Context()
	q := f.text("q", "Name, date or number", 200)
	if !f.ok() {
		p := &templates.InfantsPage{Base: templates.Base{Name: "Infants", Current: "infants"}, Asked: true, Lead: "Nothing was looked for.",
			Query: f.field(templates.Field{ID: "q", Label: "Name, birth date, case, record or specimen number", Width: "w20", NoSpell: true})}
		return s.invalid(c, p, f.problems)
	}
	if q == "" {
		return c.Redirect(http.StatusSeeOther, "/infants")
	}
	s.Auth.Keep(ctx, "find", q)
	s.Auth.Keep(ctx, "find-closed", f.typed("closed"))
	return c.Redirect(http.StatusSeeOther, "/infants/found")
}

// foundInfants answers GET /infants/found: what a name, a birth date or a
// number finds. One hit opens its page.
func (s *server) foundInfants(c Ctx) error {
	ctx := c.Request().Context()
	return s.infantsPage(c, s.Auth.Kept(ctx, "find"), s.Auth.Kept(ctx, "find-closed") == "yes")
}

func (s *server) infantsPage(c Ctx, q string, closed bool) error {
	p := &templates.InfantsPage{Closed: closed, Asked: q != "",
		Query: templates.Field{ID: "q", Label: "Name, birth date, case, record or specimen number", Hint: "The start of a name is enough. Birth date like 5 Mar 2026", Value: q, Width: "w20", NoSpell: true}}
	p.Current, p.Find = "infants", ""
	found, more, err := s.find(c, q, p.Closed)
	if err != nil {
		return err
	}
	away := visitOf(c).elsewhere
	for _, ref := range away[:min(len(away), 5)] {
		p.Notices = append(p.Notices, templates.Notice{Kind: "info", Head: "Another test site:", Text: "an infant who is not among yours fits too.", Link: "/infants/" + ref + "/open", LinkText: "Open " + ref + " for a reason"})
	}
	if q != "" && len(found) == 1 && !more && len(away) == 0 {
		return c.Redirect(http.StatusSeeOther, "/infants/"+found[0].Reference)
	}
	for i := range found {
		p.Rows = append(p.Rows, s.foundRow(&found[i], q))
	}
	p.Lead, p.Name = plainCount(len(found), "open case", "open cases")+", the oldest infant first.", "Infants, "+plainCount(len(found), "open case", "open cases")
	if q != "" {
		p.Lead, p.Name = plainCount(len(found), "infant", "infants")+" found.", "Infants, "+plainCount(len(found), "found", "found")
		where := "open cases"
		if p.Closed {
			where = "open and closed cases"
		}
		p.Searched = fmt.Sprintf("Searched names (also former ones), birth dates, case, record and specimen numbers of %s for “%s”.", where, q)
	}
	if more {
		p.More = fmt.Sprintf("Only the first %d are shown. Type more to narrow them down.", pageRows)
	}
	return s.render(c, http.StatusOK, p)
}

// find gives at most pageRows cases and whether there are more.
func (s *server) find(c Ctx, q string, closed bool) (found []cases.Case, more bool, err error) {
	err = s.view(c, func(r cases.Reader) error {
		if q == "" {
			for k, err := range r.Open() {
				if err != nil {
					return err
				}
				if more = len(found) == pageRows; more {
					break
				}
				found = append(found, k)
			}
			slices.SortFunc(found, func(a, b cases.Case) int { return int(a.Infant.Born) - int(b.Infant.Born) })
			return nil
		}
		query := cases.Query{Text: q, IncludeClosed: closed, Limit: pageRows + 1}
		if d, problem := parseDay(q, s.today()); problem == "" {
			query.Text, query.Born = "", d
		}
		var err error
		found, err = r.Find(query)
		if more = len(found) > pageRows; more {
			found = found[:pageRows]
		}
		return err
	})
	return found, more, err
}

func (s *server) foundRow(k *cases.Case, q string) templates.FoundRow {
	a := s.Protocol.Assess(k, s.today())
	row := templates.FoundRow{Who: s.who(k), State: caseTag(&a), Strip: s.strip(k, &a), Next: a.ActionWord()}
	if a.Next.Due != 0 && !a.Closed {
		row.Next += ", " + strings.ToLower(doneBy(&a)[:1]) + doneBy(&a)[1:]
	}
	low := strings.ToLower(q)
	if low == "" || strings.Contains(strings.ToLower(infantName(&k.Infant)), low) {
		return row
	}
	for _, n := range k.Infant.FormerNames {
		if strings.Contains(strings.ToLower(n), low) {
			row.Former = n
		}
	}
	return row
}
