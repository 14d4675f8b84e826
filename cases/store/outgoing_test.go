package store

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

func message(of cases.ID, kind, occasion, by string) cases.Outgoing {
	o := cases.Outgoing{Case: of, Kind: kind, Occasion: occasion, By: by, ToWhom: cases.ToFamily, To: "ina@family.example",
		Subject: "Please call us", Body: "Please call us.\n", State: cases.OutQueued, Queued: noon, Next: noon}
	if by == cases.ByText {
		o.To, o.Subject = "555-0101 222", ""
	}
	return o
}

func TestMessageIsQueuedOnce(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	d := put(t, db, newCase(20, "Ben", "Wren"), "opened")
	queue := func(o cases.Outgoing) (out cases.Outgoing, err error) {
		err = db.Update(ctx, clerk, func(w cases.Writer) (err error) { out, err = w.PutOutgoing(o); return err })
		return out, err
	}
	first, err := queue(message(c.ID, "reminder", "2026-03-04", cases.ByEmail))
	if err != nil || len(first.Number) != 8 {
		t.Fatalf("%+v %v", first, err)
	}
	_, err = queue(message(c.ID, "reminder", "2026-03-04", cases.ByEmail))
	wantKind(t, err, cases.Conflict)
	for _, o := range []cases.Outgoing{message(c.ID, "reminder", "2026-03-04", cases.ByText), message(c.ID, "reminder", "2026-03-05", cases.ByEmail),
		message(c.ID, "nudge", "2026-03-04", cases.ByEmail), message(d.ID, "reminder", "2026-03-04", cases.ByEmail), message("", "clinic-day", "heron-point 2026-03-04", cases.ByEmail)} {
		if _, err := queue(o); err != nil {
			t.Errorf("%s %s %s: %v", o.Kind, o.Occasion, o.By, err)
		}
	}
	_, err = queue(message("01ARZ3NDEKTSV4RRFFQ69G5FAV", "reminder", "2026-03-04", cases.ByEmail))
	wantKind(t, err, cases.NotFound)
	other := first
	other.Body = "Something else."
	_, err = queue(other)
	wantKind(t, err, cases.Refused)
	bad := message(c.ID, "reminder", "2026-04-04", cases.ByEmail)
	bad.To = "ina@family.example\r\nBcc: all@family.example"
	_, err = queue(bad)
	wantKind(t, err, cases.Invalid)

	first.Step(noon.Add(time.Minute), "Dunlin", cases.OutSending, "")
	if first, err = queue(first); err != nil {
		t.Fatal(err)
	}
	view(t, db, func(r cases.Reader) error {
		for state, want := range map[string]int{"": 6, cases.OutQueued: 5, cases.OutSending: 1, cases.OutSent: 0} {
			n := 0
			for _, err := range r.Outgoings(state) {
				if n++; err != nil {
					return err
				}
			}
			if n != want {
				t.Errorf("%d messages in state %q, not %d", n, state, want)
			}
		}
		of, err := r.OutgoingOf(c.ID)
		if err != nil || len(of) != 4 || of[0].ID != first.ID {
			t.Errorf("of the case: %d, %v", len(of), err)
		}
		got, err := r.OutgoingByNumber(" " + strings.ToLower(first.Number))
		if err != nil || got.ID != first.ID || len(got.History) != 1 {
			t.Errorf("by number: %+v %v", got, err)
		}
		_, err = r.OutgoingByNumber("22222222")
		wantKind(t, err, cases.NotFound)
		_, err = r.Outgoing("01ARZ3NDEKTSV4RRFFQ69G5FAV")
		wantKind(t, err, cases.NotFound)
		return nil
	})
}
