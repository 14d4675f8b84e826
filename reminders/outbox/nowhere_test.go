package outbox_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/reminders/outbox"
)

// The session of a reminder that waits was cancelled: it is held when its turn comes.
func TestNoReminderOfACancelledSession(t *testing.T) {
	w := newWorld(t)
	on := w.c.Bookings[0].On
	o := w.queue(cases.MessageReminder, cases.BookingOccasion(&w.c.Bookings[0]), cases.ByText)
	options := w.options(nil, &fake{})
	options.Nowhere = func(_ cases.Reader, b *cases.Booking) (string, error) {
		if b.On != on {
			t.Errorf("asked about %v", b.On)
		}
		return "there is no session to come to", nil
	}
	k, err := outbox.New(options)
	if err != nil {
		t.Fatal(err)
	}
	w.pass(time.Second)
	if tally := w.run(k); tally.Held != 1 || tally.Sent != 0 {
		t.Errorf("%s", tally)
	}
	if o = w.wantState(o.ID, cases.OutHeld); !strings.Contains(o.History[len(o.History)-1].Note, "no session to come to") {
		t.Errorf("%+v", o.History)
	}
}
