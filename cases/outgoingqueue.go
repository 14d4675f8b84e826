package cases

import "strings"

// QueueMessage puts a message about a case into the outbox, in the caller's
// transaction: with what it is about, or not at all. It finds the address (a given To
// wins), and is Refused, in words for people, where the message must not go or nobody
// can be addressed; a second one of the case, kind, occasion and channel is a Conflict.
// Kind, Occasion, By, ToWhom, Subject and Body are the caller's.
func QueueMessage(w Writer, p *Protocol, c *Case, o Outgoing) (Outgoing, error) {
	if err := p.AddressMessage(c, &o, w.Today()); err != nil {
		return o, err
	}
	o.Queued, o.Next = w.Now(), w.Now()
	o.Step(w.Now(), "Dunlin", OutQueued, "")
	return w.PutOutgoing(o)
}

// AddressMessage fills in what QueueMessage does, and gives its refusals: that nobody can
// be addressed, or that the message must not go on the day.
func (p *Protocol) AddressMessage(c *Case, o *Outgoing, on Day) error {
	o.Case = c.ID
	if o.To == "" {
		to, why := c.messageTo(o.ToWhom, o.By)
		if why != "" {
			return Errorf(Refused, "The message to %s cannot be sent: %s.", c.Reference, why)
		}
		o.To = to
	}
	if why := p.MessageStop(c, o, on); why != "" {
		return Errorf(Refused, "The message to %s must not go out: %s.", c.Reference, why)
	}
	return nil
}

// QueueNotice puts a message of no case into the outbox, in the caller's transaction: word
// to a test site of its list. A second one of its kind and occasion is a Conflict.
func QueueNotice(w Writer, o Outgoing) (Outgoing, error) {
	o.Case, o.Queued, o.Next = "", w.Now(), w.Now()
	o.Step(w.Now(), "Dunlin", OutQueued, "")
	return w.PutOutgoing(o)
}

// HoldMessages holds every queued message of a case that must not go any more, in the
// caller's transaction.
func HoldMessages(w Writer, p *Protocol, c *Case) error {
	if c.ID == "" {
		return nil
	}
	return holdMessages(w, c, func(o *Outgoing) (string, error) { return p.MessageStop(c, o, w.Today()), nil })
}

func holdMessages(w Writer, c *Case, stop func(*Outgoing) (string, error)) error {
	list, err := w.OutgoingOf(c.ID)
	if err != nil {
		return err
	}
	for _, o := range list {
		if o.State != OutQueued {
			continue
		}
		why, err := stop(&o)
		if err != nil {
			return err
		}
		if why != "" {
			o.Step(w.Now(), "Dunlin", OutHeld, "Held: "+why+".")
			if _, err := w.PutOutgoing(o); err != nil {
				return err
			}
		}
	}
	return nil
}

// MessageStop says why a message about a case must not go out on a day, in words; ""
// when it may. It is asked when the message is queued, at each change of the case, and
// once more before it is sent.
func (p *Protocol) MessageStop(c *Case, o *Outgoing, on Day) string {
	s := p.derive(c, on)
	if c.TestMessage {
		return "the case was opened by a test message"
	}
	if o.ToWhom == ToPrimaryCare {
		return s.doctorMessageStop(o)
	}
	if why := s.wordStop(o.Kind, o.Occasion); why != "" {
		return why
	}
	if why := s.flagStop(); why != "" {
		return why
	}
	if !c.consents(o.By, on) {
		return "the family has not agreed to messages by " + o.By
	}
	if !c.familyHas(o.By, o.To) {
		return "the address is no longer on record"
	}
	return ""
}

// doctorMessageStop is the rule for the infant's doctor, who still hears of results when
// the family no longer gets mail. Nobody is asked to find a family that is not sought.
func (s *state) doctorMessageStop(o *Outgoing) string {
	if why := s.wordStop(o.Kind, o.Occasion); why != "" {
		return why
	}
	if pc := s.c.PrimaryCare; o.By != ByEmail || pc == nil || !strings.EqualFold(pc.Email, o.To) {
		return "the address is no longer on record"
	}
	return ""
}

// flagStop: any contact flag in force stops messages, since nobody knows who else reads
// a screen.
func (s *state) flagStop() string {
	for i := range s.c.Flags {
		if f := &s.c.Flags[i]; f.stands(s.on) {
			return "a " + f.Kind + " flag is set"
		}
	}
	return ""
}

// consents tells whether the family agreed to a channel and has not taken that back.
func (c *Case) consents(channel string, on Day) bool {
	if c.Family == nil {
		return false
	}
	yes := false
	for i := range c.Family.Consents {
		k := &c.Family.Consents[i]
		if k.Channel != channel || k.On > on {
			continue
		}
		if k.Withdrawn != 0 && k.Withdrawn <= on {
			continue
		}
		yes = true
	}
	return yes
}

// messageTo finds the one address or number for a message, or says why there is none.
func (c *Case) messageTo(whom, by string) (to, why string) {
	switch whom {
	case ToPrimaryCare:
		if by != ByEmail {
			return "", "messages to the doctor go by e-mail"
		}
		if c.PrimaryCare == nil || c.PrimaryCare.Email == "" {
			return "", "the doctor has no e-mail address on record"
		}
		return c.PrimaryCare.Email, ""
	case ToFamily:
	default:
		return "", "it has no address"
	}
	if c.Family == nil || len(c.Family.Guardians) == 0 {
		return "", "no parent or guardian is on record"
	}
	chosen := c.messageGuardians()
	if chosen == nil {
		return "", "there is more than one guardian; choose who gets letters"
	}
	found := chosen.messageAddresses(by)
	switch {
	case len(found) == 0 && by == ByText:
		return "", "no mobile number is on record"
	case len(found) == 0:
		return "", "no e-mail address is on record"
	case len(found) > 1:
		return "", "more than one mobile number is on record; keep the one that the family agreed to"
	}
	return found[0], ""
}

// messageGuardians is the one guardian who gets letters; nil when nobody has chosen.
func (c *Case) messageGuardians() *Guardian {
	var chosen *Guardian
	for i := range c.Family.Guardians {
		if g := &c.Family.Guardians[i]; g.Letters {
			if chosen != nil {
				return nil
			}
			chosen = g
		}
	}
	switch {
	case chosen != nil:
		return chosen
	case c.Family.PickOne || len(c.Family.Guardians) > 1:
		return nil
	}
	return &c.Family.Guardians[0]
}

// messageAddresses are a guardian's e-mail address, or the mobile numbers; a single
// number of no known kind counts as one.
func (g *Guardian) messageAddresses(by string) (out []string) {
	if by == ByEmail {
		if g.Email != "" {
			out = append(out, g.Email)
		}
		return out
	}
	for i := range g.Phones {
		if p := &g.Phones[i]; p.Kind == "mobile" || p.Kind == "" && len(g.Phones) == 1 {
			out = append(out, p.Number)
		}
	}
	return out
}

// familyHas tells whether an address is still the one that a message would go to.
func (c *Case) familyHas(by, to string) bool {
	now, why := c.messageTo(ToFamily, by)
	return why == "" && strings.EqualFold(now, to)
}
