package web

import (
	"fmt"
	"net/http"
	"strconv"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// lookAhead is the outlook of the weeks ahead with what it was counted from.
type lookAhead struct {
	booking.Outlook
	waits map[string]*booking.Wait // by reference
	who   map[string]templates.Who // of those who were asked for
}

// readOutlook counts who becomes ready against the free places of the weeks ahead.
// choose picks the references whose names are wanted.
func (s *server) readOutlook(c Ctx, choose func(*booking.Outlook) []string) (x lookAhead, err error) {
	err = s.view(c, func(r cases.Reader) error {
		waits, err := booking.ReadWaits(r, s.protocol())
		if err != nil {
			return err
		}
		b, err := booking.ReadBoard(r, s.protocol(), placesAhead, s.places.Centroids)
		if err != nil {
			return err
		}
		x.Outlook = b.Look(waits, weeksAhead)
		x.waits = make(map[string]*booking.Wait, len(waits))
		for i := range waits {
			x.waits[waits[i].Reference] = &waits[i]
		}
		refs := choose(&x.Outlook)
		x.who = make(map[string]templates.Who, len(refs))
		for _, ref := range refs {
			k, err := r.Case(x.waits[ref].ID)
			if err != nil {
				return err
			}
			x.who[ref] = s.who(&k)
		}
		return nil
	})
	return x, err
}

// outlookPage answers GET /schedule/outlook.
func (s *server) outlookPage(c Ctx) error {
	x, err := s.readOutlook(c, func(o *booking.Outlook) []string { return append(append([]string{}, o.Nowhere...), o.Undated...) })
	if err != nil {
		return err
	}
	p := &templates.OutlookPage{Base: templates.Base{Name: "Capacity outlook", Current: "schedule"}, MayBook: can(c, schedule),
		Lead:    fmt.Sprintf("Who becomes ready in the next 8 weeks against the free places of clinic sessions, so that sessions can be added in time. As of %s.", date(s.today()).Weekday()),
		Nowhere: s.outlookInfants(&x, x.Nowhere), Undated: s.outlookInfants(&x, x.Undated), Terms: outlookTerms}
	all := x.All
	all.Name = "All test sites"
	p.Chart = weekChart(&all, x.Sites)
	p.All = outlookTable(c, &all)
	for i := range x.Sites {
		p.Sites = append(p.Sites, outlookTable(c, &x.Sites[i]))
	}
	return s.render(c, http.StatusOK, p)
}

var outlookTerms = []string{
	"An infant is counted in the week in which it is expected to become ready: old enough, the corrected age reached, the weight measured or expected, no hold. The first week also holds all who wait already.",
	"An expected weight is an estimate, weigh on the day: it plans the week and makes no infant ready.",
	"Each infant is counted at the nearest test site that takes it; where no distance is known, at the first. Infants with a booking are not counted, and their places are not free.",
	"Still waiting: who would be left at the end of the week if every free place up to then were used. Places kept for repeats are used by repeats alone. This plans and books nobody.",
	"Repeats and re-tests of CRMS/CFSPID infants up to 8 weeks ahead are counted too.",
}

// outlookTable is one row of the outlook as a table of weeks.
func outlookTable(c Ctx, r *booking.Row) templates.OutlookTable {
	t := templates.OutlookTable{ID: "site-" + r.Key, Name: shown(r.Name), Finding: outlookFinding(r), State: templates.Tag{Kind: "ready", Text: "Places are enough"}}
	if r.Key == "" {
		t.ID = "all"
	} else {
		t.Sessions = templates.Link{Href: siteAt(r.Key) + "/sessions", Text: "Sessions"}
		if can(c, keepSites) {
			t.Sessions = templates.Link{Href: siteAt(r.Key) + "/sessions/new", Text: "Add sessions"}
		}
	}
	at := func(week int, what string) string {
		return fmt.Sprintf("/schedule/outlook/infants?site=%s&week=%d&what=%s", escapeQuery(r.Key), week+1, what)
	}
	for i := range r.Weeks {
		w := &r.Weeks[i]
		row := templates.OutlookWeek{From: date(w.From), To: date(w.From + 6), Ready: len(w.Ready), Free: w.Free, Kept: w.Kept, Waiting: w.Short()}
		if row.Ready > 0 {
			row.ReadyAt = at(i, "ready")
		}
		if row.Waiting > 0 {
			row.WaitingAt = at(i, "waiting")
		}
		t.Weeks = append(t.Weeks, row)
	}
	t.Sum.Ready, t.Sum.Free, t.Sum.Kept = r.Totals()
	if n := len(r.Weeks); n > 0 {
		t.Sum.Waiting = r.Weeks[n-1].Short()
	}
	switch most, _ := shortest(r); {
	case t.Sum.Waiting > 0:
		t.State = templates.Tag{Kind: "late", Text: fmt.Sprintf("%d too few", t.Sum.Waiting)}
	case most > 0:
		t.State = templates.Tag{Kind: "soon", Text: "Short for a time"}
	case t.Sum.Ready == 0:
		t.State = templates.Tag{Text: "Nobody waits"}
	}
	return t
}

// shortest is the largest number of those who wait at the end of a week, and the week.
func shortest(r *booking.Row) (most, week int) {
	for i := range r.Weeks {
		if n := r.Weeks[i].Short(); n > most {
			most, week = n, i
		}
	}
	return most, week
}

// outlookFinding says in one or two sentences what the weeks of a row mean.
func outlookFinding(r *booking.Row) string {
	ready, free, _ := r.Totals()
	most, worst := shortest(r)
	switch first := r.FirstShort(); {
	case ready == 0 && free == 0:
		return "Nobody becomes ready, and no place is free."
	case ready == 0:
		return fmt.Sprintf("Nobody becomes ready; %s free.", placesAre(free))
	case first >= 0:
		left := r.Weeks[len(r.Weeks)-1].Short()
		return fmt.Sprintf("Places are too few from the week of %s on: %s would still wait after 8 weeks. Add sessions.", date(r.Weeks[first].From).Short(), templates.Count(left, "infant", "infants"))
	case most > 0:
		return fmt.Sprintf("Places are enough over 8 weeks, but %s would wait at the end of the week of %s. An earlier session would help.", templates.Count(most, "infant", "infants"), date(r.Weeks[worst].From).Short())
	}
	return fmt.Sprintf("Places are enough in each week: %s ready, %s free.", becomeReady(ready), placesAre(free))
}

func becomeReady(n int) string {
	if n == 1 {
		return "1 infant becomes"
	}
	return fmt.Sprintf("%d infants become", n)
}

func placesAre(n int) string {
	if n == 1 {
		return "1 place is"
	}
	return fmt.Sprintf("%d places are", n)
}

// weekChart draws all sites together; its title is the finding.
func weekChart(all *booking.Row, sites []booking.Row) templates.WeekChart {
	ch := templates.WeekChart{ID: "outlook", Title: chartTitle(all, sites)}
	ch.Description = "Bars for each of 8 weeks. "
	for i := range all.Weeks {
		w := &all.Weeks[i]
		ch.Weeks = append(ch.Weeks, templates.WeekBar{Label: date(w.From).Short(), Ready: len(w.Ready), Free: w.Free, Kept: w.Kept, Waiting: w.Short()})
		ch.Description += fmt.Sprintf("Week of %s: %s ready, %s free, %d still waiting. ", date(w.From).Short(), becomeReady(len(w.Ready)), placesAre(w.Free), w.Short())
	}
	ch.Description += "The same numbers are in the table below."
	return ch
}

func chartTitle(all *booking.Row, sites []booking.Row) string {
	ready, free, _ := all.Totals()
	most, worst := shortest(all)
	switch first := all.FirstShort(); {
	case ready == 0:
		return "Nobody becomes ready in the next 8 weeks"
	case free == 0:
		return "No place is free in the next 8 weeks: " + becomeReady(ready) + " ready"
	case first >= 0:
		return fmt.Sprintf("From the week of %s on places are too few: %s would still wait after 8 weeks", date(all.Weeks[first].From).Short(), templates.Count(all.Weeks[len(all.Weeks)-1].Short(), "infant", "infants"))
	case most > 0:
		return fmt.Sprintf("Places are enough over 8 weeks, with most waiting in the week of %s: %d", date(all.Weeks[worst].From).Short(), most)
	}
	for i := range sites {
		if sites[i].FirstShort() >= 0 {
			return "Places are enough over all sites, but not at " + shown(sites[i].Name)
		}
	}
	return "Places are enough in each of the next 8 weeks"
}

// outlookInfants lists infants by reference with what each waits for.
func (s *server) outlookInfants(x *lookAhead, refs []string) []templates.OutlookInfant {
	out := make([]templates.OutlookInfant, 0, len(refs))
	for _, ref := range refs {
		w := x.waits[ref]
		row := templates.OutlookInfant{Who: x.who[ref], For: sentence(w.Kind.Word()), From: date(w.From).Weekday(), Why: sentence(w.FromWhy), Due: date(w.Deadline).String(), Late: lateTag(w.Deadline, s.today()), Href: "/infants/" + ref + "/book"}
		if w.Estimate {
			row.Why += ": " + estimateWords
		}
		if w.Blocked != "" {
			row.From, row.Why = "No day can be planned", sentence(w.Blocked)
		}
		if row.Late.Text == "on time" {
			row.Late = templates.Tag{}
		}
		out = append(out, row)
	}
	return out
}

// outlookList answers GET /schedule/outlook/infants: who stands behind a number.
func (s *server) outlookList(c Ctx) error {
	week, err := strconv.Atoi(c.QueryParam("week"))
	what := c.QueryParam("what")
	if err != nil || week < 1 || week > weeksAhead || what != "ready" && what != "waiting" {
		return cases.Errorf(cases.NotFound, "There is no such week. Open the capacity outlook again.")
	}
	var refs []string
	name, known := "all test sites", c.QueryParam("site") == ""
	var from cases.Day
	x, err := s.readOutlook(c, func(o *booking.Outlook) []string {
		row := &o.All
		for i := range o.Sites {
			if o.Sites[i].Key == c.QueryParam("site") {
				row, known, name = &o.Sites[i], true, shown(o.Sites[i].Name)
			}
		}
		w := &row.Weeks[week-1]
		from = w.From
		if refs = w.Ready; what == "waiting" {
			refs = w.Waiting
		}
		return refs
	})
	if err != nil {
		return err
	}
	if !known {
		return cases.Errorf(cases.NotFound, "There is no such test site. Open the capacity outlook again.")
	}
	p := &templates.OutlookInfantsPage{Base: templates.Base{Name: "Infants of a week", Current: "schedule"}, Back: "/schedule/outlook", MayBook: can(c, schedule), Rows: s.outlookInfants(&x, refs)}
	p.Head = fmt.Sprintf("Become ready in the week of %s, %s", date(from).String(), name)
	p.Lead = "By the day from which each can be tested. The first week also holds all who wait already."
	if what == "waiting" {
		p.Head = fmt.Sprintf("Still waiting at the end of the week of %s, %s", date(from).String(), name)
		p.Lead = "Who would be left if every free place up to then were used by those who can be tested first. This books nobody; a person decides who gets which place."
	}
	return s.render(c, http.StatusOK, p)
}
