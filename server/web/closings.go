package web

import (
	"context"
	"fmt"
	"net/http"

	"dunlin/cases"
	"dunlin/templates"
)

// closeForm answers GET /infants/:ref/close.
func (s *server) closeForm(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	if err := s.notClosed(&o); err != nil {
		return err
	}
	f := s.emptyForm("on", date(o.today).String())
	if o.a.Supports == cases.SupCRMS {
		f.values.Set("look-again", date(s.protocol().NextRetest(&o.c, o.today)).String())
	}
	return s.render(c, http.StatusOK, s.closePage(c, &o, f))
}

// notClosed refuses the form of closing for a case that is closed or proposed.
func (s *server) notClosed(o *opened) error {
	switch {
	case o.a.Closed:
		return cases.Errorf(cases.Refused, "The case is closed already: %s on %s.", determinationWord(o.a.ClosedAs), shortDay(o.a.ClosedOn))
	case o.a.Proposed != nil:
		return cases.Errorf(cases.Refused, "Closing as %s is proposed already by %s. It waits until another person agrees or sends it back.", determinationWord(o.a.Proposed.As), o.a.Proposed.By)
	}
	return nil
}

// closePage sets out the form of closing with what was typed.
func (s *server) closePage(c Ctx, o *opened, f *form) *templates.ClosePage {
	name, alone := shortName(&o.c.Infant), actorOf(c).May(cases.CloseCases)
	p := &templates.ClosePage{Base: s.base(c, o, "Close the case", "infants"), Head: "Close the case of " + name,
		Lead:   fmt.Sprintf("%s. %s old. Referred %s.", templates.Count(len(o.a.Tests), "sweat test", "sweat tests"), templates.Age(ageOn(&o.c.Infant, o.today)), shortDay(o.c.Referral.On)),
		Action: action(c), Back: "/infants/" + o.c.Reference, Supports: supportWords(&o.a), Because: supportBecause(&o.a),
		Evidence: closingEvidence(&o.c, &o.a, s.protocol()), Button: "Close or propose", Effects: s.closingEffects(o),
		Rights: "What the evidence supports closes at once, with the clinician named. Anything else, and Lost to follow-up and Referred in error always, is a proposal that another person must agree to."}
	if !alone {
		p.Button = "Propose closing"
		p.Rights = "You may propose. What the evidence supports is closed by a coordinator, with the deciding clinician named; another person must agree to anything else."
	}
	as := templates.Choice{ID: "as", Legend: "Determination", Down: true, Hint: "Only what the evidence supports closes at once. Any other choice is a proposal, with a reason, that another person must agree to."}
	for _, d := range determinations {
		state := ""
		if s.protocol().StandsAlone(&o.c, d.As, o.today) {
			state = "The evidence supports this. "
		} else if o.a.Supports.HasWord(d.As) {
			state = "The evidence supports this; another person must agree. "
		}
		as.Options = append(as.Options, templates.Option{Value: d.As, Text: determinationWord(d.As), Sub: state + d.Needs})
	}
	p.As = f.group(as)
	p.On = f.field(templates.Field{ID: "on", Label: "Day of closing", Hint: "Like 5 Mar 2026 or today", Width: "w14"})
	p.Decided = f.field(templates.Field{ID: "clinician", Label: "Who decided", Hint: "The clinician, for a known outcome", Width: "w20", NoSpell: true})
	p.Code = f.group(diagnosisChoice())
	p.Reason = f.field(templates.Field{ID: "reason", Label: "Reason", Hint: "What the decision rests on; always for a proposal", Kind: "area", Rows: 3})
	if o.a.PresumptiveCF {
		p.Notices = append(p.Notices, templates.Notice{Kind: "late", Text: cautionTwoVariants})
	}
	if len(o.a.Tests) > 0 && !o.a.Supports.Has(cases.SupCF) {
		p.Notices = append(p.Notices, templates.Notice{Kind: "warn", Text: cautionUnderSixty})
	}
	if open := openQuestion(&o.a); open != "" {
		p.Notices = append(p.Notices, templates.Notice{Kind: "late", Head: "Not settled.", Text: open + " Settle it before you close, or say in the reason why not."})
	}
	if text := letterWarning(o); text != "" {
		p.Notices = append(p.Notices, templates.Notice{Kind: "warn", Head: "Not mailed.", Text: text})
	}
	p.LookAgain = f.field(templates.Field{ID: "look-again", Label: "Look again on", Hint: s.lookAgainHint(o), Width: "w14"})
	return p
}

// openQuestion says what a test leaves open though the evidence supports something.
func openQuestion(a *cases.Assessment) string {
	for i := range a.Tests {
		if a.Tests[i].Outcome == cases.Unverified {
			return "A chloride value is not plausible and nobody has checked it."
		}
	}
	if n := len(a.Tests); n > 0 {
		switch a.Tests[n-1].Outcome {
		case cases.ArmsDisagree:
			return "The arms of the last test disagree and nobody has checked them."
		case cases.NotResulted:
			return "The last test has no result yet."
		}
	}
	if a.Actions.Has(cases.ActConfirmIdentity) {
		return "The last test does not fit what is known, and nobody has confirmed whose sample it was."
	}
	return ""
}

// lookAgainHint offers the days of the protocol that are still ahead.
func (s *server) lookAgainHint(o *opened) string {
	p := s.protocol()
	return fmt.Sprintf("For Lost to follow-up and CRMS/CFSPID. By the protocol: %s for lost, %s for CRMS/CFSPID",
		lookDay(o, p.LostLookMonths), orNone(p.NextRetest(&o.c, o.today)))
}

// lookDay is the first birthday in months that lies ahead.
func lookDay(o *opened, months []int) string {
	for _, m := range months {
		if d := o.c.Infant.Born.AddMonths(m); d > o.today {
			return shortDay(d)
		}
	}
	return orNone(0)
}

func orNone(d cases.Day) string {
	if d == 0 {
		return "none left"
	}
	return shortDay(d)
}

// closingEffects says what closing does.
func (s *server) closingEffects(o *opened) []string {
	out := letterEffects(o)
	if p := placesOf(&o.c, o.today); p.ahead >= 0 {
		out = append(out, "A test is booked for "+s.bookingWords(&o.c.Bookings[p.ahead])+". Cancel it, and tell the site.")
	}
	if o.a.Clocks.PrimaryCareTold.MetOn == 0 {
		out = append(out, "Primary care has not been told. Tell them first, or write down why not.")
	}
	return append(out, "The case can be reopened at any time. A new test or report reopens it by itself.")
}

// closeCase answers POST /infants/:ref/close.
func (s *server) closeCase(c Ctx) error {
	o, err := s.load(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	if f.typed("do") == "back" {
		return s.render(c, http.StatusOK, s.closePage(c, &o, f))
	}
	k := f.readClosure(s, &o, actorOf(c))
	if !f.ok() {
		if f.typed("confirmed") == "died" {
			return s.invalid(c, s.diedPage(c, &o, f), f.problems)
		}
		return s.invalid(c, s.closePage(c, &o, f), f.problems)
	}
	if k.As == "died" {
		return s.closeDied(c, &o, f, k)
	}
	p := s.closePage(c, &o, f)
	err = s.submit(c, f, "/infants/"+o.c.Reference, func(ctx context.Context) (templates.Notice, error) {
		x, err := s.Desk.Close(ctx, actorOf(c), o.c.ID, f.rev(), k)
		return s.closedNotice(&x, k), err
	})
	return s.refuse(c, f, p, err, sent{"the closing", closingLabels, closingField})
}

// closedNotice says whether the case is closed now or waits for agreement.
func (s *server) closedNotice(x *cases.Case, k cases.Closure) templates.Notice {
	a := s.protocol().Assess(x, s.today())
	n := templates.Notice{Head: "Case closed", Text: fmt.Sprintf("%s, %s: %s.", infantName(&x.Infant), x.Reference, determinationWord(k.As))}
	if !a.Closed {
		n.Head, n.Text = "Closing proposed", n.Text+" Another person must agree. Until then the case keeps its step and its place on the list."
	}
	return n
}

var closingLabels = []labelled{{"as", "Determination"}, {"on", "Day of closing"}, {"clinician", "Who decided"}, {"diagnosis", "Diagnosis code"}, {"reason", "Reason"}, {"look-again", "Look again on"}}

func closingField(path string) string {
	switch lastPart(path) {
	case "clinician", "reason", "on":
		return lastPart(path)
	case "look_again":
		return "look-again"
	case "diagnosis_code":
		return "diagnosis"
	}
	return "as-0"
}

// readClosure reads the form of closing.
func (f *form) readClosure(s *server, o *opened, who cases.Actor) cases.Closure {
	known := make([]string, len(determinations))
	for i, d := range determinations {
		known[i] = d.As
	}
	k := cases.Closure{As: f.choice("as", "Select the determination", known...), On: f.needDay("on", "Day of closing")}
	k.Clinician = f.text("clinician", "Who decided", 120)
	k.Reason = f.lines("reason", "Reason", 1000)
	k.LookAgain = f.day("look-again", "Look again on")
	k.Code = f.diagnosis(k.As)
	switch {
	case k.On > o.today:
		f.fail("on", "Day of closing must be today or in the past")
	case k.On != 0 && k.On < max(o.c.Referral.On, o.c.Infant.Born):
		f.fail("on", "Day of closing must be on or after %s, the referral", shortDay(max(o.c.Referral.On, o.c.Infant.Born)))
	}
	if !f.ok() || k.As == "" {
		return k
	}
	alone := s.protocol().StandsAlone(&o.c, k.As, k.On)
	if cases.KnownOutcome(k.As) && k.Clinician == "" {
		f.fail("clinician", "Enter who decided: the clinician who made the determination")
	}
	if !alone && k.Reason == "" && k.As != "died" {
		f.fail("reason", "Enter the reason. The evidence does not decide this alone, so another person must agree")
	}
	if alone && !who.May(cases.CloseCases) {
		f.failAt("as", "as-0", "%s is supported by the evidence, so a coordinator closes with it. Tell a coordinator who decided", determinationWord(k.As))
	}
	switch needs := k.As == "lost" || k.As == "crms-cfspid"; {
	case needs && k.LookAgain == 0:
		f.fail("look-again", "Enter the day to look again")
	case needs && k.LookAgain <= max(k.On, o.today):
		f.fail("look-again", "Look again on must be a day ahead")
	case !needs:
		k.LookAgain = 0
	}
	return k
}

// closeDied asks once more before a case closes because the infant died, then
// records the death and closes.
func (s *server) closeDied(c Ctx, o *opened, f *form, k cases.Closure) error {
	if f.typed("confirmed") != "died" {
		if o.c.Infant.Died != 0 {
			f.values.Set("died", date(o.c.Infant.Died).String())
		}
		return s.render(c, http.StatusOK, s.diedPage(c, o, f))
	}
	died := f.needDay("died", "Day of death")
	source := f.need("source", "Who told the program", "Enter who told the program, and how", 200)
	switch {
	case died > o.today:
		f.fail("died", "Day of death must be today or in the past")
	case died != 0 && died < o.c.Infant.Born:
		f.fail("died", "Day of death must be on or after %s, the birth date", shortDay(o.c.Infant.Born))
	}
	p := s.diedPage(c, o, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	if k.Reason == "" {
		k.Reason = "Told by: " + source
	}
	k.On = max(k.On, died)
	err := s.submit(c, f, "/infants/"+o.c.Reference, func(ctx context.Context) (templates.Notice, error) {
		x, err := s.Desk.RecordDeath(ctx, actorOf(c), o.c.ID, f.rev(), died, source)
		if err != nil {
			return templates.Notice{}, err
		}
		n := templates.Notice{Head: "Death recorded", Text: fmt.Sprintf("%s, %s. All letters stop.", infantName(&x.Infant), x.Reference)}
		if !actorOf(c).May(cases.CloseCases) {
			n.Text += " A coordinator closes the case."
			return n, nil
		}
		if x, err = s.Desk.Close(afterOnce(ctx), actorOf(c), x.ID, x.Rev, k); err != nil {
			n.Kind, n.Text = "warn", n.Text+" The case is not closed yet: "+or(textOf(err), "try again")
			return n, nil
		}
		return s.closedNotice(&x, k), nil
	})
	return s.refuse(c, f, p, err, sent{"the death", append(closingLabels, labelled{"died", "Day of death"}, labelled{"source", "Who told the program"}), func(path string) string {
		if lastPart(path) == "died" {
			return "died"
		}
		return ""
	}})
}

// diedPage is the stop page before a death is recorded.
func (s *server) diedPage(c Ctx, o *opened, f *form) *templates.DiedPage {
	name := shortName(&o.c.Infant)
	p := &templates.DiedPage{Base: s.base(c, o, "Stop and check", "infants"), Head: "Record that " + name + " died?", Action: action(c), Button: "Record the death and close",
		Facts:   []templates.Fact{{Name: "Infant", Text: infantName(&o.c.Infant)}, {Name: "Born", On: date(o.c.Infant.Born)}, {Name: "Case", Text: o.c.Reference}},
		Letters: "All letters and reminders to this family about this infant stop at once."}
	if o.c.Family != nil && o.c.Family.Mother != "" {
		p.Facts = append(p.Facts, templates.Fact{Name: "Mother", Text: o.c.Family.Mother})
	}
	for i := range o.siblings {
		p.Siblings += fmt.Sprintf("%s, %s, stays open. Check it is not that infant, and speak with the family before any letter about it. ", infantName(&o.siblings[i].Infant), o.siblings[i].Reference)
	}
	if !actorOf(c).May(cases.CloseCases) {
		p.Button = "Record the death"
	}
	p.On = f.field(templates.Field{ID: "died", Label: "Day of death", Hint: "Like 5 Mar 2026", Width: "w14"})
	p.Source = f.field(templates.Field{ID: "source", Label: "Who told the program, and how?", Width: "w20"})
	for _, l := range closingLabels {
		p.Kept = append(p.Kept, templates.Hidden{Name: l.name, Value: f.typed(l.name)})
	}
	return p
}
