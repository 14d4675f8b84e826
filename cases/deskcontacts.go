package cases

import "context"

// RecordContact adds one attempt to reach somebody; On defaults to today.
func (d *Desk) RecordContact(ctx context.Context, a Actor, id ID, rev Rev, k Contact) (Case, error) {
	ev := Event{Kind: "contact-logged", Text: "Contact added: " + k.With + ", " + k.By}
	return d.Change(ctx, a, LogContacts, id, rev, ev, func(c *Case, today Day) error {
		if k.On == 0 {
			k.On = today
		}
		if k.Staff == "" {
			k.Staff = a.Name
		}
		c.Contacts = append(c.Contacts, k)
		return nil
	})
}

// RecordWeight adds one weighing in grams; On defaults to today.
func (d *Desk) RecordWeight(ctx context.Context, a Actor, id ID, rev Rev, w Weight) (Case, error) {
	return d.Change(ctx, a, Weigh, id, rev, Event{Kind: "weight-recorded", Text: "Weight added"}, func(c *Case, today Day) error {
		if w.On == 0 {
			w.On = today
		}
		if w.By == "" {
			w.By = a.Name
		}
		c.Infant.Weights = append(c.Infant.Weights, w)
		return nil
	})
}

// Rename changes the infant's name and keeps the old one among the former names.
func (d *Desk) Rename(ctx context.Context, a Actor, id ID, rev Rev, given, family, reason string) (Case, error) {
	ev := Event{Kind: "infant-renamed", Text: "Name changed", Reason: reason}
	return d.Change(ctx, a, EditIdentity, id, rev, ev, func(c *Case, _ Day) error {
		if given == "" && family == "" {
			return FieldError("infant.family", "Enter a name")
		}
		c.Infant.FormerNames = append(c.Infant.FormerNames, c.Infant.Family+", "+c.Infant.Given)
		c.Infant.Given, c.Infant.Family = given, family
		return nil
	})
}

// SetFamily replaces who may be told and how to reach them.
func (d *Desk) SetFamily(ctx context.Context, a Actor, id ID, rev Rev, f Family, reason string) (Case, error) {
	ev := Event{Kind: "family-changed", Text: "Family details changed", Reason: reason}
	return d.Change(ctx, a, EditIdentity, id, rev, ev, func(c *Case, _ Day) error {
		c.Family = &f
		return nil
	})
}

// SetPrimaryCare replaces the infant's doctor.
func (d *Desk) SetPrimaryCare(ctx context.Context, a Actor, id ID, rev Rev, pc PrimaryCare, reason string) (Case, error) {
	ev := Event{Kind: "primary-care-changed", Text: "Primary care changed", Reason: reason}
	return d.Change(ctx, a, EditIdentity, id, rev, ev, func(c *Case, _ Day) error {
		c.PrimaryCare = &pc
		return nil
	})
}

// SetFlag adds a contact flag; From 0 means always.
func (d *Desk) SetFlag(ctx context.Context, a Actor, id ID, rev Rev, f Flag) (Case, error) {
	ev := Event{Kind: "flag-set", Text: "Flag set: " + f.Kind, Reason: f.Note}
	return d.Change(ctx, a, SetFlags, id, rev, ev, func(c *Case, _ Day) error {
		c.Flags = append(c.Flags, f)
		return nil
	})
}

// AddNote adds free text; notes are never changed.
func (d *Desk) AddNote(ctx context.Context, a Actor, id ID, rev Rev, text string) (Case, error) {
	return d.Change(ctx, a, SeeCases, id, rev, Event{Kind: "note-added", Text: "Note added"}, func(c *Case, today Day) error {
		if text == "" {
			return FieldError("notes.text", "Enter the note")
		}
		c.Notes = append(c.Notes, Note{On: today, By: a.Name, Text: text})
		return nil
	})
}

// PlaceHold records a reason not to test now; From defaults to today.
func (d *Desk) PlaceHold(ctx context.Context, a Actor, id ID, rev Rev, h Hold) (Case, error) {
	ev := Event{Kind: "hold-placed", Text: "On hold: " + h.Reason, Reason: h.Note}
	return d.Change(ctx, a, PlaceHolds, id, rev, ev, func(c *Case, today Day) error {
		if h.From == 0 {
			h.From = today
		}
		c.Holds = append(c.Holds, h)
		return nil
	})
}

// EndHold says from which day hold i is over.
func (d *Desk) EndHold(ctx context.Context, a Actor, id ID, rev Rev, i int, until Day) (Case, error) {
	return d.Change(ctx, a, PlaceHolds, id, rev, Event{Kind: "hold-ended", Text: "Hold ended"}, func(c *Case, today Day) error {
		if i < 0 || i >= len(c.Holds) {
			return Errorf(NotFound, "There is no such hold.")
		}
		if until == 0 {
			until = today
		}
		c.Holds[i].Until = until
		return nil
	})
}

// SetGenotype records the report of CFTR variants.
func (d *Desk) SetGenotype(ctx context.Context, a Actor, id ID, rev Rev, g Genotype, reason string) (Case, error) {
	ev := Event{Kind: "genotype-recorded", Text: "Genotype recorded", Reason: reason}
	return d.Change(ctx, a, EnterReports, id, rev, ev, func(c *Case, today Day) error {
		if g.Reported == 0 && g.Scope != "none" {
			g.Reported = today
		}
		c.Genotype = &g
		return nil
	})
}

// RecordDeath stops letters and contacts at once. The day of the report is today.
func (d *Desk) RecordDeath(ctx context.Context, a Actor, id ID, rev Rev, died Day, source string) (Case, error) {
	ev := Event{Kind: "death-recorded", Text: "Death recorded", Reason: source}
	return d.Change(ctx, a, RecordDeath, id, rev, ev, func(c *Case, today Day) error {
		if died == 0 {
			return FieldError("infant.died", "Enter the date of death")
		}
		c.Infant.Died, c.Infant.DiedReported = died, today
		return nil
	})
}

// Decline records that the family refused, and who explained what that means.
func (d *Desk) Decline(ctx context.Context, a Actor, id ID, rev Rev, x Declined) (Case, error) {
	ev := Event{Kind: "declined", Text: "The family declined"}
	return d.Change(ctx, a, EditIdentity, id, rev, ev, func(c *Case, today Day) error {
		if x.On == 0 {
			x.On = today
		}
		c.Declined = &x
		return nil
	})
}

// WithdrawDecline records that the family has changed its mind.
func (d *Desk) WithdrawDecline(ctx context.Context, a Actor, id ID, rev Rev) (Case, error) {
	return d.Change(ctx, a, EditIdentity, id, rev, Event{Kind: "decline-withdrawn", Text: "The refusal was withdrawn"}, func(c *Case, today Day) error {
		if c.Declined == nil {
			return Errorf(Refused, "No refusal is recorded.")
		}
		c.Declined.WithdrawnOn = today
		return nil
	})
}

// HandOver names the program that is asked to take the infant; the case stays open
// until the hand-over is accepted.
func (d *Desk) HandOver(ctx context.Context, a Actor, id ID, rev Rev, to string) (Case, error) {
	return d.Change(ctx, a, EditIdentity, id, rev, Event{Kind: "handed-over", Text: "Hand-over to " + to}, func(c *Case, today Day) error {
		if to == "" {
			return FieldError("handover.to", "Enter who takes over")
		}
		c.Handover = &Handover{To: to, On: today}
		return nil
	})
}

// AcceptHandover records that the other program has taken the infant.
func (d *Desk) AcceptHandover(ctx context.Context, a Actor, id ID, rev Rev, by string) (Case, error) {
	return d.Change(ctx, a, EditIdentity, id, rev, Event{Kind: "handover-accepted", Text: "Hand-over accepted"}, func(c *Case, today Day) error {
		if c.Handover == nil {
			return Errorf(Refused, "No hand-over is recorded.")
		}
		c.Handover.AcceptedOn, c.Handover.AcceptedBy = today, by
		return nil
	})
}
