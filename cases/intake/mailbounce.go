package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// whom a kind of letter or message goes to, in words.
func whom(kind string) string {
	switch cases.LetterKindOf(kind).To {
	case cases.ToPrimaryCare:
		return "doctor"
	case cases.ToClinic:
		return "test site"
	}
	return "family"
}

func contactWith(kind string) string {
	if cases.LetterKindOf(kind).To == cases.ToPrimaryCare {
		return "primary-care"
	}
	return "family"
}

// bounced marks a message of ours as come back, with the letter that it brought, and
// asks a person to phone or post. Nothing else moves because of it.
func (p *placer) bounced(item *cases.Item, o cases.Outgoing, s subjects, d Delivery) error {
	item.Outcome, item.Kind, item.Due = string(Review), KindFailed, p.nextWorkingDay()
	switch o.State {
	case cases.OutBounced:
		item.Outcome, item.Due = string(Attached), 0
		item.Reasons = append(item.Reasons, "Message "+o.Number+" was marked as come back before.")
		return nil
	case cases.OutSent, cases.OutUncertain, cases.OutSending:
	default:
		item.Reasons = append(item.Reasons, fmt.Sprintf("Message %s stands as %q and was left so, because it was not sent.", o.Number, o.State))
		return nil
	}
	o.Step(p.w.Now(), p.byName(), cases.OutBounced, strings.TrimSpace("Not delivered. "+saysOf(d)))
	if _, err := p.w.PutOutgoing(o); err != nil {
		return err
	}
	l, letter := s.letter()
	c, has := s.one()
	switch {
	case letter && has && l.By == cases.ByEmail: // another letter goes by mail, whatever became of this message
		return p.cameBack(item, l, c, d)
	case !has:
		item.Reasons = append(item.Reasons, "The message has not reached the "+whom(o.Kind)+". Phone.")
		return nil
	case c.Infant.Died != 0 || c.Infant.DiedReported != 0:
		item.Reasons = append(item.Reasons, "The infant of "+c.Reference+" died. Send nothing more to the family before you have looked at the case.")
	case p.closed(&c):
		item.Reasons = append(item.Reasons, c.Reference+" is closed. Look at the case before anything else is sent.")
	default:
		item.Reasons = append(item.Reasons, "The message has not reached the "+whom(o.Kind)+". Phone or post.")
	}
	return p.note(item, c, "Message "+o.Number+" by e-mail came back. "+saysOf(d))
}
