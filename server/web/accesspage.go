package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/templates"
)

const (
	accessPath  = "/settings/access"
	accessRows  = 50     // lines of a page
	accessMost  = 20_000 // lines of a file
	accessNamed = 6      // infants of a line that the page names
)

// actWords says each act as the log's page does.
var actWords = map[cases.AccessAct]string{
	cases.ActView: "Looked at", cases.ActList: "Listed", cases.ActSearch: "Searched", cases.ActChange: "Recorded or changed", cases.ActCreate: "Took in",
	cases.ActPrint: "Opened to print", cases.ActExport: "Took a file", cases.ActBreakGlass: "Opened for a reason", cases.ActReview: "Reviewed a look",
}

// accessAsked is what a person asks of the access log.
type accessAsked struct {
	f     *form
	q     cases.AccessQuery
	shown bool // lines may be shown
}

// askAccess reads the filter. Whose lines a person may read: the manager everybody's,
// the coordinator those about one infant and the own ones, the nurse the own ones; the
// administrator none.
func (s *server) askAccess(c Ctx) accessAsked {
	a := accessAsked{f: &form{values: c.QueryParams(), today: s.today(), errs: map[string]string{}}, shown: true}
	f := a.f
	a.q.Infant = strings.ToUpper(f.text("infant", "Case", 30))
	a.q.Person = f.text("person", "Person", 200)
	if act := cases.AccessAct(f.typed("act")); actWords[act] != "" {
		a.q.Act = act
	}
	midnight := func(d cases.Day) time.Time {
		y, m, day := d.Date()
		return time.Date(y, time.Month(m), day, 0, 0, 0, 0, s.Now().Location())
	}
	if d := f.day("from", "From"); d != 0 {
		a.q.From = midnight(d)
	}
	if d := f.day("to", "To"); d != 0 {
		a.q.To = midnight(d + 1)
	}
	a.q.Before = f.typed("before")
	switch who := userOf(c); {
	case can(c, seeAccessLog):
	case who.Role == cases.Coordinator && a.q.Infant != "":
		a.q.Person = ""
	case can(c, seeCases):
		a.q.Person = who.ID
	default:
		a.shown = false
	}
	return a
}

// accessLogPage answers GET /settings/access.
func (s *server) accessLogPage(c Ctx) error {
	p, err := s.accessView(c, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// accessView is the page; typed is a review that could not be kept.
func (s *server) accessView(c Ctx, typed *form) (*templates.AccessLogPage, error) {
	a := s.askAccess(c)
	p := &templates.AccessLogPage{Base: templates.Base{Name: "Access log", Current: "settings"}, Links: settingsTabs(c, "access"), Asks: a.shown, Listed: a.shown, All: can(c, seeAccessLog),
		Lead: s.accessLead(c, &a), None: "No line fits."}
	err := s.view(c, func(r cases.Reader) error {
		people, err := peopleOf(r)
		if err != nil {
			return err
		}
		if p.Reviews, err = s.reviewsOf(c, r, people, typed); err != nil {
			return err
		}
		s.accessFilter(p, a.f, people)
		if p.Whole, err = s.accessWhole(c, r); err != nil || !a.shown || !a.f.ok() {
			return err
		}
		a.q.Limit = accessRows
		lines, next, err := r.Accesses(a.q)
		if err != nil {
			return err
		}
		for i := range lines {
			row, err := s.accessRow(c, r, &lines[i], people)
			if err != nil {
				return err
			}
			p.Rows = append(p.Rows, row)
		}
		if next != "" {
			p.Older = accessPath + "?" + a.address(next)
		}
		return nil
	})
	if p.All && len(p.Rows) > 0 {
		p.CSV = accessPath + ".csv?" + a.address("")
	}
	p.Problems = a.f.problems
	return p, err
}

// address is the filter in an address, from a line on.
func (a *accessAsked) address(before string) string {
	v := url.Values{}
	for _, name := range []string{"infant", "person", "act", "from", "to"} {
		if x := a.f.typed(name); x != "" {
			v.Set(name, x)
		}
	}
	if before != "" {
		v.Set("before", before)
	}
	return v.Encode()
}

func (s *server) accessLead(c Ctx, a *accessAsked) string {
	switch {
	case can(c, seeAccessLog):
		return "Who saw, changed, printed or took what about infants, and when."
	case userOf(c).Role == cases.Coordinator && a.q.Infant != "":
		return "Who saw, changed, printed or took what about one infant."
	case userOf(c).Role == cases.Coordinator:
		return "What you saw and did yourself. Enter a case to see everybody’s lines about it."
	case a.shown:
		return "What you saw and did yourself."
	}
	return "The manager reads the log. Here is whether it is whole."
}

// peopleOf gives the names of all accounts by sign-in name.
func peopleOf(r cases.Reader) (map[string]string, error) {
	list, err := r.Accounts()
	out := map[string]string{}
	for i := range list {
		out[list[i].ID] = list[i].Name
	}
	return out, err
}

func (s *server) accessFilter(p *templates.AccessLogPage, f *form, people map[string]string) {
	p.Infant = f.field(templates.Field{ID: "infant", Label: "Case", Hint: caseNumberHint, Width: "w14", NoSpell: true})
	p.From = f.field(templates.Field{ID: "from", Label: "From", Width: "w14"})
	p.To = f.field(templates.Field{ID: "to", Label: "To", Width: "w14"})
	who := make([]templates.Option, 0, len(people)+1)
	for id, name := range people {
		who = append(who, templates.Option{Value: id, Text: name})
	}
	slices.SortFunc(who, func(a, b templates.Option) int { return strings.Compare(a.Text+a.Value, b.Text+b.Value) })
	p.Person = f.group(templates.Choice{ID: "person", Legend: "Person", Options: append([]templates.Option{{Text: "Everybody"}}, who...)})
	acts := []templates.Option{{Text: "Anything"}}
	for _, a := range cases.AccessActs() {
		acts = append(acts, templates.Option{Value: string(a), Text: actWords[a]})
	}
	p.Act = f.group(templates.Choice{ID: "act", Legend: "Did", Options: acts})
}

// accessRow sets out one line.
func (s *server) accessRow(c Ctx, r cases.Reader, a *cases.Access, people map[string]string) (templates.AccessRow, error) {
	row := templates.AccessRow{When: shortDay(s.dayOf(a.At)) + ", " + a.At.In(s.Now().Location()).Format("15:04:05"), Who: or(people[a.By], a.By), Role: roleWords[a.Role],
		Did: actWords[a.Act], What: or(a.What, routeWords(a.Route)), Why: a.Why, Outcome: templates.Tag{Kind: "done", Text: sentence(a.Outcome())}}
	switch {
	case a.Refused():
		row.Outcome.Kind = "late"
	case a.Outcome() != "done":
		row.Outcome.Kind = "soon"
	}
	if a.Of != 0 {
		row.What = fmt.Sprintf("The look of line %d", a.Of)
	}
	if !a.Until.IsZero() {
		row.What = "Until " + s.clock(a.Until)
	}
	refs, err := r.AccessInfants(*a)
	if err != nil {
		return row, err
	}
	for _, ref := range refs[:min(len(refs), accessNamed)] {
		l := templates.Link{Text: ref}
		if can(c, seeCases) {
			l.Href = "/infants/" + ref
		}
		row.Infants = append(row.Infants, l)
	}
	if n := max(a.Rows, len(refs)) - len(row.Infants); n > 0 && len(row.Infants) > 0 {
		row.More = fmt.Sprintf("and %s more", templates.Thousands(n))
	} else if n > 0 {
		row.More = templates.Count(n, "row", "rows")
	}
	var where []string
	for _, x := range []string{a.From, a.Request} {
		if x != "" {
			where = append(where, x)
		}
	}
	if a.Session != "" {
		where = append(where, "session "+a.Session)
	}
	row.Where = strings.Join(where, ", ")
	return row, nil
}

// accessWhole says how the log is kept together, to who runs or reviews it.
func (s *server) accessWhole(c Ctx, r cases.Reader) ([]templates.Fact, error) {
	if !can(c, seeAccessLog) && !can(c, administer) {
		return nil, nil
	}
	last, _, err := r.Accesses(cases.AccessQuery{Limit: 1})
	if err != nil || len(last) == 0 {
		return []templates.Fact{{Name: "Lines", Text: "None yet"}}, err
	}
	return []templates.Fact{{Name: "Lines", Text: templates.Thousands(int(last[0].Seq))}, {Name: "Last line", Text: s.stamp(last[0].At)},
		{Name: "Hash of the last line", Text: last[0].Hash[:16], Note: "The command “dunlin check” follows all lines, and compares them with the heads noted elsewhere when it is given their file."}}, nil
}

// accessFile answers GET /settings/access.csv with the lines that fit.
func (s *server) accessFile(c Ctx) error {
	a := s.askAccess(c)
	if !a.f.ok() {
		return cases.Errorf(cases.Invalid, "%s.", a.f.problems[0].Text)
	}
	log := export.Log{What: "Access log", Format: export.CSV, Filter: "Filter: " + or(strings.ReplaceAll(a.address(""), "&", ", "), "none"), Hidden: "No names of infants"}
	return s.sendSnapshot(c, "access-log-"+s.today().String(), log, func(r cases.Reader) export.Book {
		return export.Book{Title: "Access log", Tables: []export.Table{{Name: "access", Columns: accessColumns, Rows: func(add func([]export.Value) error) error {
			a.q.Limit = accessMost
			lines, next, err := r.Accesses(a.q)
			if err != nil {
				return err
			}
			if next != "" {
				return cases.Errorf(cases.Refused, "These are more than %s lines. Choose fewer days. Nothing was exported.", templates.Thousands(accessMost))
			}
			for i := range lines {
				l := &lines[i]
				refs, err := r.AccessInfants(*l)
				if err != nil {
					return err
				}
				saw(c, refs...)
				if err := add([]export.Value{export.Int(int(l.Seq)), export.Text(l.At.UTC().Format(time.RFC3339)), export.Text(l.By), export.Text(string(l.Role)), export.Text(string(l.Act)),
					export.Text(l.Route), export.Text(l.Outcome()), export.Int(l.Rows), export.Text(strings.Join(refs, " ")), export.Text(l.What), export.Text(l.Why),
					export.Text(l.From), export.Text(l.Session), export.Text(l.Request), export.Text(l.Hash)}); err != nil {
					return err
				}
			}
			return nil
		}}}}
	})
}

var accessColumns = []export.Column{
	{Key: "line", Name: "Number of the line", Type: "whole number"}, {Key: "at_utc", Name: "Time, UTC", Type: "text"}, {Key: "person", Name: "Sign-in name", Type: "text"},
	{Key: "role", Name: "Role then", Type: "text"}, {Key: "act", Name: "What was done", Type: "text"}, {Key: "route", Name: "Page or form", Type: "text"},
	{Key: "outcome", Name: "How it ended", Type: "text"}, {Key: "rows", Name: "Infants, or rows of a file", Type: "whole number"}, {Key: "cases", Name: "Case numbers", Type: "text"},
	{Key: "what", Name: "Report and filter", Type: "text"}, {Key: "why", Name: "Reason as typed", Type: "text"}, {Key: "address", Name: "Network address", Type: "text"},
	{Key: "session", Name: "Mark of the session", Type: "text"}, {Key: "request", Name: "Number of the request", Type: "text"}, {Key: "hash", Name: "Hash of the line", Type: "text"},
}
