package cases

import (
	"context"
	"strings"
)

// LegalHold keeps everything about an infant from being erased, from On until somebody
// ends it or, where Until is given, to the day before that.
type LegalHold struct {
	On      Day    `json:"on" req:"yes"`
	By      string `json:"by" req:"yes"`
	Reason  string `json:"reason" req:"yes"`
	Until   Day    `json:"until,omitempty" note:"first day without it; absent: until somebody ends it"`
	EndedOn Day    `json:"ended_on,omitempty"`
	EndedBy string `json:"ended_by,omitempty"`
	Why     string `json:"ended_why,omitempty"`
}

// stands tells whether the hold counts on a day.
func (h *LegalHold) stands(on Day) bool {
	return h.EndedOn == 0 && (h.Until == 0 || on < h.Until)
}

// HeldLegally gives the legal hold that counts on a day, or nil.
func (c *Case) HeldLegally(on Day) *LegalHold {
	for i := range c.LegalHolds {
		if c.LegalHolds[i].stands(on) {
			return &c.LegalHolds[i]
		}
	}
	return nil
}

// PlaceLegalHold keeps a case from being erased, until a day or (0) until it is ended.
func (d *Desk) PlaceLegalHold(ctx context.Context, a Actor, id ID, rev Rev, reason string, until Day) (Case, error) {
	reason = strings.TrimSpace(reason)
	ev := Event{Kind: "legal-hold-placed", Text: "Legal hold placed", Reason: reason}
	return d.Change(ctx, a, HoldLegally, id, rev, ev, func(c *Case, today Day) error {
		switch {
		case reason == "":
			return FieldError("legal_holds.reason", "Enter why nothing of this infant may be erased")
		case until != 0 && until <= today:
			return FieldError("legal_holds.until", "Until must be after today, or empty")
		case c.HeldLegally(today) != nil:
			return Errorf(Refused, "A legal hold stands on %s already. End it first, or leave it.", c.Reference)
		}
		c.LegalHolds = append(c.LegalHolds, LegalHold{On: today, By: a.Name, Reason: reason, Until: until})
		return nil
	})
}

// EndLegalHold ends the legal hold that stands on a case.
func (d *Desk) EndLegalHold(ctx context.Context, a Actor, id ID, rev Rev, why string) (Case, error) {
	why = strings.TrimSpace(why)
	ev := Event{Kind: "legal-hold-ended", Text: "Legal hold ended", Reason: why}
	return d.Change(ctx, a, HoldLegally, id, rev, ev, func(c *Case, today Day) error {
		h := c.HeldLegally(today)
		switch {
		case why == "":
			return FieldError("legal_holds.ended_why", "Enter why the hold ends")
		case h == nil:
			return Errorf(Refused, "No legal hold stands on %s.", c.Reference)
		}
		h.EndedOn, h.EndedBy, h.Why = today, a.Name, why
		return nil
	})
}
