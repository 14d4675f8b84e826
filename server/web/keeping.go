package web

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

const (
	keepingPath = "/settings/keeping"
	// listedErasable is how many records the page shows.
	listedErasable = 100
)

// retentionFields are the times of the form, with where each lies.
var retentionFields = []struct {
	id, label, path string
	of              func(*cases.Retention) *int
}{
	{"no-cf", "Closed with CF excluded", "no_cf", func(r *cases.Retention) *int { return &r.NoCF }},
	{"cf", "Closed as CF or CRMS/CFSPID", "cf", func(r *cases.Retention) *int { return &r.CF }},
	{"other", "Closed without a determination", "other", func(r *cases.Retention) *int { return &r.Other }},
	{"age", "Never before the age of", "not_before_age", func(r *cases.Retention) *int { return &r.NotBeforeAge }},
}

// keepingPage answers GET /settings/keeping.
func (s *server) keepingPage(c Ctx) error {
	p, err := s.keeping(c, s.emptyForm(), false)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// keeping fills the page; typed says that the times come from the form.
func (s *server) keeping(c Ctx, f *form, typed bool) (*templates.KeepingPage, error) {
	p := &templates.KeepingPage{Base: templates.Base{Name: "Keeping", Current: "settings"}, Links: settingsTabs(c, "keeping"), BackUps: s.backupsHold(c),
		Lead: "How long records are kept, which may be erased, and what was. Erasing needs two people, and a legal hold stops it."}
	err := s.view(c, func(r cases.Reader) error {
		ret, err := cases.RetentionOf(r)
		if err != nil {
			return err
		}
		if !typed {
			for _, x := range retentionFields {
				if n := *x.of(&ret); n > 0 {
					f.values.Set(x.id, itoa(n))
				}
			}
			f.values.Set("source", ret.Source)
		}
		list, err := cases.ErasableThrough(r, s.today())
		if err != nil {
			return err
		}
		s.erasableRows(c, p, f, list)
		p.Listed = "as of " + shortDay(s.today()) + ", by the times below"
		e, waits, err := cases.ErasingWaiting(r)
		if waits {
			p.Waiting = s.erasingPart(c, f, &e)
		}
		if err != nil {
			return err
		}
		done, err := r.Erasures()
		for i := range done[:min(len(done), listedErasable)] {
			p.Erasures = append(p.Erasures, s.erasureRow(&done[i]))
		}
		return err
	})
	for _, x := range retentionFields {
		p.Times = append(p.Times, f.field(templates.Field{ID: x.id, Label: x.label, Hint: "Years; empty: for good", Width: "w5", InputMode: "numeric"}))
	}
	p.Times[len(p.Times)-1].Hint = "Years; empty: no such limit"
	p.Times = append(p.Times, f.field(templates.Field{ID: "source", Label: "The rule or law they are from", Width: "w20"}))
	p.Order = f.field(templates.Field{ID: "order", Label: "Or one record that an order names", Hint: "Reference, where an order or request must be followed before its time", Optional: true, Width: "w14", NoSpell: true})
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Why they are erased", Hint: "Name nobody: this is kept for good", Kind: "area", Rows: 2})
	return p, err
}

func (s *server) erasableRows(c Ctx, p *templates.KeepingPage, f *form, list []cases.Erasable) {
	for _, e := range list[:min(len(list), listedErasable)] {
		row := templates.ErasableRow{Reference: e.Reference, Closed: date(e.Closed), From: date(e.From), Rule: sentence(e.Rule), Picked: f.ticked("reference", e.Reference)}
		if e.Held != nil {
			row.Held = "since " + shortDay(e.Held.On) + ", placed by " + e.Held.By
		}
		if can(c, seeCases) {
			row.Href = "/infants/" + e.Reference
		}
		p.Rows = append(p.Rows, row)
	}
	p.More = len(list) - len(p.Rows)
}

func (s *server) erasingPart(c Ctx, f *form, e *cases.Erasing) *templates.Erasing {
	out := &templates.Erasing{By: e.By, On: date(e.On), Reason: e.Reason, References: e.References, MayConfirm: e.By != userOf(c).Name}
	d := templates.Choice{ID: "decision", Legend: "Your decision", Down: true}
	if out.MayConfirm {
		d.Options = append(d.Options, templates.Option{Value: "erase", Text: "Erase them now", Sub: "They cannot be brought back."})
	}
	d.Options = append(d.Options, templates.Option{Value: "drop", Text: "Take the proposal back", Sub: "Nothing is erased."})
	out.Decision = f.group(d)
	out.Own = f.field(templates.Field{ID: "own", Label: "Why they are erased, in your words", Hint: "Only when you erase them. Name nobody: this is kept for good", Kind: "area", Rows: 2})
	return out
}

func (s *server) erasureRow(e *cases.Entry) templates.ErasureRow {
	row := templates.ErasureRow{On: date(s.dayOf(e.At)), At: s.clock(e.At), Says: e.Event.Reason}
	x := e.Erased
	if x == nil {
		return row
	}
	row.Rule, row.By = sentence(x.Rule), "Proposed by "+x.ProposedBy+", confirmed by "+x.ConfirmedBy
	parts := []string{templates.Count(x.Cases, "record", "records")}
	for _, n := range []struct {
		n         int
		one, more string
	}{{x.Letters, "letter", "letters"}, {x.Messages, "message", "messages"}, {x.Items, "item", "items"}, {x.Documents, "document", "documents"},
		{x.ListLines, "line of kept lists", "lines of kept lists"}, {len(x.Entries), "entry of the history", "entries of the history"}, {len(x.Lines), "line of the access log", "lines of the access log"}} {
		if n.n > 0 {
			parts = append(parts, templates.Count(n.n, n.one, n.more))
		}
	}
	row.What = strings.Join(parts, ", ")
	if x.Shared > 0 {
		row.What += ". Kept, since they name other infants too: " + templates.Count(x.Shared, "document", "documents")
	}
	return row
}

// backupsHold says until when back-ups hold what is erased today.
func (s *server) backupsHold(c Ctx) string {
	const by = "Back-ups made before still hold it: "
	if s.Safe == nil {
		return by + "whoever keeps copies of the store must see to these."
	}
	b, err := s.Safe.Safe(c.Request().Context())
	switch {
	case err != nil || !b.SetUp:
		return by + "none are set up here; see to copies made by hand."
	case b.Keep == [4]int{}:
		return by + "every one is kept, so for good, until somebody deletes them."
	}
	last := s.today()
	for i, unit := range []cases.Day{0, 1, 7} { // an hour does not reach the next day
		last = max(last, s.today()+unit*cases.Day(b.Keep[i])+cases.Day(b.Keep[0]/24))
	}
	last = max(last, s.today().AddMonths(b.Keep[3]+1))
	return by + "the last of these goes by " + shortDay(last) + ", if none is put aside by hand. After going back to an older back-up, erase again."
}

// setRetention answers POST /settings/keeping.
func (s *server) setRetention(c Ctx) error {
	f := s.readForm(c)
	var ret cases.Retention
	for _, x := range retentionFields {
		if t := strings.TrimSpace(f.typed(x.id)); t != "" {
			n, err := strconv.Atoi(t)
			if err != nil {
				f.fail(x.id, "%s must be whole years, like 10", x.label)
			}
			*x.of(&ret) = n
		}
	}
	ret.Source = f.text("source", "The rule or law", 300)
	var err error
	if f.ok() {
		err = s.submit(c, f, keepingPath, func(ctx context.Context) (templates.Notice, error) {
			return templates.Notice{Head: "Times saved.", Text: "The list below follows them."}, s.Desk.SetRetention(ctx, actorOf(c), ret)
		})
		fields := map[string]string{"source": "source"}
		for _, x := range retentionFields {
			fields[x.path] = x.id
		}
		if !f.take(err, fields) {
			return err
		}
	}
	return s.keepingAgain(c, f, true)
}

func (s *server) keepingAgain(c Ctx, f *form, typed bool) error {
	p, err := s.keeping(c, f, typed)
	if err != nil {
		return err
	}
	return s.invalid(c, p, f.problems)
}

// proposeErasing answers POST /settings/keeping/propose.
func (s *server) proposeErasing(c Ctx) error {
	f := s.readForm(c)
	x := cases.Erasing{Reason: f.lines("reason", "Why they are erased", 500)}
	if order := f.text("order", "The record that an order names", 40); order != "" {
		x.Order, x.References = true, []string{strings.ToUpper(order)}
		if len(f.values["reference"]) > 0 {
			f.fail("order", "Propose the record of an order by itself, and those whose time is over apart")
		}
	} else {
		for _, ref := range f.values["reference"][:min(len(f.values["reference"]), 2*listedErasable)] {
			if len(ref) <= 40 {
				x.References = append(x.References, ref)
			}
		}
	}
	if f.ok() {
		err := s.submit(c, f, keepingPath, func(ctx context.Context) (templates.Notice, error) {
			return templates.Notice{Head: "Proposed.", Text: "Another person must confirm it before anything is erased."}, s.Desk.ProposeErasing(ctx, actorOf(c), x)
		})
		field := "order"
		if !f.take(err, map[string]string{"references": field, "reason": "reason"}) {
			return err
		}
	}
	return s.keepingAgain(c, f, false)
}

// decideErasing answers POST /settings/keeping/decide.
func (s *server) decideErasing(c Ctx) error {
	f := s.readForm(c)
	decision := f.choice("decision", "Select what to do", "erase", "drop")
	own := f.lines("own", "Why they are erased", 500)
	if decision == "erase" && own == "" {
		f.fail("own", "Enter why they are erased, in your own words")
	}
	if !f.ok() {
		return s.keepingAgain(c, f, false)
	}
	err := s.submit(c, f, keepingPath, func(ctx context.Context) (templates.Notice, error) {
		if decision == "drop" {
			return templates.Notice{Head: "Taken back.", Text: "Nothing is erased."}, s.Desk.DropErasing(ctx, actorOf(c))
		}
		done, left, err := s.Desk.ConfirmErasing(afterOnce(ctx), actorOf(c), own) // one transaction a record
		n := templates.Notice{Head: "Erased:", Text: templates.Count(len(done), "record", "records") + "."}
		if len(left) > 0 {
			n.Kind, n.Text = "warn", fmt.Sprintf("%s Left: %s", n.Text, strings.Join(left, " "))
		}
		s.alike.forget()
		return n, err
	})
	if f.take(err, map[string]string{"reason": "own"}) {
		return s.keepingAgain(c, f, false)
	}
	return err
}
