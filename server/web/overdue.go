package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/reminders"
	"dunlin/server/auth"
	"dunlin/templates"
)

// pageRows is how many infants one page of a list holds.
const pageRows = 200

// overdue answers GET /overdue?why=&page=: the ranked list of the day.
func (s *server) overdue(c Ctx) error {
	list, err := s.Book.Today(c.Request().Context())
	if err != nil {
		return err
	}
	p := &templates.OverduePage{On: date(list.Today), Total: len(list.Items), Why: c.QueryParam("why"), Order: reminders.OrderRule,
		Scale: s.scale(), CanLog: can(c, logContacts), Log: logForm(s.clock(s.Now()))}
	p.Current = "overdue"
	if m := s.mailLine(c); m.Kind == "late" {
		p.Mail = m // who is not on the list because nobody read the mail
	}
	s.madeOf(p, &list)
	p.Chips = chipsOf(list.Items, p.Why)
	items := list.Items
	if p.Why != "" {
		items = slices.DeleteFunc(slices.Clone(items), func(i reminders.Item) bool { return reasonKey(i.Reason()) != p.Why })
	}
	shown, from := paged(c, p, items)
	short := s.Auth.Get(c.Request().Context(), "rows") == "short"
	for i := range shown {
		p.Rows = append(p.Rows, s.overdueRow(c, &shown[i], short))
	}
	p.Showing = showing(from, len(shown), len(items))
	if err := s.sides(c, p, &list); err != nil {
		return err
	}
	p.Name = "Overdue list, " + plainCount(len(list.Items), "infant", "infants")
	if p.Pager.Page > 1 {
		p.Name += fmt.Sprintf(", page %d", p.Pager.Page)
	}
	return s.render(c, http.StatusOK, p)
}

// madeOf says how the list came about, loudly when the daily job did not run.
func (s *server) madeOf(p *templates.OverduePage, list *reminders.Page) {
	now := s.clock(s.Now())
	if list.Made != nil {
		p.Made = fmt.Sprintf("Made at %s by the daily job, last updated %s.", s.clock(list.Made.Made), now)
	} else {
		p.Made = fmt.Sprintf("Last updated %s.", now)
	}
	switch {
	case list.Made == nil && len(list.Earlier) > 0:
		p.Notices = append(p.Notices, templates.Notice{Kind: "late", Head: "The daily job has not run today.",
			Text: "The list below is up to date, but no letters were made and no list was kept. The last kept list is of " + date(list.Earlier[0]).String() + ". Tell support."})
	case len(list.NoList) > 0:
		days := make([]string, len(list.NoList))
		for i, d := range list.NoList {
			days[i] = date(d).String()
		}
		p.Notices = append(p.Notices, templates.Notice{Kind: "warn", Head: "Days without a list.", Text: "The daily job did not run on " + strings.Join(days, ", ") + "."})
	}
	if len(list.Earlier) > 0 {
		text := "List of " + date(list.Earlier[0]).String()
		if list.Earlier[0] == list.Today-1 {
			text = "Yesterday's list"
		}
		p.Earlier = templates.Link{Href: "/overdue/days/" + list.Earlier[0].String(), Text: text}
	}
}

// chipsOf counts the reasons of the whole list, the most frequent first.
func chipsOf(items []reminders.Item, why string) []templates.Chip {
	chips := []templates.Chip{{Text: "All", Href: "/overdue", N: len(items), Current: why == ""}}
	at := map[string]int{}
	for i := range items {
		reason := items[i].Reason()
		key := reasonKey(reason)
		k, ok := at[key]
		if !ok {
			k = len(chips)
			at[key] = k
			chips = append(chips, templates.Chip{Key: key, Text: reason, Href: "/overdue?why=" + key, Current: why == key})
		}
		chips[k].N++
	}
	slices.SortStableFunc(chips[1:], func(a, b templates.Chip) int { return b.N - a.N })
	return chips
}

// paged cuts the page asked for out of the items; a page that is not there
// leads to the first.
func paged(c Ctx, p *templates.OverduePage, items []reminders.Item) (shown []reminders.Item, from int) {
	pages := max(1, (len(items)+pageRows-1)/pageRows)
	page, err := strconv.Atoi(c.QueryParam("page"))
	if err != nil || page < 1 || page > pages {
		page = 1
	}
	at := func(n int) string {
		if n < 1 || n > pages {
			return ""
		}
		q := "/overdue?page=" + strconv.Itoa(n)
		if p.Why != "" {
			q += "&why=" + escapeQuery(p.Why)
		}
		return q
	}
	p.Pager = templates.Pager{Page: page, Pages: pages, Prev: at(page - 1), Next: at(page + 1)}
	from = (page - 1) * pageRows
	return items[from:min(len(items), from+pageRows)], from
}

func showing(from, n, of int) string {
	if n == of {
		return fmt.Sprintf("Showing all %s.", templates.Thousands(of))
	}
	return fmt.Sprintf("Showing %s to %s of %s.", templates.Thousands(from+1), templates.Thousands(from+n), templates.Thousands(of))
}

// overdueRow sets out one infant of the list.
func (s *server) overdueRow(c Ctx, i *reminders.Item, short bool) *templates.OverdueRow {
	k, a := i.Case, &i.Assessment
	row := &templates.OverdueRow{
		Who: s.who(k), Anchor: "row-" + k.Reference, Rev: uint64(k.Rev), Once: auth.NewToken(),
		Late: i.Late(), Class: i.Class(), Tag: caseTag(a), Fact: factOf(k, a), Due: dueSentence(a),
		Strip: s.strip(k, a), Do: i.Action(), By: doneBy(a), Last: "None yet", Flags: flagWords(k, s.today()),
		CanLog: can(c, logContacts), Short: short,
		Book: can(c, schedule) && (a.Next.Step == cases.StepBookTest || a.Next.Step == cases.StepRepeatTest),
	}
	if last := i.LastContact(); last != nil {
		row.Last, row.LastOf = contactSummary(last), sentence(last.Outcome)
		if n := i.Tries(); n > 1 {
			row.LastOf = strings.TrimSpace(row.LastOf + ". " + plainCount(n, "try", "tries") + " at the family")
		}
		if last.NextTry > 0 {
			row.LastOf += ". Next try " + shortDay(last.NextTry)
		}
	}
	return row
}

// factOf is the one fact that explains the reason: the last test, the booking,
// the referral.
func factOf(k *cases.Case, a *cases.Assessment) string {
	if b := a.Next.Booking; b != nil {
		return bookingFact(b)
	}
	if n := len(a.Tests); n > 0 {
		t := &a.Tests[n-1]
		text := shortDay(t.On) + ": " + outcomeWord(t.Outcome)
		if t.Deciding != nil && t.Outcome.Graded() {
			text = shortDay(t.On) + ": chloride " + mmol(*t.Deciding)
		}
		return text
	}
	if a.Next.Step == cases.StepReweigh && a.Readiness.Latest.On != 0 {
		w := &a.Readiness.Latest
		return shortDay(w.On) + ": " + templates.Kg(int(w.G+0.5))
	}
	return "Referred " + shortDay(k.Referral.On)
}

func bookingFact(b *cases.Booking) string {
	text := shortDay(b.On)
	if b.At != "" {
		text += ", " + string(b.At)
	}
	switch b.State {
	case "missed":
		return "Missed the visit of " + text
	case "cancelled":
		return "Booking for " + text + " cancelled"
	}
	return "Booked for " + text
}

// doneBy says by when the next step is owed.
func doneBy(a *cases.Assessment) string {
	switch {
	case a.Next.Due == 0:
		return ""
	case a.Next.Due > a.On:
		return "By " + strings.ReplaceAll(date(a.Next.Due).Weekday(), " ", "\u00a0")
	}
	return "Today"
}

// plainCount is a number with its noun and a plain space, for titles.
func plainCount(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return templates.Thousands(n) + " " + many
}
