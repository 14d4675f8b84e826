package web

import (
	"context"
	"fmt"
	"strconv"

	"dunlin/cases"
	"dunlin/templates"
)

func itoa(n int) string { return strconv.Itoa(n) }

// saving is what a fact form does once it was read.
type saving = func(ctx context.Context, who cases.Actor) (cases.Case, error)

var holdReasons = []word{{"oxygen", "Oxygen"}, {"acute-illness", "Acute illness"}, {"oedema", "Edema"}, {"dehydration", "Dehydration"}, {"steroids", "Steroids"},
	{"skin", "Skin"}, {"implanted-device", "Implanted device"}, {"seizures", "Seizures"}, {"inpatient", "Inpatient"}, {"other", "Other reason"}}

var flagKinds = []word{{"no-voicemail", "No voicemail"}, {"no-mail", "No mail"}, {"custody", "Custody: ask before you call or write"}, {"safety", "Safety: ask before you call"}}

const dayHint = "Like 5 Mar 2026, today or +2d"

// factForms are all fact forms, in the order of their addresses.
var factForms = []factForm{
	{path: "/holds/new", right: cases.PlaceHolds, name: "Place a hold", button: "Place hold", what: "the hold", saved: "Hold placed",
		labels: []labelled{{"reason", "Reason"}, {"from", "From"}, {"until", "First day without it"}, {"look-again", "Ask again on"}, {"note", "Note"}},
		start:  func(e *factEdit) []string { return []string{"from", date(e.today).String()} }, set: setHold, read: readHold},
	{path: "/holds/:n/end", right: cases.PlaceHolds, name: "End a hold", button: "End hold", what: "the end of the hold", saved: "Hold ended",
		labels: []labelled{{"until", "First day without it"}}, start: func(e *factEdit) []string { return []string{"until", date(e.today).String()} }, set: setHoldEnd, read: readHoldEnd},
	{path: "/repeat-order", right: cases.VerifyTests, name: "Order of a repeat", button: "Save order", what: "the order", saved: "Order saved",
		labels: []labelled{{"by", "Ordered by"}}, set: setOrder, read: readOrder},
	{path: "/decline", right: cases.EditIdentity, name: "The family declined", button: "Save", what: "the refusal", saved: "Refusal recorded",
		labels: []labelled{{"on", "Day"}, {"by-whom", "Who declined"}, {"explained-by", "Who explained"}}, start: func(e *factEdit) []string { return []string{"on", date(e.today).String()} }, set: setDecline, read: readDecline},
	{path: "/decline/withdraw", right: cases.EditIdentity, name: "The family changed its mind", button: "The refusal is withdrawn", what: "the change", saved: "Refusal withdrawn", set: setWithdraw, read: readWithdraw},
	{path: "/handover", right: cases.EditIdentity, name: "Hand over", button: "Hand over", what: "the hand-over", saved: "Hand-over recorded",
		labels: []labelled{{"to", "To"}}, set: setHandover, read: readHandover},
	{path: "/handover/accept", right: cases.EditIdentity, name: "Hand-over accepted", button: "Save", what: "the acceptance", saved: "Acceptance recorded",
		labels: []labelled{{"by", "Accepted by"}}, set: setAccept, read: readAccept},
	{path: "/flags/new", right: cases.SetFlags, name: "Contact flag", button: "Set flag", what: "the flag", saved: "Flag set",
		labels: []labelled{{"kind", "Flag"}, {"from", "From"}, {"until", "Until"}, {"note", "Note"}}, set: setFlag, read: readFlag},
	{path: "/notes/new", right: cases.SeeCases, name: "Note", button: "Add note", what: "the note", saved: "Note added",
		labels: []labelled{{"text", "Note"}}, set: setNote, read: readNote},
	{path: "/genotype", right: cases.EnterReports, name: "CFTR report", button: "Save report", what: "the report", saved: "Report saved",
		labels: genotypeLabels(), start: startGenotype, set: setGenotype, read: readGenotype},
	visitsForm, identityForm, familyForm, primaryCareForm, consentForm, withdrawForm, legalHoldForm, legalHoldEndForm, unmergeForm,
}

func setHold(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "Place a hold for "+shortName(&e.c.Infant), "While a hold is open the infant is not ready for a test."
	e.add(p, templates.Choice{ID: "reason", Legend: "Reason", Options: append([]templates.Option{{Text: "Choose a reason"}}, optionsOf(holdReasons)...)},
		templates.Field{ID: "from", Label: "From", Hint: dayHint, Width: "w14"},
		templates.Field{ID: "until", Label: "First day without it", Hint: "Leave empty when nobody knows yet", Optional: true, Width: "w14"},
		templates.Field{ID: "look-again", Label: "Ask again on", Hint: "Left empty: 3 working days after it began", Optional: true, Width: "w14"},
		templates.Field{ID: "note", Label: "Note", Optional: true, Width: "w20"})
	return nil
}

func readHold(s *server, e *factEdit) saving {
	f := e.f
	h := cases.Hold{Reason: f.pick("reason", "Select the reason", valuesOf(holdReasons)...), From: f.needDay("from", "From"), Until: f.day("until", "First day without it"),
		LookAgain: f.day("look-again", "Ask again on"), Note: f.text("note", "Note", 300)}
	if h.From > e.today {
		f.fail("from", "From must be today or in the past")
	}
	if h.Until != 0 && h.Until < h.From {
		f.fail("until", "First day without it must be on or after the day it began")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.PlaceHold(ctx, who, e.c.ID, f.rev(), h)
	}
}

func setHoldEnd(s *server, e *factEdit, p *templates.FactPage) error {
	h := &e.c.Holds[e.n]
	p.Head, p.Lead = "End the hold of "+shortName(&e.c.Infant), sentence(cases.HoldWord(h.Reason))+" since "+shortDay(h.From)+"."
	e.add(p, templates.Field{ID: "until", Label: "First day without it", Hint: dayHint, Width: "w14"})
	return nil
}

func readHoldEnd(s *server, e *factEdit) saving {
	until := e.f.needDay("until", "First day without it")
	if until != 0 && until < e.c.Holds[e.n].From {
		e.f.fail("until", "First day without it must be on or after %s, when the hold began", shortDay(e.c.Holds[e.n].From))
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.EndHold(ctx, who, e.c.ID, e.f.rev(), e.n, until)
	}
}

func setOrder(s *server, e *factEdit, p *templates.FactPage) error {
	if r := e.a.Repeat; r == nil {
		return cases.Errorf(cases.Refused, "No repeat is open for %s.", e.c.Reference)
	}
	p.Head = "Order of a repeat for " + shortName(&e.c.Infant)
	p.Lead = fmt.Sprintf("After the test of %s. The letter about the repeat goes out once a clinician has ordered it.", shortDay(e.a.Repeat.After))
	e.add(p, templates.Field{ID: "by", Label: "Ordered by", Hint: "The clinician's name", Width: "w20", NoSpell: true})
	return nil
}

func readOrder(s *server, e *factEdit) saving {
	by := e.f.need("by", "Ordered by", "Enter the clinician who ordered the repeat", 120)
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.OrderRepeat(ctx, who, e.c.ID, e.f.rev(), by)
	}
}

func setDecline(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "The family of "+shortName(&e.c.Infant)+" declined the test", "Reminders to the family stop. Primary care is still told."
	p.Warn = "Explain what declining means before you record it: " + cautionSaltLoss
	if e.a.PresumptiveCF {
		p.Warn = "Two CF-causing variants are known. A refusal goes to the CF center's clinician and does not close the case. " + cautionSaltLoss
	}
	e.add(p, templates.Field{ID: "on", Label: "Day", Hint: dayHint, Width: "w14"}, templates.Field{ID: "by-whom", Label: "Who declined", Width: "w20", NoSpell: true},
		templates.Field{ID: "explained-by", Label: "Who explained what it means", Width: "w20", NoSpell: true})
	return nil
}

func readDecline(s *server, e *factEdit) saving {
	f := e.f
	x := cases.Declined{On: f.needDay("on", "Day"), ByWhom: f.need("by-whom", "Who declined", "Enter who declined", 120),
		ExplainedBy: f.need("explained-by", "Who explained", "Enter who explained what declining means", 120)}
	if x.On > e.today {
		f.fail("on", "Day must be today or in the past")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.Decline(ctx, who, e.c.ID, f.rev(), x)
	}
}

func setWithdraw(s *server, e *factEdit, p *templates.FactPage) error {
	d := e.c.Declined
	if d == nil || d.WithdrawnOn != 0 {
		return cases.Errorf(cases.Refused, "No refusal is recorded for %s.", e.c.Reference)
	}
	p.Head, p.Lead = "The family of "+shortName(&e.c.Infant)+" changed its mind", "Steps and clocks run again from their original days."
	p.Known = []templates.Fact{{Name: "Declined on", On: date(d.On)}, {Name: "By", Text: d.ByWhom}}
	return nil
}

func readWithdraw(s *server, e *factEdit) saving {
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.WithdrawDecline(ctx, who, e.c.ID, e.f.rev())
	}
}

func setHandover(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "Hand over "+shortName(&e.c.Infant), "The case stays open and on the list until the other program has accepted."
	e.add(p, templates.Field{ID: "to", Label: "To", Hint: "The program or clinic that takes over", Width: "w20", NoSpell: true})
	return nil
}

func readHandover(s *server, e *factEdit) saving {
	to := e.f.need("to", "To", "Enter the program or clinic that takes over", 120)
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.HandOver(ctx, who, e.c.ID, e.f.rev(), to)
	}
}

func setAccept(s *server, e *factEdit, p *templates.FactPage) error {
	h := e.c.Handover
	if h == nil {
		return cases.Errorf(cases.Refused, "No hand-over is recorded for %s.", e.c.Reference)
	}
	p.Head, p.Lead = "Hand-over of "+shortName(&e.c.Infant)+" accepted", "Asked: "+h.To+", on "+shortDay(h.On)+"."
	e.add(p, templates.Field{ID: "by", Label: "Accepted by", Hint: "Name and place of the person who accepted", Width: "w20", NoSpell: true})
	return nil
}

func readAccept(s *server, e *factEdit) saving {
	by := e.f.need("by", "Accepted by", "Enter who accepted", 120)
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.AcceptHandover(ctx, who, e.c.ID, e.f.rev(), by)
	}
}

func setFlag(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "Contact flag for "+shortName(&e.c.Infant), "No letter is made or printed under No mail or Custody."
	if f := flagWords(&e.c, e.today); f != "" {
		p.Known = []templates.Fact{{Name: "In force", Text: f}}
	}
	e.add(p, radios{ID: "kind", Legend: "Flag", Down: true, Options: optionsOf(flagKinds)}, templates.Field{ID: "from", Label: "From", Hint: "Left empty: always", Optional: true, Width: "w14"},
		templates.Field{ID: "until", Label: "Until", Hint: "The first day without it", Optional: true, Width: "w14"}, templates.Field{ID: "note", Label: "Note", Hint: "Who said so", Width: "w20"})
	return nil
}

func readFlag(s *server, e *factEdit) saving {
	f := e.f
	x := cases.Flag{Kind: f.choice("kind", "Select the flag", valuesOf(flagKinds)...), From: f.day("from", "From"), Until: f.day("until", "Until"), Note: f.need("note", "Note", "Enter who said so", 300)}
	if x.Until != 0 && x.Until < x.From {
		f.fail("until", "Until must be on or after the day it begins")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.SetFlag(ctx, who, e.c.ID, f.rev(), x)
	}
}

func setNote(s *server, e *factEdit, p *templates.FactPage) error {
	p.Head, p.Lead = "Add a note about "+shortName(&e.c.Infant), "Notes are kept and never changed."
	e.add(p, templates.Field{ID: "text", Label: "Note", Kind: "area", Rows: 4})
	return nil
}

func readNote(s *server, e *factEdit) saving {
	text := e.f.lines("text", "Note", 2000)
	if text == "" {
		e.f.fail("text", "Enter the note")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.AddNote(ctx, who, e.c.ID, e.f.rev(), text)
	}
}
