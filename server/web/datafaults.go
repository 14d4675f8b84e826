package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// faultRows is how many lines a page of data faults has.
const faultRows = 50

// faultQuery is the choice of cases and of the kind of data faults, from the address.
type faultQuery struct {
	f        *form
	kind     cases.DataFault
	chosen   bool // a kind
	from, to cases.Day
	state    string // "", open, closed
	page     int
}

var faultStates = []word{{"open", "Open"}, {"closed", "Closed"}}

func (s *server) readFaultQuery(c Ctx) faultQuery {
	q := faultQuery{f: s.emptyForm(), page: 1}
	given := false
	for _, name := range []string{"kind", "from", "to", "state"} {
		given = given || name != "kind" && c.QueryParams().Has(name)
		q.f.values.Set(name, c.QueryParam(name))
	}
	if !given {
		q.f.values.Set("from", date(s.today()-364).String())
		q.f.values.Set("to", date(s.today()).String())
	}
	q.from, q.to = q.f.day("from", "Referred from"), q.f.day("to", "Referred to")
	if q.from != 0 && q.to != 0 && q.to < q.from {
		q.f.fail("to", "Referred to must be on or after the first day")
	}
	q.state = q.f.pick("state", "", valuesOf(faultStates)...)
	if key := q.f.typed("kind"); key != "" {
		if q.kind, q.chosen = cases.DataFaultByKey(key); !q.chosen {
			q.f.fail("kind", "Select a kind of fault from the list")
		}
	}
	if n, err := strconv.Atoi(c.QueryParam("page")); err == nil && n > 0 && n < 1_000_000 {
		q.page = n
	}
	return q
}

// takes tells whether a case is of the choice; the days of referral are the reader's.
func (q *faultQuery) takes(m *cases.Milestones) bool {
	return q.state == "" || (m.Closed != 0) == (q.state == "closed")
}

// address is that of the list of a kind with the same choice of cases; "" is no kind.
func (q *faultQuery) address(kind string, page int) string {
	v := url.Values{}
	for _, name := range []string{"from", "to", "state"} {
		v.Set(name, q.f.typed(name))
	}
	if kind != "" {
		v.Set("kind", kind)
	}
	if page > 1 {
		v.Set("page", strconv.Itoa(page))
	}
	return "/reports/faults?" + v.Encode()
}

// dataFaults answers GET /reports/faults.
func (s *server) dataFaults(c Ctx) error {
	q := s.readFaultQuery(c)
	p := s.dataFaultsPage(c, &q)
	if !q.f.ok() {
		return s.invalid(c, p, q.f.problems)
	}
	t := cases.DataFaultTally{Quality: cases.NewDataQuality(s.protocol(), s.today()), Kind: q.kind, Skip: (q.page - 1) * faultRows}
	if q.chosen {
		t.Most = faultRows
	}
	to := s.today()
	if q.to != 0 {
		to = q.to
	}
	err := s.view(c, func(r cases.Reader) error {
		alike, looked, err := s.alike.look(whole(r), s.protocol(), s.Now())
		if err != nil {
			return err
		}
		p.Looked = looked
		if t.Alike, err = seenAlike(r, alike); err != nil {
			return err
		}
		for m, err := range r.Milestones(q.from, to) {
			if err != nil {
				return err
			}
			if q.takes(&m) {
				t.Add(&m)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if q.chosen && len(t.Lines) == 0 && t.Counts[q.kind] > 0 { // a page that is no more
		return c.Redirect(http.StatusSeeOther, q.address(q.kind.Kind().Key, 1))
	}
	s.fillDataFaults(c, p, &q, &t)
	return s.render(c, http.StatusOK, p)
}

func (s *server) dataFaultsPage(c Ctx, q *faultQuery) *templates.DataFaultsPage {
	p := &templates.DataFaultsPage{Base: templates.Base{Name: "Data faults", Current: "reports"}, Reports: s.reportNav(c, c.Path()), AsOf: date(s.today())}
	kinds := []templates.Option{{Text: "All kinds"}}
	for i := range cases.DataFaultKinds {
		kinds = append(kinds, templates.Option{Value: cases.DataFaultKinds[i].Key, Text: cases.DataFaultKinds[i].Name})
	}
	p.Kind = q.f.group(templates.Choice{ID: "kind", Legend: "Kind", Options: kinds})
	p.From = q.f.field(templates.Field{ID: "from", Label: "Referred from", Width: "w14"})
	p.To = q.f.field(templates.Field{ID: "to", Label: "Referred to", Width: "w14"})
	p.State = q.f.group(templates.Choice{ID: "state", Legend: "Cases", Options: append([]templates.Option{{Text: "All"}}, optionsOf(faultStates)...)})
	return p
}

func (s *server) fillDataFaults(c Ctx, p *templates.DataFaultsPage, q *faultQuery, t *cases.DataFaultTally) {
	p.Lead = fmt.Sprintf("%s of %s with something to look at.", templates.Thousands(t.Faulty), templates.Count(t.Cases, "case", "cases"))
	for i := range cases.DataFaultKinds {
		k := &cases.DataFaultKinds[i]
		p.Kinds = append(p.Kinds, templates.FaultKind{Name: k.Name, Means: k.Means, Cases: t.Counts[i], Href: q.address(k.Key, 1), Current: q.chosen && int(q.kind) == i})
	}
	if !q.chosen {
		return
	}
	k, n := q.kind.Kind(), t.Counts[q.kind]
	pages := max(1, (n+faultRows-1)/faultRows)
	list := &templates.FaultList{Name: k.Name, Means: k.Means, Do: k.Do, Cases: n, Pager: templates.Pager{Page: q.page, Pages: pages}}
	p.Name = k.Name + ", data faults"
	if q.page > 1 {
		list.Pager.Prev = q.address(k.Key, min(q.page-1, pages))
	}
	if q.page < pages {
		list.Pager.Next = q.address(k.Key, q.page+1)
	}
	sees := can(c, seeCases)
	for i := range t.Lines {
		l := &t.Lines[i]
		row := templates.FaultRow{Reference: l.Reference, Referred: date(l.Referred), State: "Open", Words: l.Words}
		if l.Closed != 0 {
			row.State = "Closed " + shortDay(l.Closed)
		}
		if sees {
			row.Href = "/infants/" + l.Reference + faultParts[k.Part]
			for _, ref := range l.Others {
				other := templates.FaultOther{Reference: ref, Href: "/infants/" + ref}
				if can(c, mergeCases) {
					other.Compare = "/infants/" + l.Reference + "/merge?with=" + ref
				}
				row.Others = append(row.Others, other)
			}
		}
		list.Rows = append(list.Rows, row)
	}
	p.List = list
}

// faultParts are the parts of the case page that a kind is about.
var faultParts = map[string]string{"tests": "#tests-h", "contacts": "#contacts-h", "family": "#family-h", "screen": "#screen-h"}

// mostPairs is how many pairs of cases are compared at a time, in about half a second.
const mostPairs = 5000

// alikeFor is how long what was found of pairs is kept.
const alikeFor = 5 * time.Minute

// keptAlike holds the pairs of cases that may be about one infant. They are looked for
// at most every few minutes, by one request at a time.
type keptAlike struct {
	sync.Mutex
	at     time.Time
	of     map[cases.ID][]cases.Alike
	looked string
}

// forget has the pairs looked for anew.
func (k *keptAlike) forget() {
	k.Lock()
	defer k.Unlock()
	k.of = nil
}

// look gives the pairs under the case that was opened later, and says how they were
// looked for.
func (k *keptAlike) look(r cases.Reader, p *cases.Protocol, now time.Time) (map[cases.ID][]cases.Alike, string, error) {
	k.Lock()
	defer k.Unlock()
	if age := now.Sub(k.at); k.of != nil && age >= 0 && age < alikeFor {
		return k.of, k.looked, nil
	}
	found, err := intake.FindSuspects(r, p, mostPairs)
	if err != nil {
		return nil, "", err
	}
	of := map[cases.ID][]cases.Alike{}
	for i := range found.Pairs {
		x := &found.Pairs[i]
		of[x.B] = append(of[x.B], cases.Alike{Reference: x.ReferenceA, Why: x.Why})
	}
	k.at, k.of = now, of
	k.looked = alikeWords(&found, now)
	return k.of, k.looked, nil
}

// seenAlike leaves out pairs with a case of another site.
func seenAlike(r cases.Reader, all map[cases.ID][]cases.Alike) (map[cases.ID][]cases.Alike, error) {
	if _, bound := r.(scoped); !bound {
		return all, nil
	}
	out := map[cases.ID][]cases.Alike{}
	for id, list := range all {
		for _, x := range list {
			_, err := r.ByReference(x.Reference)
			if err != nil && !cases.IsElsewhere(err) {
				return nil, err
			}
			if err == nil {
				out[id] = append(out[id], x)
			}
		}
	}
	return out, nil
}

func alikeWords(found *intake.Suspects, now time.Time) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Cases that may be one infant were looked for at %s: %s compared", now.Format("15:04"), templates.Count(found.Compared, "pair", "pairs"))
	if found.Left > 0 {
		fmt.Fprintf(&b, ", those that share the most. %s less in common, and were not", templates.Count(found.Left, "pair has", "pairs have"))
	}
	b.WriteString(". A case is listed under the one opened later.")
	return b.String()
}
