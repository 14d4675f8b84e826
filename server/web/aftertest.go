package web

import (
	"context"
	"fmt"
	"net/http"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// nextPath is the page that follows a recorded visit.
func nextPath(c Ctx, ref string) string {
	at := "/infants/" + ref + "/next"
	if c.QueryParam("from") == "schedule" {
		at += "?from=schedule"
	}
	return at
}

// afterTest answers GET /infants/:ref/next: what is owed after a visit.
func (s *server) afterTest(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	p, err := s.afterTestPage(c, &o, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) afterTestPage(c Ctx, o *opened, f *form) (*templates.AfterTestPage, error) {
	k, a := &o.c, &o.a
	at := "/infants/" + k.Reference
	p := &templates.AfterTestPage{Base: s.base(c, o, "Next step", "schedule"), Head: "Next for " + shortName(&k.Infant), Lead: "What the recorded facts and the protocol imply. A named person decides.", Back: back(c, k.Reference)}
	p.Next = templates.NextStep{Do: a.ActionWord(), Because: a.Explain(k), By: doneBy(a), State: lateTag(a.Next.Due, o.today)}
	if n := len(a.Tests); n > 0 {
		r := &a.Tests[n-1]
		p.Drop, p.Word, p.On, p.Lines = outcomeDrop(r.Outcome), outcomeWord(r.Outcome), date(r.On), append(armSentences(r.Test, r), testFlagSentences(r.Flags, s.protocol())...)
	}
	p.Tasks, p.Notes = s.tasksNow(c, o), afterNotes(o)
	p.Links = []templates.Link{{Href: at, Text: "Open the infant"}, {Href: "/schedule", Text: "Schedule"}}
	if p.Repeat = s.repeatPart(a); p.Repeat == nil {
		p.Also = actionsOf(a)
	}
	return p, s.addAfter(c, p, o, f)
}

// tasksNow are what is owed today before the nurse leaves the case, each with its
// page.
func (s *server) tasksNow(c Ctx, o *opened) []templates.Link {
	at := "/infants/" + o.c.Reference
	var out []templates.Link
	for i := range o.c.SweatTests {
		for j := range o.c.SweatTests[i].Arms {
			if arm := &o.c.SweatTests[i].Arms[j]; arm.Hurt() && arm.ReportedOn == 0 && can(c, logContacts) && o.a.Actions.Has(cases.ActReportReaction) {
				out = append(out, templates.Link{Href: fmt.Sprintf("%s/tests/%d/reaction", at, i), Text: "Report the " + arm.Reaction + " of " + shortDay(o.c.SweatTests[i].On)})
				break
			}
		}
	}
	if o.a.Actions&(cases.ActReferSpecialist|cases.ActCallToday) != 0 && can(c, logContacts) {
		out = append(out, templates.Link{Href: at + "/contacts/new", Text: "Call the CF center, and log it"})
	}
	if r := o.a.Repeat; r != nil && !o.a.Closed && r.Because == string(cases.Intermediate) && (o.c.RepeatOrdered == nil || o.c.RepeatOrdered.On < r.After) && can(c, verifyTests) {
		out = append(out, templates.Link{Href: at + "/repeat-order", Text: "Record the clinician's order of the repeat"})
	}
	if o.a.Next.Step == cases.StepVerify && can(c, verifyTests) {
		if l := stepLink(c, &o.c, &o.a); l.Href != "" {
			out = append(out, l)
		}
	}
	return out
}

// afterNotes are the cautions that go with what was recorded.
func afterNotes(o *opened) []templates.Notice {
	var out []templates.Notice
	if n := len(o.a.Tests); n > 0 {
		switch o.a.Tests[n-1].Outcome {
		case cases.ConsistentCF:
			out = append(out, templates.Notice{Kind: "late", Head: "Tell the CF center today", Text: "A value in the CF range needs a clinician today. " + cautionSaltLoss})
		case cases.Intermediate:
			out = append(out, templates.Notice{Kind: "warn", Text: cautionUnderSixty})
		case cases.QNS:
			out = append(out, templates.Notice{Kind: "warn", Text: "QNS gives no result and never closes a case."})
		case cases.Unlikely:
			out = append(out, templates.Notice{Kind: "warn", Text: cautionScreen})
		}
	}
	if o.a.PresumptiveCF {
		out = append(out, templates.Notice{Kind: "late", Head: "Two CF-causing variants", Text: cautionTwoVariants})
	}
	if o.a.Actions.Has(cases.ActReportReaction) {
		out = append(out, templates.Notice{Kind: "late", Head: "Report the skin reaction", Text: cautionReaction})
	}
	return append(out, templates.Notice{Text: cautionNotDiagnosis})
}

// addAfter puts the earliest places on the page where a test is owed, and the form
// for a clinician's reason where a repeat is and no place is taken.
func (s *server) addAfter(c Ctx, p *templates.AfterTestPage, o *opened, f *form) error {
	w, waits := booking.WaitOf(&o.c, &o.a, s.protocol())
	if !waits || !can(c, schedule) {
		return nil
	}
	at := "/infants/" + o.c.Reference
	p.ByHand = at + "/book"
	if w.Blocked != "" {
		p.NoPlace = "No place is offered yet: " + w.Blocked + "."
	} else if err := s.addPlacesAfter(c, p, o, f); err != nil {
		return err
	}
	if o.a.Repeat != nil && actorOf(c).May(cases.PlaceHolds) && openHold(&o.c, o.today) < 0 {
		p.PutOff = &templates.PutOff{Action: at + "/no-date",
			By:   f.field(templates.Field{ID: "by", Label: "Clinician who decided", Width: "w20", NoSpell: true}),
			Why:  f.field(templates.Field{ID: "reason", Label: "Why no date is set", Width: "w20"}),
			Look: f.field(templates.Field{ID: "look-again", Label: "Look again on", Hint: "Like +1w or 12 Mar 2026", Width: "w14"})}
	}
	return nil
}

func (s *server) addPlacesAfter(c Ctx, p *templates.AfterTestPage, o *opened, f *form) error {
	return s.view(c, func(r cases.Reader) error {
		of, err := bySessions(r)
		if err != nil {
			return err
		}
		if len(of) == 0 {
			p.NoPlace = "No site has sessions in the next 8 weeks. Book by hand."
			return nil
		}
		b, err := booking.ReadBoard(r, s.protocol(), placesAhead, s.places.Centroids)
		if err != nil {
			return err
		}
		part := &templates.PlacesPart{Action: "/infants/" + o.c.Reference + "/place", Button: "Book"}
		if c.QueryParam("from") == "schedule" {
			part.Action += "?from=schedule"
		}
		s.offer(part, b, o, -1)
		p.Places = part
		return nil
	})
}

// noDate answers POST /infants/:ref/no-date: a clinician's reason why no date is set
// for a repeat.
func (s *server) noDate(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	by := f.need("by", "Clinician who decided", "Enter the clinician who decided", 120)
	why := f.need("reason", "Why no date is set", "Enter the clinician's reason", 300)
	look := f.needDay("look-again", "Look again on")
	if look != 0 && look <= o.today {
		f.fail("look-again", "Look again on must be after today")
	}
	p, err := s.afterTestPage(c, &o, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, back(c, o.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		k, err := s.Desk.HoldRepeat(ctx, actorOf(c), o.c.ID, f.rev(), by, why, look)
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.protocol().Assess(&k, o.today)
		return templates.Notice{Head: "Reason saved", Text: fmt.Sprintf("%s, %s: no repeat date, decided by %s. Next: %s%s.", infantName(&k.Infant), k.Reference, by, a.ActionWord(), dueWords(&a))}, nil
	})
	return s.refuse(c, f, p, err, sent{"the reason", []labelled{{"by", "Clinician who decided"}, {"reason", "Why no date is set"}, {"look-again", "Look again on"}}, func(path string) string { return factField(lastPart(path)) }})
}
