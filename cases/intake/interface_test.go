package intake_test

import (
	"context"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

var byInterface = cases.Actor{ID: "interface", Name: "Interface", Role: cases.System, Via: "interface"}

func (b *bench) from(d intake.Document) intake.Result {
	b.t.Helper()
	d.At = today
	r, err := b.in.Receive(context.Background(), byInterface, d)
	if err != nil || r.Total() != len(r.Items) || len(r.Items) == 0 {
		b.t.Fatalf("%+v, %v", r, err)
	}
	return r
}

// TestLiveSetsTestMessagesAside: on a live program a test message opens nothing when
// it comes by itself, whatever it is; a person who imports it still can.
func TestLiveSetsTestMessagesAside(t *testing.T) {
	for _, tc := range []struct {
		source, mark, outcome, kind string
		live                        bool
	}{
		{"interface", "T", "refused", intake.KindTest, true},
		{"mailbox", "D", "refused", intake.KindTest, true},
		{"web service", "T", "refused", intake.KindTest, true},
		{"interface", "N", "review", intake.KindCannot, true},
		{"interface", "P", "opened", intake.KindNew, true},
		{"interface", "", "opened", intake.KindNew, true},
		{"upload", "T", "opened", intake.KindNew, true},
		{"import", "T", "opened", intake.KindNew, true},
		{"interface", "T", "opened", intake.KindNew, false},
	} {
		b := newBench(t, intake.Settings{Live: tc.live})
		r := b.from(intake.Document{Source: tc.source, Raw: d01(t, "|D01-0001|T|", "|D01-0001|"+tc.mark+"|")})
		if got := r.Items[0]; got.Outcome != tc.outcome || got.Kind != tc.kind {
			t.Errorf("%+v: %s, %s, %v", tc, got.Outcome, got.Kind, got.Reasons)
		}
		opened := 0
		if tc.outcome == "opened" {
			opened = 1
		}
		eq(t, "cases", len(b.all()), opened)
	}
}

// TestLiveSweatTestMessage: nor does a test message with a sweat result change a case.
func TestLiveSweatTestMessage(t *testing.T) {
	b := newBench(t, intake.Settings{Live: true})
	b.from(intake.Document{Source: "interface", Raw: d01(t, "|D01-0001|T|", "|D01-0001|P|")})
	before := b.all()[0]
	for _, mark := range []string{"T", "N"} {
		sweat := strings.Replace(string(load(t, msgs+"d08-sweat-normal-two-sites.hl7")), "|D08-0001|T|", "|D08-0001|"+mark+"|", 1)
		r := b.from(intake.Document{Source: "interface", Raw: []byte(sweat)})
		if o := r.Items[0].Outcome; o != "refused" && o != "review" {
			t.Errorf("mark %s: %s", mark, o)
		}
	}
	eq(t, "revision", b.all()[0].Rev, before.Rev)
}

// TestPartThenWhole: a message that was cut off waits for a person until the whole
// one comes; then both are linked, whether or not its number was reached.
func TestPartThenWhole(t *testing.T) {
	raw := d01(t)
	for _, cut := range []int{60, 900, len(raw) - 3} {
		b := newBench(t, intake.Settings{})
		part := append([]byte{0x0B}, raw[:cut]...)
		r := b.from(intake.Document{Source: "interface", Sender: "lab.example", Part: true, Raw: part})
		eq(t, "the part", r.Items[0].Outcome, "review")
		if got := strings.Join(r.Items[0].Reasons, " "); !strings.Contains(got, "cut off") {
			t.Errorf("cut at %d: the part says %q", cut, got)
		}
		eq(t, "waiting", len(b.waiting()), 1)
		eq(t, "cases", len(b.all()), 0)

		r = b.from(intake.Document{Source: "interface", Sender: "lab.example", Raw: raw})
		eq(t, "the whole", r.Items[0].Outcome, "opened")
		if got := strings.Join(r.Items[0].Reasons, " "); !strings.Contains(got, "this is the whole") || strings.Contains(got, "Check with the sender") {
			t.Errorf("cut at %d: the whole says %q", cut, got)
		}
		eq(t, "waiting", len(b.waiting()), 0)
		eq(t, "cases", len(b.all()), 1)
	}
}

// TestPartOfAnother: the part of another message, or of another sender's, goes on
// waiting; one of the same number is named.
func TestPartOfAnother(t *testing.T) {
	raw := d01(t)
	part := append([]byte{0x0B}, d01(t, "TESTFAMILY", "KESTREL")[:900]...)
	b := newBench(t, intake.Settings{})
	b.from(intake.Document{Source: "interface", Sender: "lab.example", Part: true, Raw: part})
	r := b.from(intake.Document{Source: "interface", Sender: "lab.example", Raw: raw})
	if got := strings.Join(r.Items[0].Reasons, " "); !strings.Contains(got, "Compare both") {
		t.Errorf("the whole says %q", got)
	}
	eq(t, "waiting", len(b.waiting()), 1)

	b = newBench(t, intake.Settings{})
	b.from(intake.Document{Source: "interface", Sender: "other.example", Part: true, Raw: append([]byte{0x0B}, raw[:900]...)})
	b.from(intake.Document{Source: "interface", Sender: "lab.example", Raw: raw})
	eq(t, "waiting", len(b.waiting()), 1)
}

// TestPartAfterWhole: a part that comes between two deliveries of the same message is
// settled by the second.
func TestPartAfterWhole(t *testing.T) {
	b, raw := newBench(t, intake.Settings{}), d01(t)
	b.from(intake.Document{Source: "interface", Sender: "lab.example", Raw: raw})
	b.from(intake.Document{Source: "interface", Sender: "lab.example", Part: true, Raw: append([]byte{0x0B}, raw[:900]...)})
	eq(t, "waiting", len(b.waiting()), 1)
	r := b.from(intake.Document{Source: "interface", Sender: "lab.example", Raw: raw})
	eq(t, "again", r.Items[0].Outcome, "duplicate")
	eq(t, "waiting", len(b.waiting()), 0)
}
