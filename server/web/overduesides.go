package web

import (
	"fmt"
	"net/http"
	"time"

	"dunlin/cases"
	"dunlin/reminders"
	"dunlin/templates"
)

// sides adds what stands beside the list: who left it today, what is due next
// when it is empty, and whether there are any infants at all.
func (s *server) sides(c Ctx, p *templates.OverduePage, list *reminders.Page) error {
	return s.view(c, func(r cases.Reader) error {
		if err := s.doneToday(c, r, p, list); err != nil {
			return err
		}
		if len(list.Items) > 0 {
			return nil
		}
		return s.nextDue(r, p)
	})
}

// doneToday lists the infants who were on the list this morning and are not
// now, with the last thing that was done for each.
func (s *server) doneToday(c Ctx, r cases.Reader, p *templates.OverduePage, list *reminders.Page) error {
	if list.Made == nil {
		return nil
	}
	rows, err := reminders.Rows(*list.Made)
	if err != nil {
		return err
	}
	on := make(map[cases.ID]bool, len(list.Items))
	for i := range list.Items {
		on[list.Items[i].Case.ID] = true
	}
	gone := map[cases.ID]bool{}
	for _, row := range rows {
		if !on[row.Case] {
			gone[row.Case] = true
		}
	}
	if len(gone) == 0 {
		return nil
	}
	last := map[cases.ID]cases.Entry{}
	for e, err := range r.EntriesSince(list.Made.Made) {
		if err != nil {
			return err
		}
		if gone[e.Case] && e.Actor.Role != cases.System {
			last[e.Case] = e
		}
	}
	for _, row := range rows {
		if !gone[row.Case] {
			continue
		}
		k, err := r.Case(row.Case)
		if cases.IsElsewhere(err) {
			continue
		}
		if err != nil {
			return err
		}
		d := templates.DoneRow{Who: s.who(&k), What: "No longer due."}
		if e, ok := last[row.Case]; ok {
			by := e.Actor.Name
			if e.Actor.ID == userOf(c).ID {
				by = "you"
			}
			d.What, d.When = or(e.Event.Text, "Changed")+".", s.clock(e.At)+", "+by+"."
		}
		p.Done = append(p.Done, d)
	}
	return nil
}

// nextDue says which open case is due first, or that there is none.
func (s *server) nextDue(r cases.Reader, p *templates.OverduePage) error {
	today := s.today()
	var best cases.Case
	var bestA cases.Assessment
	any := false
	for k, err := range r.Open() {
		if err != nil {
			return err
		}
		any = true
		if a := s.Protocol.Assess(&k, today); a.Next.Due != 0 && (bestA.Next.Due == 0 || a.Next.Due < bestA.Next.Due) {
			best, bestA = k, a
		}
	}
	if bestA.Next.Due != 0 {
		p.Next = fmt.Sprintf("Next due: %s, %s, %s. %s.", infantName(&best.Infant), best.Reference, date(bestA.Next.Due).Weekday(), bestA.ActionWord())
	}
	if !any {
		p.NoCases = true
		for _, err := range r.All() {
			p.NoCases = err != nil
			break
		}
	}
	return nil
}

// overduePrint answers GET /overdue/print: the list of now, as it is printed.
func (s *server) overduePrint(c Ctx) error {
	list, err := s.Book.Today(c.Request().Context())
	if err != nil {
		return err
	}
	p := &templates.DayListPage{On: date(list.Today), Order: reminders.OrderRule, Printed: s.printed(c)}
	p.Name, p.Current = "Overdue list for paper, "+date(list.Today).String(), "overdue"
	p.Head = "Overdue list of " + date(list.Today).Long()
	p.Lead = "As it is at " + s.clock(s.Now()) + "."
	for i := range list.Items {
		it := &list.Items[i]
		row := templates.DayRow{Who: s.who(it.Case), Late: it.Late(), Why: it.Reason(), Due: dueSentence(&it.Assessment), Do: it.Action(),
			Phone: familyPhone(it.Case), LastContacted: "None yet"}
		if last := it.LastContact(); last != nil {
			row.LastContacted = contactSummary(last) + ". " + sentence(last.Outcome)
		}
		p.Rows = append(p.Rows, row)
	}
	return s.render(c, http.StatusOK, p)
}

// overdueDay answers GET /overdue/days/{day}: the list that was kept that day.
func (s *server) overdueDay(c Ctx) error {
	day, err := cases.ParseDay(c.Param("day"))
	if err != nil || day > s.today() {
		return cases.Errorf(cases.NotFound, "There is no list of that day.")
	}
	p := &templates.DayListPage{On: date(day), Order: reminders.OrderRule, Printed: s.printed(c)}
	p.Name, p.Current = "Overdue list of "+date(day).String(), "overdue"
	p.Head = "Overdue list of " + date(day).Long()
	at := func(d cases.Day, text string) templates.Link {
		return templates.Link{Href: "/overdue/days/" + d.String(), Text: text}
	}
	p.Earlier = at(day-1, "Day before")
	if day < s.today() {
		p.Later = at(day+1, "Day after")
	}
	err = s.view(c, func(r cases.Reader) error {
		kept, err := r.DayList(day)
		if cases.KindOf(err) == cases.NotFound {
			p.NoList = true
			return nil
		}
		if err != nil {
			return err
		}
		p.Lead = "Made at " + s.clock(kept.Made) + " by the daily job, and kept as it was."
		rows, err := reminders.Rows(kept)
		if err != nil {
			return err
		}
		for i := range rows {
			row, sees := s.keptRow(r, &rows[i], day)
			if sees {
				p.Rows = append(p.Rows, row)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// keptRow shows a row as it was that morning, and what became of it since; sees is false
// for an infant of another site.
func (s *server) keptRow(r cases.Reader, row *reminders.Row, day cases.Day) (out templates.DayRow, sees bool) {
	i := cases.Infant{Given: row.Given, Family: row.Family, Born: row.Born}
	out = templates.DayRow{Late: row.Late, Why: row.Reason, Do: row.Action, State: "Not found", LastContacted: "Not known",
		Who: templates.Who{Name: infantName(&i), Reference: row.Reference, Born: date(row.Born), Age: templates.Age(ageOn(&i, day))}}
	if row.Since != 0 {
		name := "This step"
		if row.By != "step" {
			name = clockWord(row.By)
		}
		out.Due = name + " was due " + shortDay(row.Since)
	}
	k, err := r.Case(row.Case)
	if err != nil {
		return out, !cases.IsElsewhere(err)
	}
	a := s.Protocol.Assess(&k, s.today())
	out.Who.Twin, out.Phone, out.LastContacted = twinWords(&k.Infant), familyPhone(&k), "None yet"
	if last, _ := lastContact(&k, s.today()); last != nil {
		out.LastContacted = contactSummary(last)
	}
	switch {
	case a.OnList():
		out.State = "On the list: " + a.ListWord()
	case a.Closed:
		out.State = "Closed: " + determinationWord(a.ClosedAs)
	default:
		out.State = "Not on the list: " + a.ListWord()
	}
	return out, true
}

func (s *server) printed(c Ctx) string {
	now := s.Now()
	return fmt.Sprintf("Printed %s, %s, by %s", now.Format("2 Jan 2006"), now.Format("15:04"), userOf(c).Name)
}

// familyPhone is the first number of the guardian who gets letters, else of
// any guardian.
func familyPhone(k *cases.Case) string {
	if k.Family == nil {
		return ""
	}
	number := ""
	for _, g := range k.Family.Guardians {
		if len(g.Phones) == 0 {
			continue
		}
		if g.Letters || number == "" {
			number = g.Phones[0].Number
		}
		if g.Letters {
			break
		}
	}
	return number
}

// dayOf is the civil day of a moment in the program's zone.
func (s *server) dayOf(t time.Time) cases.Day { return cases.DayOf(t.In(s.Now().Location())) }
