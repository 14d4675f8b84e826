package cases

import "context"

// What a person may decide about a message that did not simply go out.
const (
	SendAgain   = "again" // queue it once more
	TakeAsSent  = "sent"  // it is known to have arrived
	DropMessage = "drop"  // it does not go
)

// DecideMessage records a person's word on a message that is held, failed, uncertain or
// bounced, or drops one that is queued. A reason is asked for. A message is queued again
// only when it may go by the case as it is now, to the address that is on record now;
// the decision is refused otherwise, with why.
func (d *Desk) DecideMessage(ctx context.Context, a Actor, id, as, reason string) error {
	if err := a.need(SendLetters); err != nil {
		return err
	}
	if reason == "" {
		return FieldError("reason", "Enter how you know, or why")
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		o, err := w.Outgoing(id)
		if err != nil {
			return err
		}
		switch o.State {
		case OutHeld, OutFailed, OutUncertain, OutBounced:
		case OutQueued:
			if as != DropMessage {
				return Errorf(Refused, "Message %s waits to be sent; nothing needs to be decided.", o.Number)
			}
		default:
			return Errorf(Refused, "Message %s stands as %s; nothing can be decided about it.", o.Number, o.State)
		}
		if err := d.decide(w, a, &o, as, reason); err != nil {
			return err
		}
		if _, err := w.PutOutgoing(o); err != nil {
			return err
		}
		return w.Note(Event{Kind: "message-" + o.State, Text: "Message " + o.Number + ": " + o.State, Reason: reason})
	})
}

func (d *Desk) decide(w Writer, a Actor, o *Outgoing, as, reason string) error {
	switch as {
	case DropMessage:
		o.Step(w.Now(), a.Name, OutDropped, reason)
	case TakeAsSent:
		if o.State != OutUncertain {
			return Errorf(Refused, "Only an uncertain message can be taken as sent; message %s stands as %s.", o.Number, o.State)
		}
		o.Step(w.Now(), a.Name, OutSent, reason)
	case SendAgain:
		if err := d.mayGoAgain(w, o); err != nil {
			return err
		}
		if o.State == OutUncertain || o.State == OutBounced {
			o.Again = a.Name
		}
		o.Queued, o.Next = w.Now(), w.Now()
		o.Step(w.Now(), a.Name, OutQueued, reason)
	default:
		return FieldError("as", "must be again, sent or drop")
	}
	return nil
}

// mayGoAgain takes the address on record now and asks whether the message may go.
func (d *Desk) mayGoAgain(w Writer, o *Outgoing) error {
	if o.Case == "" {
		return nil
	}
	c, err := w.Case(o.Case)
	if err != nil {
		return err
	}
	to, why := c.messageTo(o.ToWhom, o.By)
	if why == "" {
		fresh := *o
		fresh.To, fresh.Queued = to, w.Now()
		if why = d.protocol.MessageStop(&c, &fresh, w.Today()); why == "" {
			o.To = to
			return nil
		}
	}
	return Errorf(Refused, "Message %s about %s must not go out: %s.", o.Number, c.Reference, why)
}
