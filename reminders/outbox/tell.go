package outbox

import "dunlin/cases"

// tellCase writes on the case that a message went out: in its history, as a contact
// where somebody was asked to call, and, when it brought a letter, in the letter. Without
// tell, or without a case, the note stands in the trail alone.
func tellCase(tx cases.Writer, p *cases.Protocol, o *cases.Outgoing, tell, brought bool) error {
	ev := cases.Event{Kind: "message-sent", Text: "Message " + o.Number + " sent by " + o.By + ": " + cases.LetterKindOf(o.Kind).Word}
	if o.Case == "" || !tell {
		return tx.Note(ev)
	}
	if brought {
		if err := markLetter(tx, o); err != nil {
			return err
		}
	}
	_, err := cases.ChangeIn(tx, p, o.Case, 0, ev, func(c *cases.Case, today cases.Day) error {
		for i := range c.Letters {
			if m := &c.Letters[i]; brought && m.Kind == o.Kind && m.Occasion == o.Occasion {
				m.State, m.MailedOn = "mailed", today
			}
		}
		if k, ok := contact(o, today); ok {
			c.Contacts = append(c.Contacts, k)
		}
		return nil
	})
	return err
}

// contact is the attempt to reach somebody that a message was. A reminder of an
// appointment is none: nobody is sought.
func contact(o *cases.Outgoing, today cases.Day) (cases.Contact, bool) {
	k := cases.Contact{On: today, By: o.By, Used: o.To, Staff: actor.Name, Note: "Message " + o.Number + "."}
	switch {
	case o.ToWhom == cases.ToPrimaryCare:
		k.With, k.Outcome = "primary-care", "mailed"
	case o.ToWhom == cases.ToFamily && o.Kind == cases.MessageNudge:
		k.With, k.Outcome = "family", "left message, no health detail"
	default:
		return k, false
	}
	return k, true
}

// markLetter marks the letter that a message brought as mailed by e-mail.
func markLetter(tx cases.Writer, o *cases.Outgoing) error {
	l, err := tx.Letter(o.Letter)
	if err != nil {
		return err
	}
	l.State, l.By, l.Changed = "mailed", cases.ByEmail, tx.Today()
	l.History = append(l.History, cases.LetterStep{At: tx.Now(), By: actor.Name, State: "mailed", Note: "By e-mail to " + o.To})
	_, err = tx.PutLetter(l)
	return err
}
