package intake_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// TestLaboratoryStaysWhenCorrectedByHand: a person who changes a test loses neither
// what the laboratory said nor its numbers, and its reading is compared anew.
func TestLaboratoryStaysWhenCorrectedByHand(t *testing.T) {
	b := referred(t, nil)
	b.receive("sweat", sweat(t, normal))
	c, test, _ := b.one()
	by := cases.SweatTest{On: test.On, At: test.At, Collector: "tubing", Arms: []cases.Arm{
		{Side: "left", Minutes: 30, AmountUL: num(42), Chloride: num(41)}, {Side: "right", Minutes: 30, AmountUL: num(38), Chloride: num(44)}}}
	nurse := cases.Actor{ID: "n", Name: "Nora Wren", Role: cases.Nurse}
	if _, err := cases.NewDesk(b.db, cases.DefaultProtocol()).CorrectTest(t.Context(), nurse, c.ID, c.Rev, 0, by, "read from the sheet"); err != nil {
		t.Fatal(err)
	}
	_, now, _ := b.one()
	eq(t, "numbers", now.Arms[0].Accession+" "+now.Arms[1].Accession, "SW26032301 SW26032302")
	if now.Laboratory == nil || now.Laboratory.Flag != "N" || !strings.Contains(now.Laboratory.Differs, `flags it N; by the program's protocol 41 mmol/L reads "Intermediate"`) {
		t.Errorf("laboratory %+v", now.Laboratory)
	}
	eq(t, "a correction still finds its arm", b.receive("corrected", sweat(t, corrected, "20260323133000", "20260324133000")).Items[0].Outcome, "review")
	it := b.receive("corrected again", sweat(t, corrected, "D13-0001", "D13-0002")).Items[0]
	eq(t, "corrected", it.Outcome, "attached")
}

// TestSweatTakenOffAgain: a wrong attachment is taken back, and the case is as before.
func TestSweatTakenOffAgain(t *testing.T) {
	for name, change := range map[string]func(*cases.Case){"recorded by the nurse": bedside(42, 38), "booked": booked("booked"), "nothing on file": nil} {
		for _, value := range []string{leftValue, strings.Replace(leftValue, "|N|", "|A|", 1)} {
			b := referred(t, change)
			before := b.of("AB-2026-0001")
			it := b.receive("sweat", sweat(t, normal, leftValue, value)).Items[0]
			eq(t, name, it.Outcome, "attached")
			if _, err := b.in.Undo(t.Context(), coordinator, it.ID, "another infant"); err != nil {
				t.Fatal(name, err)
			}
			after := b.of("AB-2026-0001")
			after.Rev, after.ToCheck = before.Rev, before.ToCheck
			if d := cmp.Diff(plainCase(t, before), plainCase(t, after)); d != "" {
				t.Errorf("%s (-before +after):\n%s", name, d)
			}
			for _, w := range b.waiting() {
				if w.ID != it.ID {
					t.Errorf("%s: %s still waits: %v", name, w.Position, w.Reasons)
				}
			}
		}
	}
}

func plainCase(t *testing.T, c cases.Case) any {
	t.Helper()
	return []any{c.Infant, c.Bookings, c.SweatTests, c.Notes, c.ToCheck, c.Family, c.Letters}
}

// TestSweatFromASenderNobodyConfirmed: nothing that came by mail goes on a case by
// itself from a sender that nobody has confirmed; by a person's hand, once it is
// confirmed, or by a way that shows who sends, it does.
func TestSweatFromASenderNobodyConfirmed(t *testing.T) {
	for _, x := range []struct{ source, by, want string }{
		{"mailbox", "", "review"}, {"interface", "", "attached"}, {"web service", "", "attached"},
		{"mailbox", "Wren Castellano", "attached"}, {"upload", "", "attached"},
	} {
		b := referred(t, nil)
		err := b.db.Update(t.Context(), coordinator, func(w cases.Writer) error {
			return intake.PutSenders(w, []intake.Sender{{Name: "Hospital", Signs: []string{"Example Children's Hospital Laboratory"}, ConfirmedBy: x.by, ConfirmedOn: march23}})
		})
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.in.Receive(t.Context(), importer, intake.Document{Source: x.source, Sender: "lab@hospital.example", Name: "m.hl7", At: today, Raw: sweat(t, normal)})
		if err != nil {
			t.Fatal(err)
		}
		it := r.Items[0]
		eq(t, x.source+" confirmed by "+x.by, it.Outcome, x.want)
		if said := strings.Contains(strings.Join(it.Reasons, " "), "not confirmed yet"); said != (x.by == "" && x.source != "upload") || it.Reference != "AB-2026-0001" {
			t.Errorf("%s: %s %v", x.source, it.Reference, it.Reasons)
		}
	}
}

// TestDeathInASweatResult: the result goes on the case, letters stop, and a person is
// told of the death.
func TestDeathInASweatResult(t *testing.T) {
	b := referred(t, nil)
	it := b.receive("sweat", sweat(t, normal, "|||||||||||||N|", "|||||||||||||N|||||20260322|Y")).Items[0]
	eq(t, "outcome", it.Outcome, "attached")
	eq(t, "died", b.of("AB-2026-0001").Infant.Died, cases.MakeDay(2026, 3, 22))
	w := b.waiting()
	if len(w) != 1 || !strings.Contains(strings.Join(w[0].Reasons, ""), "infant died") {
		t.Errorf("%+v", w)
	}
}

// TestScreenAttachmentsCarryRevisions: what a screen result added can be taken back too.
func TestScreenAttachmentsCarryRevisions(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("first", d01(t))
	before := b.of("AB-2026-0001")
	it := b.receive("named", d01(t, "^BABYGIRL^", "^ADA^", "D01-0001", "N-2")).Items[0]
	eq(t, "outcome", it.Outcome, "attached")
	eq(t, "from", it.FromRev, before.Rev)
	eq(t, "to", it.ToRev, b.of("AB-2026-0001").Rev)
}
