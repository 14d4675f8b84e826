package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// finalStates are those of table 0085 in which a result can be taken over: final,
// corrected, changed to final, and cannot be obtained.
var finalStates = map[string]bool{"F": true, "C": true, "U": true, "X": true}

// sweat decides on a sweat result by itself: what keeps it from going on a case
// whoever the infant is. Faults that were read are reasons already.
func (v *Verdict) sweat(r *Referral) {
	v.Kind = KindResult
	clean := len(v.Reasons) == 0
	v.Reasons = append(v.Reasons, siteLines(r)...)
	held := len(v.Reasons)
	switch {
	case r.WrongPatient:
		v.hold(KindLook, "The laboratory says that a result belongs to another patient (result state W). Ask the laboratory whose it is.")
	case r.Deleted:
		v.hold(KindCorrected, "The laboratory took back a result (result state D). Nothing was changed; a person decides.")
	case r.Preliminary:
		v.hold(KindWaits, "The result is preliminary. More is to come; the case waits for the final one.")
	case len(r.Sites) == 0:
		v.hold(KindLook, "The message speaks of a sweat test and holds no result.")
	}
	for i := range r.Sites {
		s := &r.Sites[i]
		switch {
		case s.Screening:
			v.hold(KindLook, "The value of the "+s.name(i)+" is by a screening method, not the diagnostic chloride.")
		case r.Preliminary || r.Deleted || r.WrongPatient:
		case s.Status == "P", s.Status == "S", s.Status == "R", s.Status == "I":
			v.hold(KindWaits, "The "+s.name(i)+" has no final result yet (state "+s.Status+"). More is to come; the case waits for the final one.")
		case s.Status == "":
			v.hold(KindLook, "The result of the "+s.name(i)+" has no state (OBX-11), so it may not be final. Ask the laboratory.")
		case !finalStates[s.Status]:
			v.hold(KindLook, "The result of the "+s.name(i)+" has the state "+s.Status+" (OBX-11), which is not final. Ask the laboratory.")
		}
	}
	v.result = clean && len(v.Reasons) == held
}

// sweatKnown handles a sweat result about an infant that certainly has a case.
func (p *placer) sweatKnown(it *Item, v *Verdict, item *cases.Item, c cases.Case) error {
	r := &it.Referral
	item.Case, item.Reference = c.ID, c.Reference
	wait := func(top bool, text string) error {
		item.Outcome, item.Top = string(Review), item.Top || top
		item.Reasons = append(item.Reasons, text)
		return nil
	}
	switch closed := p.closed(&c); {
	case !v.result && (r.WrongPatient || r.Deleted):
		return wait(len(c.SweatTests) > 0, "It is about the infant of "+c.Reference+". A value on file may be wrong; compare the tests of the case.")
	case closed:
		return wait(true, "It is about the infant of "+c.Reference+", which is closed. Adding the test reopens the case; a person decides today.")
	case !v.result:
		return wait(false, "It is about the infant of "+c.Reference+".")
	case p.job.doc.Source == "mailbox" && p.unconfirmed(r) != "":
		// Said already: anyone can write a mail, and a value by an unknown hand is no
		// fact. Interfaces and keys show who sends.
		return wait(false, "It is about the infant of "+c.Reference+".")
	case r.Test() != c.TestMessage:
		return wait(false, "Only one of the message and "+c.Reference+" is marked as a test (MSH-11). Ask the laboratory whether the result is real.")
	}
	return p.addSweat(it, item, c, false)
}

// sweatUnknown says why a sweat result is on no case.
func (p *placer) sweatUnknown(item *cases.Item, ms []match) {
	if twins := references(ms, twin); len(twins) > 0 {
		item.Related = append(item.Related, twins...)
		item.Reasons = append(item.Reasons, "It is about the twin of "+strings.Join(twins, " and ")+", and that twin has no case here. Never add it to the twin's.")
		return
	}
	item.Reasons = append(item.Reasons, "No case is known for this infant. Find out who referred it, then open a case or add the result to the right one.")
}

// addSweat puts a sweat result on the case: into the test of its day that waits for
// it, over the value that it corrects, or as a new test. With force a person has
// looked at it, corrected what was sent and named the case; what still cannot be
// recorded is then an error that names the field. Without, it is a reason for a
// person. What was done goes into the item with the revisions of the case, so that
// it can be undone.
func (p *placer) addSweat(it *Item, item *cases.Item, c cases.Case, force bool) error {
	item.Case, item.Reference = c.ID, c.Reference
	now := c.Clone()
	a := sweatAdder{p: p, r: &it.Referral, c: &now, force: force, test: -1}
	a.place()
	if len(a.asks) == 0 {
		a.besides(it)
		a.refused()
	}
	if len(a.asks) > 0 {
		if force {
			return &cases.Error{Kind: cases.Invalid, Field: a.asks[0].Path, Text: "The sweat result cannot be added to " + c.Reference + ".", Faults: a.asks}
		}
		item.Outcome, item.Top = string(Review), item.Top || a.top
		if a.kind != "" {
			item.Kind = a.kind
		}
		item.Reasons = append(item.Reasons, "It is about the infant of "+c.Reference+".")
		for _, f := range a.asks {
			item.Reasons = append(item.Reasons, sentenceOf(f.Reason))
		}
		return nil
	}
	if len(a.done) == 0 {
		item.Outcome, item.Kind, item.Key = string(Duplicate), KindHere, ""
		item.Reasons = append(item.Reasons, "The same result is already on "+c.Reference+".")
		return nil
	}
	return p.putSweat(it, item, c, &a)
}

// putSweat writes the case with the result in it, and tells a person what needs one.
func (p *placer) putSweat(it *Item, item *cases.Item, before cases.Case, a *sweatAdder) error {
	a.read(&before)
	t := &a.c.SweatTests[a.test]
	ev := cases.Event{Kind: "result-attached", Text: fmt.Sprintf("Sweat test of %s, by %s: %s", t.On, it.Label, strings.Join(a.done, ", "))}
	if len(a.fixed) > 0 {
		ev.Kind, ev.Reason = "result-corrected", "corrected by the laboratory"
	}
	now, err := p.finder.put(*a.c, ev)
	if err != nil {
		return err
	}
	item.FromRev, item.ToRev = before.Rev, now.Rev
	item.Outcome, item.Kind = string(Attached), KindResult
	if len(a.fixed) > 0 {
		item.Kind = KindCorrected
	}
	item.Reasons = append(item.Reasons, fmt.Sprintf("Added to the sweat test of %s: %s.", t.On, strings.Join(a.done, ", ")))
	item.Reasons = append(item.Reasons, a.says...)
	return p.tellSweat(item, a)
}

// tellSweat puts further entries in the review list beside the outcome of the item
// itself, where a person must know of it today: a correction, and a reading of the
// laboratory that is not the program's.
func (p *placer) tellSweat(item *cases.Item, a *sweatAdder) error {
	tell := func(what, kind string, top bool, reasons ...string) error {
		more := cases.Item{Document: item.Document, Position: item.Position + ", " + what, Outcome: string(Review), Kind: kind,
			Title: item.Title, Top: top, Due: p.today, Case: item.Case, Reference: item.Reference, Reasons: reasons}
		if !a.force {
			p.also = append(p.also, more) // after the item itself
			return nil
		}
		_, err := p.w.PutItem(more)
		return err
	}
	if len(a.fixed) > 0 {
		texts := append([]string{"The laboratory corrected a result of " + item.Reference + ". The case holds the corrected value, and its history the earlier one."}, a.fixed...)
		if a.moved != "" {
			texts = append(texts, a.moved)
		}
		texts = append(texts, "Whoever was told the earlier value must hear of the new one.")
		if err := tell("correction", KindCorrected, a.moved != "", texts...); err != nil {
			return err
		}
	}
	if d := a.c.SweatTests[a.test].Laboratory.Differs; d != "" && !strings.Contains(a.before, d) {
		return tell("reading", KindLook, false, "The laboratory's reading and the program's are not the same. "+d, "Compare both, and ask the laboratory if need be; the program's protocol decides how the case goes on.")
	}
	return nil
}

// sentenceOf gives a reason a capital letter and a full stop.
func sentenceOf(s string) string {
	s = sentenceCase(s)
	if s != "" && !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}
