package reminders

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"dunlin/cases"
)

// Book reads the overdue list from the store, and keeps each day's list.
type Book struct {
	Store    cases.Store
	Protocol func() *cases.Protocol // the values in force
}

// Page is the list as it is now, and what there is to say about it.
type Page struct {
	Today cases.Day
	Items []Item // the whole list, in order
	// Made is the list that the daily job kept for today; nil while it did not run.
	Made *cases.DayList
	// NoList are days of the last two weeks, today left out, on which no list was made
	// although an older one was.
	NoList []cases.Day
	// Earlier are the days of which a list is kept, newest first, today left out.
	Earlier []cases.Day
}

// maxLookBack is how many kept lists a page knows of.
const maxLookBack = 14

// actor is who keeps lists.
var actor = cases.Actor{ID: "daily", Name: "Daily job", Role: cases.System, Via: "job daily"}

// Today reads the list as it is at this moment.
func (b *Book) Today(ctx context.Context) (Page, error) {
	var page Page
	err := b.Store.View(ctx, func(r cases.Reader) (err error) {
		page = Page{Today: r.Today()}
		if page.Items, err = List(r.DueThrough(page.Today), page.Today, b.Protocol()); err != nil {
			return err
		}
		switch made, err := r.DayList(page.Today); {
		case err == nil:
			page.Made = &made
		case cases.KindOf(err) != cases.NotFound:
			return err
		}
		days, err := r.DayLists(maxLookBack + 1)
		page.Earlier, page.NoList = lookBack(days, page.Today)
		return err
	})
	if err != nil {
		return Page{}, fmt.Errorf("overdue list: %w", err)
	}
	return page, nil
}

// lookBack sorts out the kept days before today and the gaps among them.
func lookBack(days []cases.Day, today cases.Day) (earlier, gaps []cases.Day) {
	for _, d := range days {
		if d < today && d >= today-maxLookBack {
			earlier = append(earlier, d)
		}
	}
	slices.Sort(earlier)
	if len(earlier) > 0 {
		for d := earlier[0]; d < today; d++ {
			if !slices.Contains(earlier, d) {
				gaps = append(gaps, d)
			}
		}
	}
	slices.Reverse(earlier)
	return earlier, gaps
}

// Row is one infant on a kept list: what was shown that morning. It holds no phone
// number and no address.
type Row struct {
	Case      cases.ID   `json:"case"`
	Reference string     `json:"reference"`
	Given     string     `json:"given,omitempty"`
	Family    string     `json:"family,omitempty"`
	Born      cases.Day  `json:"born"`
	Urgency   int        `json:"urgency"`
	Late      int        `json:"late"` // days
	Since     cases.Day  `json:"since"`
	By        string     `json:"by"`
	Step      cases.Step `json:"step"`
	Due       cases.Day  `json:"due"`
	Reason    string     `json:"reason"`
	Action    string     `json:"action"`
	Twins     []string   `json:"twins,omitempty"`
}

// Row is the item as it is kept.
func (i *Item) Row() Row {
	in, a := &i.Case.Infant, &i.Assessment
	return Row{
		Case: i.Case.ID, Reference: i.Case.Reference, Given: in.Given, Family: in.Family, Born: in.Born,
		Urgency: a.Next.Urgency, Late: i.Late(), Since: a.Overdue.Since, By: i.By(),
		Step: a.Next.Step, Due: a.Next.Due, Reason: i.Reason(), Action: i.Action(), Twins: i.Twins,
	}
}

// Rows reads a kept list back.
func Rows(l cases.DayList) ([]Row, error) {
	var rows []Row
	if err := json.Unmarshal(l.Rows, &rows); err != nil {
		return nil, fmt.Errorf("the list of %s cannot be read: %w", l.On, err)
	}
	return rows, nil
}

// Keep makes the list of a day and keeps it. A day's list is made once: a second call
// leaves it as it is. It gives the number of infants on the kept list.
func (b *Book) Keep(ctx context.Context, day cases.Day) (n int, err error) {
	kept := false
	var items []Item
	err = b.Store.View(ctx, func(r cases.Reader) (err error) {
		old, err := r.DayList(day)
		if kept = err == nil; kept {
			n = old.N
			return nil
		}
		if cases.KindOf(err) != cases.NotFound {
			return err
		}
		items, err = List(r.DueThrough(day), day, b.Protocol())
		return err
	})
	if err != nil || kept {
		return n, err
	}
	rows := make([]Row, len(items))
	for i := range items {
		rows[i] = items[i].Row()
	}
	data, err := json.Marshal(rows)
	if err != nil {
		return 0, err
	}
	n = len(rows)
	err = b.Store.Update(ctx, actor, func(w cases.Writer) error {
		if old, err := w.DayList(day); err == nil { // made by another program meanwhile
			n = old.N
			return nil
		} else if cases.KindOf(err) != cases.NotFound {
			return err
		}
		return w.PutDayList(cases.DayList{On: day, Made: w.Now(), Rows: data, N: len(rows)})
	})
	if err != nil {
		return 0, fmt.Errorf("keeping the list of %s: %w", day, err)
	}
	return n, nil
}
