package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"dunlin/cases"
	"dunlin/templates"
)

// verifyForm answers GET /infants/:ref/tests/:n/verify.
func (s *server) verifyForm(c Ctx) error {
	e, err := s.loadTest(c, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.verifyPage(c, e))
}

func (s *server) verifyPage(c Ctx, e *testEdit) *templates.VerifyTestPage {
	t, f := e.old(), e.f
	p := &templates.VerifyTestPage{Base: s.base(c, &e.opened, "Check a sweat test", "infants"), Head: "Check the test of " + shortDay(t.On) + " for " + shortName(&e.c.Infant),
		Lead: "A named person says whether the values stand. The values themselves are not changed here.", Action: action(c), Back: back(c, e.c.Reference)}
	p.Lab = labWord(t.Laboratory)
	if r := s.readingOf(e); r != nil {
		p.Arms, p.Word, p.Drop = armTable(t, r), outcomeWord(r.Outcome), outcomeDrop(r.Outcome)
		p.Why = stopSentence(t, r, s.protocol())
	}
	if v := t.Verified; v != nil {
		p.Why = fmt.Sprintf("%s said on %s: %s.", v.By, shortDay(v.On), map[string]string{"stands": "the values stand", "void": "the test is void"}[v.As])
	} else if p.Why == "" && e.a.Next.Step == cases.StepVerify {
		p.Why = e.a.Explain(&e.c)
	}
	p.As = f.group(templates.Choice{ID: "as", Legend: "What did the check show?", Down: true, Options: []templates.Option{
		{Value: "stands", Text: "The values stand", Sub: "Right infant, right values. The test is read by the classes, without the rules of plausibility and agreement."},
		{Value: "void", Text: "The test is void", Sub: "It is kept and not counted. A repeat is due."}}})
	p.By = f.field(templates.Field{ID: "by", Label: "Who checked it", Hint: "A name: the laboratory director or the clinician", Width: "w20", NoSpell: true})
	p.Reason = f.field(templates.Field{ID: "reason", Label: "What was checked", Hint: "Identity, laboratory sheet, units, technique", Kind: "area", Rows: 2})
	return p
}

// verify answers POST /infants/:ref/tests/:n/verify.
func (s *server) verify(c Ctx) error {
	e, err := s.loadTest(c, s.readForm(c))
	if err != nil {
		return err
	}
	f := e.f
	as := f.choice("as", "Select what the check showed", "stands", "void")
	by := f.need("by", "Who checked it", "Enter who checked it", 120)
	reason := f.lines("reason", "What was checked", 500)
	if reason == "" {
		f.fail("reason", "Enter what was checked")
	}
	p := s.verifyPage(c, e)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, nextPath(c, e.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		k, err := s.Desk.VerifyTest(ctx, actorOf(c), e.c.ID, f.rev(), e.i, as, by, reason)
		if err != nil {
			return templates.Notice{}, err
		}
		a := s.protocol().Assess(&k, e.today)
		return templates.Notice{Head: "Check saved", Text: fmt.Sprintf("%s, %s. Next: %s%s.", infantName(&k.Infant), k.Reference, a.ActionWord(), dueWords(&a))}, nil
	})
	return s.refuse(c, f, p, err, sent{"the check", []labelled{{"as", "What the check showed"}, {"by", "Who checked it"}, {"reason", "What was checked"}}, func(path string) string {
		if lastPart(path) == "by" {
			return "by"
		}
		return "as-0"
	}})
}

// reactionForm answers GET /infants/:ref/tests/:n/reaction.
func (s *server) reactionForm(c Ctx) error {
	e, err := s.loadTest(c, s.emptyForm("on", "today"))
	if err != nil {
		return err
	}
	if t := e.old(); !slices.ContainsFunc(t.Arms, func(a cases.Arm) bool { return a.Hurt() }) {
		return cases.Errorf(cases.Refused, "No blister or burn is recorded for that test. Change the test first.")
	}
	return s.render(c, http.StatusOK, s.reactionPage(c, e))
}

func (s *server) reactionPage(c Ctx, e *testEdit) *templates.ReportReactionPage {
	t := e.old()
	p := &templates.ReportReactionPage{Base: s.base(c, &e.opened, "Report a blister or burn", "infants"), Head: "Report a blister or burn of " + shortName(&e.c.Infant),
		Lead: "Test of " + shortDay(t.On) + ". Record who was told, and when.", Action: action(c), Back: back(c, e.c.Reference)}
	if r := s.readingOf(e); r != nil {
		p.Arms = armTable(t, r)
	}
	p.To = e.f.field(templates.Field{ID: "to", Label: "Reported to", Hint: "Name and place: the clinician who looks at the skin, and the site", Width: "w20", NoSpell: true})
	p.On = e.f.field(templates.Field{ID: "on", Label: "Day", Hint: "Like today or 5 Mar 2026", Width: "w14"})
	p.At = e.f.field(templates.Field{ID: "at", Label: "Time", Optional: true, Width: "w5", InputMode: "numeric"})
	return p
}

// reaction answers POST /infants/:ref/tests/:n/reaction.
func (s *server) reaction(c Ctx) error {
	e, err := s.loadTest(c, s.readForm(c))
	if err != nil {
		return err
	}
	f := e.f
	told := cases.Told{To: f.need("to", "Reported to", "Enter to whom it was reported", 200), On: f.needDay("on", "Day"), At: f.time("at", "Time")}
	switch {
	case told.On == 0:
	case told.On > e.today:
		f.fail("on", "Day must be today or in the past")
	case told.On < e.old().On:
		f.fail("on", "Day must be on or after %s, the day of the test", shortDay(e.old().On))
	}
	p := s.reactionPage(c, e)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, back(c, e.c.Reference), func(ctx context.Context) (templates.Notice, error) {
		_, err := s.Desk.ReportReaction(ctx, actorOf(c), e.c.ID, f.rev(), e.i, told)
		return templates.Notice{Head: "Report saved", Text: infantName(&e.c.Infant) + ", " + e.c.Reference + ": reported to " + told.To + "."}, err
	})
	return s.refuse(c, f, p, err, sent{"the report", []labelled{{"to", "Reported to"}, {"on", "Day"}, {"at", "Time"}}, func(string) string { return "to" }})
}
