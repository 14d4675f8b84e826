package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// intervals computes what was asked, and the same of the cohort to compare with, from
// the kept milestones, which hold for today.
func (s *server) intervals(c Ctx, q *intervalQuery) (main, also measures.IntervalReport, err error) {
	err = s.view(c, func(r cases.Reader) error {
		if main, err = s.interval(r, q.Question, q.known.see); err != nil || q.also == nil {
			return err
		}
		also, err = s.interval(r, *q.also, func(*cases.Milestones) {})
		return err
	})
	return main, also, err
}

// interval counts the cases of a question; see meets every case that was read.
func (s *server) interval(r cases.Reader, q measures.Question, see func(*cases.Milestones)) (measures.IntervalReport, error) {
	t := measures.NewIntervalTally(q)
	from, to := q.Reads()
	for m, err := range r.Milestones(from, to) {
		if err != nil {
			return measures.IntervalReport{}, err
		}
		see(&m)
		t.Add(&m)
	}
	rep := t.Report()
	s.nameGroups(&rep)
	return rep, nil
}

// nameGroups gives sites, languages and routes the names that people know, so that
// the sentences of the report have them too.
func (s *server) nameGroups(r *measures.IntervalReport) {
	for i := range r.Groups {
		g := &r.Groups[i]
		switch r.Group {
		case "site":
			g.Name = s.siteGroup(g.Name)
		case "language":
			g.Name = languageWord(g.Name)
		}
		g.Name = sentence(g.Name)
	}
	if r.Site != "" {
		r.Site = s.siteGroup(r.Site)
	}
	if r.Language != "" {
		r.Language = languageWord(r.Language)
	}
	if r.Route != "" {
		r.Route = strings.ToLower(wordOf(routes, r.Route))
	}
}

// siteGroup names a site; what is no site's key stands as it is.
func (s *server) siteGroup(key string) string {
	if x, ok := s.siteOf(key); ok {
		return x.Name
	}
	return key
}

// closurePath is the report of closure times.
const closurePath = "/reports/closure"

// closureTimes answers GET /reports/closure.
func (s *server) closureTimes(c Ctx) error {
	q, err := s.readIntervalQuery(c)
	if err != nil {
		return err
	}
	p := s.closureTimesPage(c, q)
	if !q.f.ok() {
		p.Form = s.intervalForm(q)
		return s.invalid(c, p, q.f.problems)
	}
	main, also, err := s.intervals(c, q)
	if err != nil {
		return err
	}
	p.Form = s.intervalForm(q)
	if err := s.noteSeen(c, q.figures, "Closure times", q.inWords(&main, &also)); err != nil {
		return err
	}
	v := intervalView{rule: q.rule, by: s.protocol().FirstTestByDays, window: s.protocol().MinAgeDays}
	v.fill(p, &main)
	if q.also != nil {
		p.Compare = v.compare(measures.CompareCohorts(main, also))
	}
	if p.Refused != nil {
		if r, there := s.opens[faultsPath]; there && can(c, r) {
			p.Refused.Link = faultsPath
		}
	}
	if p.Agrees {
		if p.Waiting, err = s.waitingClosings(c); err != nil {
			return err
		}
	}
	if err := s.tellOfLooks(c, &p.Base); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// faultsPath lists the data faults.
const faultsPath = "/reports/faults"

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

// closureTimesPage is the page before its figures.
func (s *server) closureTimesPage(c Ctx, q *intervalQuery) *templates.ClosureTimesPage {
	p := &templates.ClosureTimesPage{Base: templates.Base{Name: "Closure times", Current: "reports"}, Reports: s.reportNav(c, c.Path()),
		Figures: q.note(), AsOf: date(q.AsOf), Agrees: can(c, agreeClosing),
		Lead:    "How long each step takes, with every case that still waits counted. Test messages are left out.",
		Printed: fmt.Sprintf("Printed %s, %s, by %s.", shortDay(s.today()), s.clock(s.Now()), userOf(c).Name)}
	for _, x := range oftenAsked {
		p.Often = append(p.Often, templates.Tab{Href: q.asking(x.from, x.to), Text: x.text, Current: q.From == x.from && q.To == x.to})
	}
	p.Files = q.fileTabs(closurePath)
	return p
}

// oftenAsked are the intervals offered above the form.
var oftenAsked = []struct {
	from, to measures.Milestone
	text     string
}{
	{measures.Birth, measures.FirstTest, "Birth to first test"},
	{measures.Birth, measures.Closure, "Birth to closure"},
	{measures.Birth, measures.Determination, "Birth to determination"},
	{measures.Referral, measures.Closure, "Referral to closure"},
	{measures.Referral, measures.DoctorTold, "Referral to doctor told"},
	{measures.Referral, measures.FamilyReached, "Referral to family reached"},
}

// inWords is the filter for the audit trail.
func (q *intervalQuery) inWords(main, also *measures.IntervalReport) string {
	t := sentence(q.Interval()) + "."
	if q.Group != "" {
		t = sentence(q.Interval()) + ", by " + strings.ToLower(groupHead(q.Group)) + "."
	}
	t += " " + main.Words()
	if q.also != nil && also != nil {
		t += " Compared with: " + also.Words()
	}
	return t
}

// asking is the address of the same report of another interval.
func (q *intervalQuery) asking(from, to measures.Milestone) string {
	v := url.Values{}
	for _, name := range intervalNames {
		if t := q.f.typed(name); t != "" {
			v.Set(name, t)
		}
	}
	v.Set("start", string(from))
	v.Set("end", string(to))
	if q.full {
		v.Set("figures", "full")
	}
	return closurePath + "?" + v.Encode()
}

// closureTimesFile answers GET /reports/closure.xlsx and .zip: the figures of the page
// as a file, without names or case numbers.
func (s *server) closureTimesFile(format string) func(Ctx) error {
	return func(c Ctx) error {
		q, err := s.readIntervalQuery(c)
		if err != nil {
			return err
		}
		if !q.f.ok() {
			p := s.closureTimesPage(c, q)
			p.Form = s.intervalForm(q)
			return s.invalid(c, p, q.f.problems)
		}
		q.also = nil
		main, _, err := s.intervals(c, q)
		if err != nil {
			return err
		}
		return s.sendFigures(c, q.figures, "closure-times-"+q.AsOf.String(), "Closure times", format, q.inWords(&main, nil), q.AsOf,
			func(m export.Made) export.Book { return export.IntervalBook(main.Publish(q.rule), m) })
	}
}
