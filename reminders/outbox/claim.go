package outbox

import (
	"context"
	"errors"
	"fmt"
	"time"

	"dunlin/cases"
)

// stale is how long a message can stand as being sent while its worker lives: longer
// than every wait of a channel together.
const stale = 15 * time.Minute

// recover marks what was being sent when a worker ended as uncertain. It is never sent
// again by itself.
func (w *Worker) recover(ctx context.Context, t *Tally) error {
	var left []string
	err := w.o.Store.View(ctx, func(r cases.Reader) error {
		left = nil
		for o, err := range r.Outgoings(cases.OutSending) {
			if err != nil {
				return err
			}
			if w.left(&o, r.Now()) {
				left = append(left, o.ID)
			}
		}
		return nil
	})
	if err != nil || len(left) == 0 {
		return err
	}
	return w.o.Store.Update(ctx, actor, func(tx cases.Writer) error {
		for _, id := range left {
			o, err := tx.Outgoing(id)
			if err != nil {
				return err
			}
			if o.State != cases.OutSending || !w.left(&o, tx.Now()) {
				continue
			}
			o.Step(tx.Now(), actor.Name, cases.OutUncertain, "The program stopped while this message was being sent. It may or may not have gone out. Ask whether it came before it is sent again.")
			if err := put(tx, o); err != nil {
				return err
			}
			t.Uncertain++
		}
		return nil
	})
}

// left tells whether nobody is sending a message any more: it was begun before this
// worker, or longer ago than sending takes, by a clock that may have been set.
func (w *Worker) left(o *cases.Outgoing, now time.Time) bool {
	return o.Changed.Before(w.began) || now.Sub(o.Changed).Abs() > stale
}

// claim takes a message for this worker: it is read again with its case, and written
// down as being sent before anything leaves. It is nil when there is nothing to send.
func (w *Worker) claim(ctx context.Context, id string, t *Tally) (p *Parcel, err error) {
	held := false
	var letter cases.Letter
	err = w.o.Store.Update(ctx, actor, func(tx cases.Writer) error {
		p, held, letter = nil, false, cases.Letter{}
		o, err := tx.Outgoing(id)
		if err != nil {
			return err
		}
		if o.State != cases.OutQueued || !ripe(&o, tx.Now()) || w.tooEarly(&o, tx.Now()) {
			return nil // another worker has it, or it was held
		}
		why, err := w.stopped(tx, &o, &letter)
		if err != nil {
			return err
		}
		if why != "" {
			held = true
			o.Step(tx.Now(), actor.Name, cases.OutHeld, "Held: "+why+".")
			return put(tx, o)
		}
		if at, known := w.o.Journal.sent(&o); known && o.Again == "" {
			o.Step(tx.Now(), actor.Name, cases.OutUncertain, fmt.Sprintf("The journal beside the store says that this message went out on %s, of which the store knows nothing: it was restored from a backup. Ask whether it came before it is sent again.", at.Format("2 January 2006, 15:04")))
			t.Uncertain++
			return put(tx, o)
		}
		o.Tries++
		o.Step(tx.Now(), actor.Name, cases.OutSending, "")
		p = &Parcel{Outgoing: o, Attempt: o.Tries, ID: messageID(&o, w.o.Domain)}
		return put(tx, o)
	})
	if err != nil {
		return nil, err
	}
	if held {
		t.Held++
	}
	// A list of the day may change until its day, and is looked at where it is kept.
	if p != nil && letter.ID != "" && p.ToWhom == cases.ToPrimaryCare && w.o.Attach != nil {
		if p.Files, err = w.o.Attach(letter); err != nil {
			return nil, w.keep(ctx, p, &Refused{Permanent: true, Text: "The letter cannot be attached: " + err.Error()}, t)
		}
	}
	return p, nil
}

// stopped asks anew whether a message may go, from the case and from its letter.
func (w *Worker) stopped(tx cases.Writer, o *cases.Outgoing, letter *cases.Letter) (why string, err error) {
	if o.Letter != "" {
		if *letter, err = tx.Letter(o.Letter); err != nil {
			return "", err
		}
		if letter.State == "held" {
			return "its letter is held", nil
		}
	}
	if o.Case == "" {
		return "", nil
	}
	c, err := tx.Case(o.Case)
	if err != nil {
		return "", err
	}
	if b := c.Calls(o.Kind, o.Occasion); b != nil && o.ToWhom == cases.ToFamily && w.o.Nowhere != nil {
		if why, err = w.o.Nowhere(tx, b); why != "" || err != nil {
			return why, err
		}
	}
	return w.o.Protocol().MessageStop(&c, o, tx.Today()), nil
}

func put(tx cases.Writer, o cases.Outgoing) error {
	_, err := tx.PutOutgoing(o)
	return err
}

// keep writes down what became of an attempt.
func (w *Worker) keep(ctx context.Context, p *Parcel, sent error, t *Tally) error {
	state, note, next := outcome(p, sent, w.o.Now())
	write := func(tx cases.Writer, tell bool) error {
		o, err := tx.Outgoing(p.Outgoing.ID)
		if err != nil {
			return err
		}
		// Another worker may have taken this one for dead; what is known now is better.
		if o.Tries != p.Attempt || o.State != cases.OutSending && o.State != cases.OutUncertain {
			return nil
		}
		o.Next = next
		o.Step(tx.Now(), actor.Name, state, note)
		if err := put(tx, o); err != nil {
			return err
		}
		if state != cases.OutSent {
			return tx.Note(cases.Event{Kind: "message-" + state, Text: "Message " + o.Number + ": " + state})
		}
		return tellCase(tx, w.o.Protocol(), &o, tell, len(p.Files) > 0)
	}
	err := w.o.Store.Update(ctx, actor, func(tx cases.Writer) error { return write(tx, true) })
	if err != nil && cases.KindOf(err) != cases.Internal { // the case cannot be changed; what was sent stays sent
		err = w.o.Store.Update(ctx, actor, func(tx cases.Writer) error { return write(tx, false) })
	}
	if err != nil {
		return err
	}
	switch state {
	case cases.OutSent:
		t.Sent++
	case cases.OutQueued:
		t.Later++
	case cases.OutFailed:
		t.Failed++
	case cases.OutUncertain:
		t.Uncertain++
	}
	return nil
}

// outcome reads what a channel said.
func outcome(p *Parcel, sent error, now time.Time) (state, note string, next time.Time) {
	var no *Refused
	var unsure *Unsure
	switch {
	case sent == nil:
		return cases.OutSent, "", time.Time{}
	case errors.As(sent, &unsure):
		return cases.OutUncertain, "The answer of the server never came: it may or may not have taken the message. Ask whether it came before it is sent again. (" + cases.Printable(unsure.Err.Error()) + ")", time.Time{}
	case errors.As(sent, &no) && no.Permanent:
		return cases.OutFailed, "Refused for good: " + cases.Printable(no.Error()) + ". Check the address, and phone or post.", time.Time{}
	case now.Sub(p.Queued) > giveUp:
		return cases.OutFailed, fmt.Sprintf("Given up after %d tries in %d days: %s. Phone or post.", p.Attempt, int(giveUp.Hours())/24, cases.Printable(sent.Error())), time.Time{}
	}
	return cases.OutQueued, "Not taken yet: " + cases.Printable(sent.Error()) + ".", now.Add(pause(p.Attempt))
}
