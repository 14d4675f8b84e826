package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// infant answers GET /infants/{ref}: all about one infant. The manager sees it
// only while a closure or a hand-over waits.
func (s *server) infant(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	k, a := &o.c, &o.a
	if !can(c, seeCases) && a.Proposed == nil && (k.Handover == nil || k.Handover.AcceptedOn != 0) {
		if _, open := s.openFor(c, k.Reference); !open {
			return &cases.Elsewhere{Reference: k.Reference}
		}
	}
	p := &templates.InfantPage{Base: s.page(c, k, infantName(&k.Infant)), Reference: k.Reference, Short: shortName(&k.Infant),
		Tag: caseTag(a), Lead: s.infantLead(&o), CanLog: can(c, logContacts), CanTest: can(c, recordTests), CanName: can(c, writeIdentity)}
	p.Next = templates.NextStep{Do: a.ActionWord(), Because: a.Explain(k), By: doneBy(a), State: lateTag(a.Next.Due, o.today)}
	p.Stop = s.stops(&o)
	p.Ready, p.Checks = readyTag(a), s.readyMets(&o)
	p.ReadyNote = "A weight estimate only plans the date: weigh on the day."
	p.Repeat, p.Retests = s.repeatPart(a), s.retestPart(c, &o)
	p.Clocks, p.Plan = clocksOf(a), s.contactPart(c, &o)
	p.ToDo, p.Evidence = actionsOf(a), s.evidenceOf(a)
	s.infantActs(c, p, &o)
	s.infantLine(p, &o)
	p.Tests = s.testRows(c, &o)
	p.Contact = contactRows(k)
	if p.Books, err = s.bookingRows(c, &o); err != nil {
		return err
	}
	p.Screen, p.Family, p.ToCheck = screenFacts(k), familyFacts(k), toCheckFacts(k)
	p.Record, p.Notes = s.factLinks(c, &o), noteFacts(k)
	if can(c, exportRows) {
		p.Export = templates.Link{Href: "/infants/" + k.Reference + "/export", Text: "Export as FHIR"}
	}
	p.Cautions = []string{cautionSaltLoss, cautionUnderSixty, cautionScreen}
	if err := s.infantTrail(c, p, k, a); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) infantLead(o *opened) string {
	k, a, by := &o.c, &o.a, s.Protocol.FirstTestByDays
	var parts []string
	age := ageOn(&k.Infant, o.today)
	switch {
	case a.Closed:
		parts = append(parts, "Closed on "+shortDay(a.ClosedOn)+".")
	case len(a.Tests) > 0:
	case age > by:
		parts = append(parts, fmt.Sprintf("%s past day %d without a test.", templates.Days(age-by), by))
	default:
		parts = append(parts, fmt.Sprintf("%s until day %d.", templates.Days(by-age), by))
	}
	parts = append(parts, fmt.Sprintf("%s. Referred %s.", k.ScreenReason(&a.Genotype), shortDay(k.Referral.On)))
	if a.Proposed != nil {
		parts = append(parts, "A closure as "+determinationWord(a.Proposed.As)+" waits for agreement.")
	}
	return strings.Join(parts, " ")
}

// stops are what must not be overlooked.
func (s *server) stops(o *opened) []templates.Note {
	var out []templates.Note
	add := func(kind, head, text string) { out = append(out, templates.Note{Kind: kind, Head: head, Text: text}) }
	if o.a.PresumptiveCF && !o.a.Closed && o.c.Infant.Died == 0 {
		if o.a.Actions&(cases.ActReferSpecialist|cases.ActCallToday|cases.ActTellPrimary) != 0 {
			add("late", "Two CF-causing variants: call now.", "Age or weight never delays that call, and care does not wait for the sweat test.")
		} else {
			add("late", "Two CF-causing variants.", "CF center, primary care and family are told. Care does not wait for the sweat test.")
		}
	}
	if o.c.Infant.Died != 0 {
		add("warn", "This infant died on "+shortDay(o.c.Infant.Died)+".", "Nothing is sent and nobody is called.")
	}
	if f := flagWords(&o.c, o.today); f != "" {
		add("late", f+".", "Contact flags of this family.")
	}
	for _, t := range o.c.ToCheck {
		if t.Done == 0 {
			add("warn", "Some values could not be used as they came in.", "See “To check” on this page.")
			break
		}
	}
	return out
}

// infantActs are the buttons of the head, those that the role may use.
func (s *server) infantActs(c Ctx, p *templates.InfantPage, o *opened) {
	at := "/infants/" + p.Reference
	p.Main = stepLink(c, &o.c, &o.a)
	if o.a.Proposed != nil {
		p.Main = templates.Link{Href: at + "/agree", Text: "See the proposed closure"}
		if can(c, agreeClosing) {
			p.Main.Text = "Agree or send back"
		}
	}
	p.Next.Go = p.Main
	all := []struct {
		r          right
		path, text string
	}{{logContacts, "/contacts/new", "Log contact"}, {schedule, "/book", "Book"}, {recordTests, "/tests/new", "Record test"}, {weigh, "/weights/new", "Add weight"}}
	for _, x := range all {
		if l := (templates.Link{Href: at + x.path, Text: x.text}); can(c, x.r) && l.Href != p.Main.Href && !o.a.Closed {
			p.Acts = append(p.Acts, l)
		}
	}
	switch {
	case o.a.Closed && can(c, reopenCases):
		p.Close = templates.Link{Href: at + "/reopen", Text: "Reopen case"}
	case !o.a.Closed && o.a.Proposed == nil && can(c, closeCases) && p.Main.Href != at+"/close":
		p.Close = templates.Link{Href: at + "/close", Text: "Close case"}
	}
}

// clocksOf lists the time limits with what became of each.
func clocksOf(a *cases.Assessment) []templates.Clock {
	var out []templates.Clock
	add := func(name string, r *cases.ClockRun) {
		if r == nil || r.Due == 0 {
			return
		}
		k := templates.Clock{Name: clockWord(name), Due: date(r.Due), Note: sentence(r.Exception)}
		switch {
		case r.MetOn != 0:
			k.State = templates.Tag{Kind: "done", Text: "met on " + shortDay(r.MetOn)}
			if r.DaysLate > 0 {
				k.State.Text += ", " + templates.Days(r.DaysLate) + " late"
			}
		case !r.Running:
			k.State = templates.Tag{Kind: "blank", Text: "stopped"}
		default:
			k.State = lateTag(r.Due, a.On)
		}
		out = append(out, k)
	}
	add("primary-care-told", &a.Clocks.PrimaryCareTold)
	add("family-reached", &a.Clocks.FamilyReached)
	add("first-test", &a.Clocks.FirstTest)
	add("repeat-test", a.Clocks.RepeatTest)
	add("determination", &a.Clocks.Determination)
	return out
}

// infantTrail adds letters and the change history.
func (s *server) infantTrail(c Ctx, p *templates.InfantPage, k *cases.Case, a *cases.Assessment) error {
	return s.view(c, func(r cases.Reader) error {
		var err error
		if p.Letters, err = s.letterRows(c, r, k, a); err != nil {
			return err
		}
		if can(c, takeIn) {
			if p.Came, err = s.messagesOf(r, k.ID); err != nil {
				return err
			}
		}
		entries, err := r.History(k.ID)
		if err != nil {
			return err
		}
		slices.SortStableFunc(entries, func(a, b cases.Entry) int { return cmp.Compare(b.Seq, a.Seq) })
		if n := len(entries); n > historyShown && c.QueryParam("history") != "all" {
			entries = entries[:historyShown]
			p.More, p.MoreAt = fmt.Sprintf("Show all %d entries", n), "/infants/"+k.Reference+"?history=all#history-h"
		}
		for _, e := range entries {
			p.History = append(p.History, s.historyRows(e)...)
		}
		return nil
	})
}
