package intake_test

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// TestUnconfirmedSendersAreMarked: what comes by itself opens its case in any case, and
// says so on it until somebody has confirmed who sent it.
func TestUnconfirmedSendersAreMarked(t *testing.T) {
	const laboratory = "Example State Public Health Laboratory"
	by := func(name string, on cases.Day, signs ...string) []intake.Sender {
		return []intake.Sender{{Name: "State laboratory", Signs: append([]string{laboratory}, signs...), ConfirmedBy: name, ConfirmedOn: on}}
	}
	day := cases.MakeDay(2026, 3, 1)
	for _, x := range []struct {
		name, source, from string
		senders            []intake.Sender
		marked             bool
	}{
		{"nobody knows it", "mailbox", "results@lab.example", nil, true},
		{"known and not confirmed", "mailbox", "results@lab.example", by("", 0), true},
		{"confirmed by its name", "mailbox", "results@lab.example", by("Wren Castellano", day), false},
		{"confirmed with its domain", "mailbox", "results@lab.example", by("Wren Castellano", day, "@lab.example"), false},
		{"the name from another address", "mailbox", "results@elsewhere.example", by("Wren Castellano", day, "@lab.example"), true},
		{"a person gives it", "upload", "", nil, false},
		{"an interface", "interface", "", by("Wren Castellano", day), false},
	} {
		t.Run(x.name, func(t *testing.T) {
			b := newBench(t, intake.Settings{})
			err := b.db.Update(context.Background(), coordinator, func(w cases.Writer) error { return intake.PutSenders(w, x.senders) })
			if err != nil {
				t.Fatal(err)
			}
			r, err := b.in.Receive(context.Background(), importer, intake.Document{Source: x.source, Sender: x.from, Name: "m.hl7", At: today, Raw: d01(t)})
			if err != nil {
				t.Fatal(err)
			}
			eq(t, "outcome", outcomes(r), "opened")
			said := strings.Contains(strings.Join(r.Items[0].Reasons, " "), "not confirmed yet")
			onCase := false
			for _, q := range b.all()[0].ToCheck {
				onCase = onCase || strings.Contains(q.Reason, "not confirmed yet")
			}
			if said != x.marked || onCase != x.marked {
				t.Errorf("said %v, on the case %v, want %v", said, onCase, x.marked)
			}
		})
	}
}
