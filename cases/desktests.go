package cases

import "context"

// RecordTest adds a sweat test; a booking of that day counts as kept. A weight
// taken at the test is added to the weights.
func (d *Desk) RecordTest(ctx context.Context, a Actor, id ID, rev Rev, t SweatTest) (Case, error) {
	ev := Event{Kind: "test-recorded", Text: "Sweat test recorded, " + t.On.String()}
	return d.Change(ctx, a, RecordTests, id, rev, ev, func(c *Case, today Day) error {
		if t.On == 0 {
			t.On = today
		}
		if t.By == "" {
			t.By = a.Name
		}
		c.SweatTests = append(c.SweatTests, t)
		for i := range c.Bookings {
			if b := &c.Bookings[i]; b.On == t.On && b.State == "booked" {
				b.Become("kept", today)
			}
		}
		if t.WeightG != 0 {
			c.Infant.Weights = append(c.Infant.Weights, Weight{On: t.On, G: t.WeightG, By: t.By})
		}
		return nil
	})
}

// CorrectTest replaces test i, with a reason; the history keeps what was there.
// Adding a result that came later is a correction too. What the laboratory said of
// the test and its numbers stay, and its reading is compared anew.
func (d *Desk) CorrectTest(ctx context.Context, a Actor, id ID, rev Rev, i int, t SweatTest, reason string) (Case, error) {
	ev := Event{Kind: "test-corrected", Text: "Sweat test changed, " + t.On.String(), Reason: reason}
	return d.Change(ctx, a, RecordTests, id, rev, ev, func(c *Case, today Day) error {
		if i < 0 || i >= len(c.SweatTests) {
			return Errorf(NotFound, "There is no such test.")
		}
		if reason == "" {
			return FieldError("reason", "Enter why the test is changed")
		}
		t.keepLaboratory(&c.SweatTests[i])
		c.SweatTests[i] = t
		if l := t.Laboratory; l != nil {
			l.Differs = d.protocol.LabDiffers(c, &c.SweatTests[i], today)
		}
		return nil
	})
}

// keepLaboratory takes over from the test before it what came from the laboratory.
func (t *SweatTest) keepLaboratory(old *SweatTest) {
	if t.Laboratory == nil && old.Laboratory != nil {
		l := *old.Laboratory
		t.Laboratory = &l
	}
	for i := range t.Arms {
		for j := range old.Arms {
			if a := &t.Arms[i]; a.Side == old.Arms[j].Side && a.Accession == "" {
				a.Accession = old.Arms[j].Accession
			}
		}
	}
}

// VerifyTest records a named person's word on test i: "stands" or "void".
func (d *Desk) VerifyTest(ctx context.Context, a Actor, id ID, rev Rev, i int, as, by, reason string) (Case, error) {
	ev := Event{Kind: "test-verified", Text: "Sweat test: " + as, Reason: reason}
	return d.Change(ctx, a, VerifyTests, id, rev, ev, func(c *Case, today Day) error {
		switch {
		case i < 0 || i >= len(c.SweatTests):
			return Errorf(NotFound, "There is no such test.")
		case as != "stands" && as != "void":
			return FieldError("verified.as", "Select whether the test stands or is void")
		case by == "":
			return FieldError("verified.by", "Enter who checked the value")
		}
		c.SweatTests[i].Verified = &Verified{On: today, By: by, As: as}
		return nil
	})
}

// Told is who was told of a blister or burn, and when; without a day it is today.
type Told struct {
	To string
	On Day
	At Clock
}

// ReportReaction records who was told of a blister or burn of test i.
func (d *Desk) ReportReaction(ctx context.Context, a Actor, id ID, rev Rev, i int, told Told) (Case, error) {
	ev := Event{Kind: "reaction-reported", Text: "Skin reaction reported to " + told.To}
	return d.Change(ctx, a, LogContacts, id, rev, ev, func(c *Case, today Day) error {
		if i < 0 || i >= len(c.SweatTests) {
			return Errorf(NotFound, "There is no such test.")
		}
		if told.To == "" {
			return FieldError("reported_to", "Enter to whom it was reported")
		}
		if told.On == 0 {
			told.On = today
		}
		for j := range c.SweatTests[i].Arms {
			if arm := &c.SweatTests[i].Arms[j]; arm.Hurt() {
				arm.ReportedOn, arm.ReportedAt, arm.ReportedTo = told.On, told.At, told.To
			}
		}
		return nil
	})
}

// OrderRepeat records the clinician's order for a repeat after an intermediate test.
func (d *Desk) OrderRepeat(ctx context.Context, a Actor, id ID, rev Rev, by string) (Case, error) {
	ev := Event{Kind: "repeat-ordered", Text: "Repeat ordered by " + by}
	return d.Change(ctx, a, VerifyTests, id, rev, ev, func(c *Case, today Day) error {
		if by == "" {
			return FieldError("repeat_ordered.by", "Enter who ordered the repeat")
		}
		c.RepeatOrdered = &RepeatOrdered{On: today, By: by}
		return nil
	})
}
