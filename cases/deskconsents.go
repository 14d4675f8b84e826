package cases

import "context"

// Consents tells whether the family agreed to a channel (text, email or voicemail) and
// has not taken that back by a day.
func (c *Case) Consents(channel string, on Day) bool { return c.consents(channel, on) }

// RecordConsent records that the family agreed to a channel.
func (d *Desk) RecordConsent(ctx context.Context, a Actor, id ID, rev Rev, k Consent) (Case, error) {
	return d.Change(ctx, a, LogContacts, id, rev, Event{Kind: "consent-recorded", Text: "Consent to " + k.Channel}, func(c *Case, _ Day) error {
		if c.Family == nil {
			c.Family = &Family{}
		}
		c.Family.Consents = append(c.Family.Consents, k)
		return nil
	})
}

// WithdrawConsent records that the family took its consent to a channel back. What waits
// to go by it is held in the same transaction.
func (d *Desk) WithdrawConsent(ctx context.Context, a Actor, id ID, rev Rev, channel, by string) (Case, error) {
	return d.Change(ctx, a, LogContacts, id, rev, Event{Kind: "consent-withdrawn", Text: "Consent to " + channel + " taken back", Reason: by}, func(c *Case, today Day) error {
		if !c.consents(channel, today) {
			return Errorf(Refused, "The family of %s has not agreed to %s.", c.Reference, channel)
		}
		for i := range c.Family.Consents {
			if k := &c.Family.Consents[i]; k.Channel == channel && k.On <= today && (k.Withdrawn == 0 || k.Withdrawn > today) {
				k.Withdrawn, k.WithdrawnBy = today, by
			}
		}
		return nil
	})
}
