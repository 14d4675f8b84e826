package web

import (
	"context"
	"fmt"
	"net/http"

	"dunlin/cases"
	"dunlin/templates"
)

// agreeForm answers GET /infants/:ref/agree.
func (s *server) agreeForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	p, err := s.agreePage(c, &o, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// agreePage shows a proposed closing to the person who may agree to it.
func (s *server) agreePage(c Ctx, o *opened, f *form) (*templates.AgreePage, error) {
	k := o.a.Proposed
	if k == nil {
		return nil, cases.Errorf(cases.Refused, "No closing waits for agreement in %s.", o.c.Reference)
	}
	p := &templates.AgreePage{Base: s.base(c, o, "Agree to closing", "infants"), Head: "Agree to close the case of " + shortName(&o.c.Infant) + "?",
		Lead: fmt.Sprintf("Proposed by %s on %s.", k.By, shortDay(k.On)), Action: action(c), Back: "/infants/" + o.c.Reference,
		Supports: supportWords(&o.a), Because: supportBecause(&o.a), Evidence: closingEvidence(&o.c, &o.a, s.protocol()), MayAgree: true}
	p.Proposal = closureFacts(k)
	if d := o.c.DuplicateOf; d != nil {
		other, err := s.otherCase(c, d.Reference)
		if err != nil {
			return nil, err
		}
		p.Head, p.Sides = "Merge "+o.c.Reference+" into "+d.Reference+"?", s.sideBySide(&o.c, other)
		if d.Twins != "" {
			p.Proposal = append(p.Proposal, templates.Fact{Name: "Why not twins", Text: d.Twins})
		}
	}
	switch who := actorOf(c); {
	case !who.May(cases.AgreeClose):
		p.MayAgree, p.WhyNot = false, "A manager agrees to a closing that the evidence does not decide, or sends it back."
	case k.By == who.Name:
		p.MayAgree, p.WhyNot = false, "You proposed this closing. Another person must agree."
	}
	p.Decision = f.group(templates.Choice{ID: "decision", Legend: "Your decision", Down: true, Options: []templates.Option{
		{Value: "agree", Text: "Agree", Sub: agreeEffect(&o.c)}, {Value: "send-back", Text: "Send back", Sub: "The case goes on. Say what is missing."}}})
	p.Reason = f.field(templates.Field{ID: "reason", Label: "What is missing", Hint: "Only when you send it back", Kind: "area", Rows: 2})
	return p, nil
}

// closureFacts are a closure in words.
func closureFacts(k *cases.Closure) []templates.Fact {
	out := []templates.Fact{{Name: "Determination", Text: determinationWord(k.As)}, {Name: "Day of closing", On: date(k.On)}, {Name: "Entered by", Text: k.By}}
	if k.Clinician != "" {
		out = append(out, templates.Fact{Name: "Who decided", Text: k.Clinician})
	}
	if k.Code != "" {
		out = append(out, templates.Fact{Name: "Diagnosis code", Text: k.Code, Note: cases.DiagnosisTitle(k.Code)})
	}
	if k.AgreedBy != "" {
		out = append(out, templates.Fact{Name: "Agreed by", Text: k.AgreedBy})
	}
	if k.Reason != "" {
		out = append(out, templates.Fact{Name: "Reason", Text: k.Reason})
	}
	if k.LookAgain != 0 {
		out = append(out, templates.Fact{Name: "Look again on", On: date(k.LookAgain)})
	}
	return out
}

// agree answers POST /infants/:ref/agree.
func (s *server) agree(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	decision := f.choice("decision", "Select agree or send back", "agree", "send-back")
	reason := f.lines("reason", "What is missing", 500)
	if decision == "send-back" && reason == "" {
		f.fail("reason", "Enter what is missing")
	}
	p, err := s.agreePage(c, &o, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	to := "/infants/" + o.c.Reference
	if !can(c, seeCases) {
		to = homes[userOf(c).Role]
	}
	err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		if decision == "send-back" {
			_, err := s.Desk.SendBack(ctx, actorOf(c), o.c.ID, f.rev(), reason)
			return templates.Notice{Head: "Sent back", Text: o.c.Reference + ". The case goes on."}, err
		}
		_, err := s.Desk.AgreeClosing(ctx, actorOf(c), o.c.ID, f.rev())
		return templates.Notice{Head: "Closing agreed", Text: o.c.Reference + ": " + determinationWord(o.a.Proposed.As) + "."}, err
	})
	return s.refuse(c, f, p, err, sent{"the decision", []labelled{{"decision", "Your decision"}, {"reason", "What is missing"}}, func(string) string { return "reason" }})
}

// reopenForm answers GET /infants/:ref/reopen.
func (s *server) reopenForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	p, err := s.reopenPage(c, &o, s.emptyForm())
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) reopenPage(c Ctx, o *opened, f *form) (*templates.ReopenPage, error) {
	if !o.a.Closed {
		return nil, cases.Errorf(cases.Refused, "%s is not closed.", o.c.Reference)
	}
	p := &templates.ReopenPage{Base: s.base(c, o, "Reopen the case", "infants"), Head: "Reopen the case of " + shortName(&o.c.Infant),
		Lead: fmt.Sprintf("Closed on %s: %s.", shortDay(o.a.ClosedOn), determinationWord(o.a.ClosedAs)), Action: action(c), Back: "/infants/" + o.c.Reference}
	for i := range o.c.Closures {
		if k := &o.c.Closures[i]; k.On == o.a.ClosedOn && k.As == o.a.ClosedAs {
			p.Closing = closureFacts(k)
		}
	}
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Why it is opened again", Kind: "area", Rows: 3})
	if !can(c, seeCases) { // the manager reopens by number, without names
		p.Banner, p.Head, p.Back = nil, "Reopen case "+o.c.Reference, homes[userOf(c).Role]
	}
	return p, nil
}

// reopen answers POST /infants/:ref/reopen.
func (s *server) reopen(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	reason := f.lines("reason", "Why it is opened again", 500)
	if reason == "" {
		f.fail("reason", "Enter why the case is opened again")
	}
	p, err := s.reopenPage(c, &o, f)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, p.Back, func(ctx context.Context) (templates.Notice, error) {
		_, err := s.Desk.Reopen(ctx, actorOf(c), o.c.ID, f.rev(), reason)
		return templates.Notice{Head: "Case reopened", Text: o.c.Reference + "."}, err
	})
	return s.refuse(c, f, p, err, sent{"the reopening", []labelled{{"reason", "Why it is opened again"}}, func(string) string { return "reason" }})
}
