package cases

import (
	"context"
	"slices"
	"strings"
)

// ReleaseLetter lets one letter go out that waits for a named person: one held while CF
// is in question, or one that says a result. Of the latter kind the evidence must
// support it on this day, and the release names who answers for it and what that
// person is licensed as. Without By it is the actor.
func (d *Desk) ReleaseLetter(ctx context.Context, a Actor, id ID, rev Rev, r Release) (Case, error) {
	if r.By == "" {
		r.By = a.Name
	}
	ev := Event{Kind: "letter-released", Text: "Letter released by " + r.By + ": " + LetterKindOf(r.Kind).Word}
	return d.Change(ctx, a, SendLetters, id, rev, ev, func(c *Case, today Day) error {
		if LetterKindOf(r.Kind).Released {
			s := d.protocol.derive(c, today)
			switch {
			case strings.TrimSpace(r.Licence) == "":
				return FieldError("letter_releases.licence", "Enter who releases the result and what that person is licensed as")
			case s.otherStop(r.Kind) != "":
				return Errorf(Refused, "The letter of %s cannot be released: %s.", c.Reference, s.otherStop(r.Kind))
			case s.resultKnown(r.Kind) == 0:
				return Errorf(Refused, "The letter of %s cannot be released: the recorded evidence does not support it.", c.Reference)
			}
			if r.Occasion == "" {
				r.Occasion = testOccasion(s.e.graded.Test)
			}
		}
		r.On = today
		c.Releases = append(c.Releases, r)
		return nil
	})
}

// LetterChange is what became of letters.
type LetterChange struct {
	State    string // one of the states of Letter
	On       Day    // the day it happened; 0: today. Of a mailing, the day of mailing
	Note     string // as typed, such as what the envelope says
	Run      string // of a print run
	Tracking string // number of a certified letter
	Browser  bool   // printed from the browser
}

// letterFrom says from which states a letter may come into a state. A letter that was
// mailed never returns to be printed.
var letterFrom = map[string][]string{
	"to-print":   {"to-print", "printed", "held"},
	"printed":    {"to-print", "printed"},
	"held":       {"to-print", "printed", "held"},
	"mailed":     {"to-print", "printed", "held", "mailed"},
	"came-back":  {"mailed", "unclaimed", "refused", "came-back"},
	"answered":   {"mailed", "signed-for", "answered"},
	"signed-for": {"mailed", "signed-for"},
	"refused":    {"mailed", "refused"},
	"unclaimed":  {"mailed", "unclaimed"},
}

// MarkLetters is ChangeLetters with a state, a note and the number of a print run.
func (d *Desk) MarkLetters(ctx context.Context, a Actor, ids []string, state, note, run string) error {
	return d.ChangeLetters(ctx, a, ids, LetterChange{State: state, Note: note, Run: run})
}

// ChangeLetters moves letters to a state, in the store and in their cases, all or none,
// each with a line in its history. Mailing is logged as a contact; a letter that comes
// back marks the address on it as bad and turns that contact into one that came back,
// so that it does not count as an attempt; what became of a certified letter is written
// on its contact. Marking a letter twice with the same state changes nothing.
func (d *Desk) ChangeLetters(ctx context.Context, a Actor, ids []string, x LetterChange) error {
	if err := a.need(SendLetters); err != nil {
		return err
	}
	if letterFrom[x.State] == nil {
		return FieldError("state", "There is no such state of a letter: %s", x.State)
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		for _, id := range ids {
			if err := d.changeLetter(w, a, id, x); err != nil {
				return err
			}
		}
		return nil
	})
}

func (d *Desk) changeLetter(w Writer, a Actor, id string, x LetterChange) error {
	l, err := w.Letter(id)
	if err != nil {
		return err
	}
	if x.On == 0 {
		x.On = w.Today()
	}
	if err := d.mayChange(w, &l, &x); err != nil {
		return err
	}
	if l.State == x.State && x.State != "printed" && x.State != "held" {
		return nil
	}
	l.Changed = x.On
	l.Step(w.Now(), a.Name, x.State, x.Note)
	if x.Run != "" {
		l.PrintRun, l.Browser = x.Run, false
	} else if x.Browser {
		l.PrintRun, l.Browser = "", true
	}
	if x.Tracking != "" {
		l.Tracking = x.Tracking
	}
	if _, err := w.PutLetter(l); err != nil {
		return err
	}
	ev := Event{Kind: "letter-" + x.State, Text: "Letter " + l.Number + " " + x.State, Reason: x.Note}
	if l.Case == "" {
		return w.Note(ev)
	}
	_, err = ChangeIn(w, d.protocol, l.Case, 0, ev, func(c *Case, _ Day) error {
		mailed := Day(0)
		if x.State == "mailed" {
			mailed = x.On
		}
		c.markLetter(&l, mailed)
		c.logLetter(&l, &x, a.Name)
		return nil
	})
	return err
}

// mayChange refuses a change that the letter's state does not allow, and to print, mail
// or bring back a letter that must not go out.
func (d *Desk) mayChange(w Writer, l *Letter, x *LetterChange) error {
	k := LetterKindOf(l.Kind)
	switch {
	case !slices.Contains(letterFrom[x.State], l.State):
		return Errorf(Refused, "Letter %s is %s, so it cannot be marked as %s. Somebody may have marked it already.", l.Number, l.State, x.State)
	case x.On > w.Today() || x.On < l.MadeOn:
		return FieldError("on", "The day must lie between the day the letter was made, %s, and today", Say(l.MadeOn))
	case (x.State == "signed-for" || x.State == "refused" || x.State == "unclaimed") && !k.Certified && l.By != "certified-letter":
		return Errorf(Refused, "Letter %s was not sent by certified mail.", l.Number)
	}
	if x.State != "printed" && x.State != "to-print" && x.State != "mailed" {
		return nil
	}
	if l.Case == "" {
		return mayList(w, l, x)
	}
	c, err := w.Case(l.Case)
	if err != nil {
		return err
	}
	s := d.protocol.derive(&c, w.Today())
	if x.State == "mailed" { // it has left, or is about to
		why := s.letterStop(l.Kind, l.Occasion)
		if (why != "" || l.State == "held") && x.Note == "" {
			return FieldError("note", "Letter %s of %s is not to go out (%s). Take it out, or enter when it had left", l.Number, c.Reference, orElse(why, "it is held"))
		}
		return nil
	}
	why := s.goStop(l.Kind, l.Occasion)
	switch {
	case why != "":
		return Errorf(Refused, "Letter %s of %s must not go out: %s.", l.Number, c.Reference, why)
	case l.State == "held" && c.hasAddress(k.To) && c.addressOn(l) == nil:
		return Errorf(Refused, "Letter %s of %s is addressed to a place that is not on record any more. The next run makes it again.", l.Number, c.Reference)
	case l.State == "held" && c.madeAgain(l):
		return Errorf(Refused, "Letter %s of %s was held because of what changed. The next run makes it again, for what is on record now.", l.Number, c.Reference)
	}
	return nil
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// logLetter writes on the contacts what became of a letter.
func (c *Case) logLetter(l *Letter, x *LetterChange, by string) {
	outcome := map[string]string{"mailed": "mailed", "came-back": "came back", "signed-for": "signed for", "refused": "refused", "unclaimed": "not collected"}[x.State]
	if outcome == "" {
		return
	}
	k := LetterKindOf(l.Kind)
	mark := "Letter " + l.Number + ", " + k.Word
	at := slices.IndexFunc(c.Contacts, func(t Contact) bool { return strings.HasPrefix(t.Note, mark) })
	if at < 0 {
		at = len(c.Contacts)
		c.Contacts = append(c.Contacts, Contact{On: x.On, With: ToFamily, By: "letter", Staff: by, Note: mark})
		n := &c.Contacts[at]
		if k.To == ToPrimaryCare {
			n.With = ToPrimaryCare
		}
		if k.Certified || l.By == "certified-letter" {
			n.By = "certified-letter"
		} else if l.By == ByEmail {
			n.By = ByEmail
		}
	}
	n := &c.Contacts[at]
	n.Outcome = outcome
	if x.Tracking != "" {
		n.Note += ". Tracking number " + x.Tracking
	}
	if x.Note != "" {
		n.Note += ". " + x.Note
	}
	if x.State == "came-back" {
		c.badAddress(l, k.To)
	}
}

// badAddress marks the address that stands on a letter as bad, where it is still on
// record. One changed meanwhile is left alone.
func (c *Case) badAddress(l *Letter, to string) {
	sent := sentTo(l)
	mark := func(a *Address) {
		if a != nil && a.isOn(sent) {
			a.Bad = true
		}
	}
	switch {
	case to == ToPrimaryCare && c.PrimaryCare != nil:
		mark(c.PrimaryCare.Address)
	case to == ToFamily && c.Family != nil:
		for i := range c.Family.Guardians {
			mark(c.Family.Guardians[i].Address)
		}
	}
}

// foldAddress compares addresses by their letters and digits.
func foldAddress(s string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == ',' || r == '.' || r == '\t' {
			return -1
		}
		return r
	}, strings.ToLower(s))
}

// EndFlag says from which day flag i is over, and why: a flag that stopped mail was
// somebody's word, so ending it is too.
func (d *Desk) EndFlag(ctx context.Context, a Actor, id ID, rev Rev, i int, until Day, reason string) (Case, error) {
	return d.Change(ctx, a, SetFlags, id, rev, Event{Kind: "flag-ended", Text: "Flag ended", Reason: reason}, func(c *Case, today Day) error {
		if i < 0 || i >= len(c.Flags) {
			return Errorf(NotFound, "There is no such flag.")
		}
		if reason == "" {
			return FieldError("reason", "Enter why the flag ends")
		}
		if until == 0 {
			until = today
		}
		c.Flags[i].Until = until
		return nil
	})
}
