package cases

import "strconv"

// The kinds of messages that go by themselves, by text or e-mail.
const (
	MessageReminder = "reminder" // the day before the test
	MessageNudge    = "nudge"    // asks for a call back, beside the calls of the contact plan
)

// MessageDue is one message owed to the family: what it is about and by which channel.
type MessageDue struct {
	Kind     string `json:"kind"`
	Occasion string `json:"occasion"`
	By       string `json:"by"` // ByText or ByEmail
	Due      Day    `json:"due"`
}

// messagesDue lists the messages owed today. They go only with consent to the channel
// and without any flag, never while mail to the family is stopped or CF is in question
// (a person speaks with such a family), and never late: what was not sent on its day is
// not owed the day after.
func (s *state) messagesDue() []MessageDue {
	by := s.c.MessageBy(s.on)
	if by == "" || s.mailStop() != "" || s.flagStop() != "" {
		return nil
	}
	var out []MessageDue
	owe := func(kind, occasion string) {
		if s.letterStop(kind, occasion) == "" && !s.c.messageMade(kind, occasion, s.on) {
			out = append(out, MessageDue{Kind: kind, Occasion: occasion, By: by, Due: s.on})
		}
	}
	if b := s.bk.ahead; b != nil && b.On == s.on+1 && !s.heldOver(b) && s.told() != 0 {
		owe(MessageReminder, BookingOccasion(b))
	}
	if occasion := s.nudge(); occasion != "" {
		owe(MessageNudge, occasion)
	}
	return out
}

// nudge is the occasion of the nudge that the contact plan asks for today: only after a
// call that failed, and only the last whose day has come.
func (s *state) nudge() string {
	since, _ := s.contactNeeded()
	if since == 0 || since >= s.on {
		return ""
	}
	one, _ := s.failedAttempts(since, true)
	if one == 0 {
		return ""
	}
	for i := range s.p.ContactPlan {
		r := &s.p.ContactPlan[i]
		if !r.byConsent() {
			continue
		}
		for n, d := range r.days(s.e.presumptive()) {
			if s.cal.Add(since, d) == s.on {
				return nudgeOccasion(since, r, n)
			}
		}
	}
	return ""
}

func nudgeOccasion(since Day, r *Rung, n int) string {
	return since.String() + " " + r.Name + " " + strconv.Itoa(n+1)
}

// nudgeDay is the day of a nudge by its occasion; 0 when the plan has none such.
func (s *state) nudgeDay(occasion string) Day {
	since := OccasionDay(occasion)
	for i := range s.p.ContactPlan {
		r := &s.p.ContactPlan[i]
		for n, d := range r.days(s.e.presumptive()) {
			if r.byConsent() && nudgeOccasion(since, r, n) == occasion {
				return s.cal.Add(since, d)
			}
		}
	}
	return 0
}

func (c *Case) messageMade(kind, occasion string, on Day) bool {
	for i := range c.Messages {
		if m := &c.Messages[i]; m.Kind == kind && m.Occasion == occasion && m.QueuedOn <= on {
			return true
		}
	}
	return false
}

// MessageBy is the channel by which a message can go to the family on a day: one that it
// agreed to and has a number or address for, text before e-mail; "" when there is none.
func (c *Case) MessageBy(on Day) string {
	for _, by := range []string{ByText, ByEmail} {
		if !c.consents(by, on) {
			continue
		}
		if to, why := c.messageTo(ToFamily, by); why == "" && to != "" {
			return by
		}
	}
	return ""
}
