package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/templates"
)

// Most items on one page of a day, and most of the waiting list.
const (
	intakeRows  = 100
	waitingRows = 200
)

// intakePage answers GET /intake?day=&show=&page=: what waits for a person, and
// what came in on one day with what was done with it.
func (s *server) intakePage(c Ctx) error {
	f := s.emptyForm()
	f.values = c.QueryParams()
	day := f.day("day", "Day")
	if day > s.today() {
		f.fail("day", "Day must be today or in the past")
	}
	status := http.StatusOK
	if !f.ok() {
		day, status = 0, http.StatusUnprocessableEntity
	}
	if day == 0 {
		day = s.today()
	}
	p := &templates.IntakePage{MayDecide: can(c, takeIn), Mail: s.mailLine(c), On: date(day), Today: day == s.today()}
	p.Current, p.Problems = "intake", f.problems
	p.Day = f.field(templates.Field{ID: "day", Label: "Another day", Hint: "Like 5 Mar 2026 or yesterday", Width: "w14"})
	p.Earlier = templates.Link{Href: "/intake?day=" + (day - 1).String(), Text: "The day before"}
	if day < s.today() {
		p.Later = templates.Link{Href: "/intake?day=" + (day + 1).String(), Text: "The day after"}
	}
	err := s.view(c, func(r cases.Reader) error {
		if err := s.waitingList(r, p); err != nil {
			return err
		}
		if err := s.dayList(c, r, p, day); err != nil {
			return err
		}
		return s.unfinished(r, p)
	})
	if err != nil {
		return err
	}
	p.Name = fmt.Sprintf("Intake, %d waiting", p.Waits)
	p.Lead = templates.Count(p.Waits, "item waits", "items wait") + " for a person."
	if p.Waits == 0 {
		p.Lead = "Nothing waits for a person."
	}
	return s.render(c, status, p)
}

// waitingList fills what waits for a person.
func (s *server) waitingList(r cases.Reader, p *templates.IntakePage) error {
	waiting, err := r.ItemsWaiting()
	if err != nil {
		return err
	}
	p.Waits = len(waiting)
	rows := itemRows{s: s, r: r}
	for i := range waiting[:min(len(waiting), waitingRows)] {
		row, err := rows.row(&waiting[i])
		if err != nil {
			return err
		}
		p.Waiting = append(p.Waiting, row)
	}
	if p.Waits > waitingRows {
		p.More = fmt.Sprintf("The first %d of %s are shown: presumptive CF first, then by due day. The others follow as these are decided.", waitingRows, templates.Thousands(p.Waits))
	}
	return nil
}

// dayList fills the counts of one day and its items, all or those of one outcome.
func (s *server) dayList(c Ctx, r cases.Reader, p *templates.IntakePage, day cases.Day) error {
	show := c.QueryParam("show")
	counts, waits := map[string]int{}, 0
	var list []cases.Item
	for it, err := range r.ItemsSince(day) {
		if err != nil {
			return err
		}
		if s.dayOf(it.At) > day {
			break
		}
		counts[it.Outcome]++
		if it.Outcome == string(intake.Review) && it.Decided == nil {
			waits++
		}
		if show == "" || it.Outcome == show {
			list = append(list, it)
		}
	}
	slices.Reverse(list) // the newest first
	p.Counts, p.Sum = countWords(counts)
	if n := counts[string(intake.Review)]; n > 0 {
		p.Sum += fmt.Sprintf(" Of those for a person, %s.", splitWords(waits, n-waits))
	}
	at := "/intake?day=" + day.String()
	p.Chips = append(p.Chips, templates.Chip{Text: "All", Href: at, N: p.Counts[0].N, Current: show == ""})
	for _, o := range intakeOutcomes {
		if n := counts[o.outcome]; n > 0 {
			p.Chips = append(p.Chips, templates.Chip{Text: o.word, Href: at + "&show=" + escapeQuery(o.outcome), N: n, Current: show == o.outcome})
		}
	}
	if show != "" {
		at += "&show=" + escapeQuery(show)
	}
	list, p.Pager = cut(c, list, at)
	rows := itemRows{s: s, r: r}
	for i := range list {
		row, err := rows.row(&list[i])
		if err != nil {
			return err
		}
		p.Came = append(p.Came, row)
	}
	return nil
}

// splitWords says how many of the items for a person still wait.
func splitWords(waits, decided int) string {
	switch {
	case waits == 0:
		return "all were decided"
	case decided == 0:
		return "none was decided yet"
	}
	return fmt.Sprintf("%s still %s and %s decided", templates.Thousands(waits), map[bool]string{true: "waits", false: "wait"}[waits == 1],
		templates.Count(decided, "was", "were"))
}

// cut gives one page of a list, and the pager to the others.
func cut(c Ctx, list []cases.Item, at string) ([]cases.Item, templates.Pager) {
	pages := max(1, (len(list)+intakeRows-1)/intakeRows)
	page, err := strconv.Atoi(c.QueryParam("page"))
	if err != nil || page < 1 || page > pages {
		page = 1
	}
	link := func(n int) string {
		if n < 1 || n > pages {
			return ""
		}
		return at + "&page=" + strconv.Itoa(n)
	}
	from := (page - 1) * intakeRows
	return list[from:min(len(list), from+intakeRows)], templates.Pager{Page: page, Pages: pages, Prev: link(page - 1), Next: link(page + 1)}
}

// unfinished warns of documents that were stored and never read to their end, as
// after a power cut between the two.
func (s *server) unfinished(r cases.Reader, p *templates.IntakePage) error {
	docs, err := r.ReceivedLast(100)
	if err != nil {
		return err
	}
	for i := range docs {
		d := &docs[i]
		if len(d.Counts) > 0 || s.Now().Sub(d.At) < 2*time.Minute {
			continue
		}
		items, err := r.ItemsOf(d.Hash)
		if err != nil {
			return err
		}
		if len(items) == 0 {
			p.Notices = append(p.Notices, templates.Notice{Kind: "late", Head: "A document was kept and not read to its end.",
				Text: fmt.Sprintf("“%s” (%s), came %s. Give it again: nothing is made twice.", shown(or(d.Name, "No name")), sourceWord(d), s.stamp(d.At))})
		}
	}
	return nil
}
