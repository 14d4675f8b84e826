package letters

import (
	"context"
	"errors"
	"iter"

	"dunlin/cases"
)

// cases gives the cases that may owe a letter or a message.
func (p *Press) cases(r cases.Reader, day cases.Day) iter.Seq2[cases.Case, error] {
	return Owing(r, p.Protocol(), day)
}

// Owing gives the cases that may owe a letter or a message on a day: the open ones, and
// those closed lately, for the letter to primary care about the result that the closing
// rests on may still be owed.
func Owing(r cases.Reader, protocol *cases.Protocol, day cases.Day) iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		for c, err := range r.Open() {
			if !yield(c, err) {
				return
			}
		}
		for c, err := range r.ClosedBetween(day-cases.Day(protocol.Mailing.DoctorResultDays+1), day) {
			if !yield(c, err) {
				return
			}
		}
	}
}

// hold holds what the mere passing of time has overtaken, such as the letter of an
// appointment whose day has come, and finds what it let go again, such as a letter that
// a flag had stopped. Changes of a case see to its letters themselves.
func (p *Press) hold(ctx context.Context, stale []cases.ID) (n int, err error) {
	for _, id := range stale {
		err := p.Store.Update(ctx, actor, func(w cases.Writer) error {
			c, err := w.Case(id)
			if err != nil {
				return err
			}
			c = c.Clone()
			calls, err := p.holdCalls(w, &c)
			if err != nil {
				return err
			}
			if !calls && !p.Protocol().LettersStale(&c, w.Today()) {
				return errNotDue
			}
			if err := cases.HoldLetters(w, p.Protocol(), &c); err != nil {
				return err
			}
			_, err = w.PutCase(c, cases.Event{Kind: "letter-held", Text: "Letters looked at again: time has changed what may go"})
			return err
		})
		switch k := cases.KindOf(err); {
		case err == nil:
			n++
		case errors.Is(err, errNotDue):
		case k == cases.Invalid || k == cases.Refused: // the case cannot be written now; printing refuses the letter
		default:
			return n, err
		}
	}
	return n, nil
}

// message is one message owed, with the case as it was read.
type message struct {
	c   cases.Case
	due cases.MessageDue
}

// queue puts the messages that are due into the outbox, each once, in the transaction
// that writes it on the case. Sending is the outbox's.
func (p *Press) queue(ctx context.Context, list []message, day cases.Day, tally *Tally) error {
	for i := range list {
		m := &list[i]
		out, err := p.word(m)
		if err != nil {
			tally.SetAside = append(tally.SetAside, m.aside(err.Error()))
			continue
		}
		err = p.queueOne(ctx, m, out, day)
		switch kind := cases.KindOf(err); {
		case err == nil:
			tally.Queued++
		case errors.Is(err, errNotDue):
		case kind == cases.Conflict:
			tally.Conflicts = append(tally.Conflicts, m.aside("the case was changed while the message was made"))
		case kind == cases.Refused || kind == cases.Invalid:
			tally.SetAside = append(tally.SetAside, m.aside(err.Error()))
		default:
			return err
		}
	}
	return nil
}

// aside says of a message why it is not queued.
func (m *message) aside(why string) SetAside {
	return SetAside{Case: m.c.ID, Reference: m.c.Reference, Kind: m.due.Kind, Occasion: m.due.Occasion, By: m.due.By, Reason: why}
}

// word words a message that is due.
func (p *Press) word(m *message) (cases.Outgoing, error) {
	out, err := p.Message(&m.c, m.due)
	out.Kind, out.Occasion, out.By, out.ToWhom = m.due.Kind, m.due.Occasion, m.due.By, cases.ToFamily
	return out, err
}

func (p *Press) queueOne(ctx context.Context, m *message, out cases.Outgoing, day cases.Day) error {
	return p.Store.Update(ctx, actor, func(w cases.Writer) error {
		c, err := w.Case(m.c.ID)
		if err != nil {
			return err
		}
		due := false
		for _, d := range p.Protocol().Assess(&c, day).MessagesDue {
			due = due || d.Kind == m.due.Kind && d.Occasion == m.due.Occasion && d.By == m.due.By
		}
		for i := range c.Messages { // also one of a later day: the clock may have been set back
			due = due && (c.Messages[i].Kind != m.due.Kind || c.Messages[i].Occasion != m.due.Occasion)
		}
		if !due {
			return errNotDue
		}
		if err := p.mayCall(w, &c, m.due.Kind, m.due.Occasion); err != nil {
			return err
		}
		c = c.Clone()
		kept, err := cases.QueueMessage(w, p.Protocol(), &c, out)
		if err != nil {
			return err
		}
		c.Messages = append(c.Messages, cases.MessageMade{Kind: kept.Kind, Occasion: kept.Occasion, By: kept.By, QueuedOn: day, Number: kept.Number})
		_, err = w.PutCase(c, cases.Event{Kind: "message-queued", Text: "Message queued: " + kept.Kind + ", by " + kept.By + ", number " + kept.Number})
		return err
	})
}

// along queues the e-mail to primary care that goes with a letter, in the letter's own
// transaction. Where it cannot be addressed the letter goes alone.
func (p *Press) along(w cases.Writer, c *cases.Case, l *cases.Letter) error {
	if p.Along == nil || cases.LetterKindOf(l.Kind).To != cases.ToPrimaryCare {
		return nil
	}
	out, ok := p.Along(c, l)
	if !ok {
		return nil
	}
	out.Letter, out.Kind, out.Occasion, out.By, out.ToWhom = l.ID, l.Kind, l.Occasion, cases.ByEmail, cases.ToPrimaryCare
	_, err := cases.QueueMessage(w, p.Protocol(), c, out)
	if k := cases.KindOf(err); err != nil && (k == cases.Refused || k == cases.Invalid || k == cases.Conflict) {
		return nil
	}
	return err
}
