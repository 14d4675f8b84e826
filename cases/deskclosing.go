package cases

import "context"

// KnownOutcome tells the determinations that a clinician makes.
func KnownOutcome(as string) bool {
	switch as {
	case "cf", crmsCFSPID, "carrier", "not-affected", "other-diagnosis":
		return true
	}
	return false
}

// StandsAlone tells whether closing as this on a day would stand without a second
// person: it is what the evidence supports then, and not lost or duplicate.
func (p *Protocol) StandsAlone(c *Case, as string, on Day) bool {
	return as != "lost" && as != "duplicate" && p.supportedOn(c, on).HasWord(as)
}

// Close records a closure on today's evidence. One that the evidence supports
// stands at once; any other is a proposal until another person agrees, and needs a
// reason. A known outcome names the deciding clinician.
func (d *Desk) Close(ctx context.Context, a Actor, id ID, rev Rev, k Closure) (Case, error) {
	ev := Event{Kind: "closing", Text: "Closing as " + k.As, Reason: k.Reason}
	return d.Change(ctx, a, ProposeClose, id, rev, ev, func(c *Case, today Day) error {
		if k.On == 0 {
			k.On = today
		}
		alone := d.protocol.StandsAlone(c, k.As, k.On)
		switch {
		case d.protocol.closing(c, today).standing != nil:
			return Errorf(Refused, "The case is closed already.")
		case alone && !a.May(CloseCases):
			return a.need(CloseCases)
		case KnownOutcome(k.As) && k.Clinician == "":
			return FieldError("closures.clinician", "Enter the clinician who decided")
		case !alone && k.Reason == "":
			return FieldError("closures.reason", "Enter the reason; another person has to agree to this closing")
		}
		k.By, k.AgreedBy, k.AgreedOn, k.RestsOn = a.Name, "", 0, testDays(c)
		c.Closures = append(c.Closures, k)
		return nil
	})
}

// AgreeClosing lets another person agree to the proposed closure. One that names the case
// it repeats merges the two.
func (d *Desk) AgreeClosing(ctx context.Context, a Actor, id ID, rev Rev) (out Case, err error) {
	if err := a.need(AgreeClose); err != nil {
		return out, err
	}
	err = d.store.Update(ctx, a, func(w Writer) error {
		c, err := w.Case(id)
		if err != nil {
			return err
		}
		if c.DuplicateOf != nil {
			out, err = d.merge(w, a, &c, rev)
		} else {
			out, err = d.agreeIn(w, a, id, rev, Event{Kind: "closing-agreed", Text: "Closing agreed"}, nil)
		}
		return err
	})
	return out, err
}

// agreeIn agrees to the proposed closure in a running transaction; more changes the case
// besides.
func (d *Desk) agreeIn(w Writer, a Actor, id ID, rev Rev, ev Event, more func(*Case)) (Case, error) {
	return ChangeIn(w, d.protocol, id, rev, ev, func(c *Case, today Day) error {
		k := d.protocol.closing(c, today).proposed
		switch {
		case k == nil:
			return Errorf(Refused, "No closing waits for agreement.")
		case k.By == a.Name:
			return Errorf(Refused, "Another person than %s has to agree.", k.By)
		}
		k.AgreedBy, k.AgreedOn = a.Name, today
		if more != nil {
			more(c)
		}
		return nil
	})
}

// SendBack takes a proposed closure back with a reason; the case goes on.
func (d *Desk) SendBack(ctx context.Context, a Actor, id ID, rev Rev, reason string) (Case, error) {
	ev := Event{Kind: "closing-sent-back", Text: "Closing sent back", Reason: reason}
	return d.Change(ctx, a, AgreeClose, id, rev, ev, func(c *Case, today Day) error {
		k := d.protocol.closing(c, today).proposed
		if k == nil {
			return Errorf(Refused, "No closing waits for agreement.")
		}
		if reason == "" {
			return FieldError("reason", "Enter what is missing")
		}
		k.Reopened = &Reopened{On: today, By: a.Name, Reason: reason}
		c.DuplicateOf = nil
		return nil
	})
}

// Reopen takes a closure back by hand.
func (d *Desk) Reopen(ctx context.Context, a Actor, id ID, rev Rev, reason string) (Case, error) {
	ev := Event{Kind: "reopened", Text: "Case reopened", Reason: reason}
	return d.Change(ctx, a, ReopenCases, id, rev, ev, func(c *Case, today Day) error {
		k := d.protocol.closing(c, today).standing
		switch {
		case k == nil:
			return Errorf(Refused, "The case is not closed.")
		case c.DuplicateOf != nil:
			return Errorf(Refused, "%s was merged into %s. Take the merge back there.", c.Reference, c.DuplicateOf.Reference)
		case reason == "":
			return FieldError("reason", "Enter why the case is reopened")
		}
		k.Reopened = &Reopened{On: today, By: a.Name, Reason: reason}
		return nil
	})
}
