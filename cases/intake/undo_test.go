package intake_test

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

func (b *bench) undo(id, reason string) (cases.Item, error) {
	return b.in.Undo(context.Background(), coordinator, id, reason)
}

func document(t *testing.T, c cases.Case) string {
	t.Helper()
	out, err := json.MarshalIndent(&c, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// TestUndoRestoresTheCase: a wrong attachment is taken off, the case is what it was,
// the history keeps both steps, and the item waits again.
func TestUndoRestoresTheCase(t *testing.T) {
	b := newBench(t, intake.Settings{})
	first := b.receive("first", d01(t)).Items[0]
	before := document(t, b.of(first.Reference))
	second := b.receive("second card", d01(t, dayOff...)).Items[0]
	done, err := b.resolve(second.ID, intake.Choice{As: intake.Same, Reference: first.Reference, Reason: "the hospital says so"})
	if err != nil {
		t.Fatal(err)
	}
	if document(t, b.of(first.Reference)) == before {
		t.Fatal("nothing was added, so nothing is tested")
	}
	if _, err := b.undo(done.ID, " "); cases.KindOf(err) != cases.Invalid {
		t.Errorf("without a reason: %v", err)
	}
	back, err := b.undo(done.ID, "it is the cousin")
	if err != nil {
		t.Fatal(err)
	}
	if now := document(t, b.of(first.Reference)); now != before {
		t.Errorf("the case is not what it was:\n%s\n%s", before, now)
	}
	eq(t, "waits again", len(b.waiting()), 1)
	eq(t, "kind", back.Kind, intake.KindUndone)
	eq(t, "off the case", back.Reference, "")
	eq(t, "related", strings.Join(back.Related, " "), first.Reference)
	b.view(func(r cases.Reader) error {
		h, err := r.History(b.of(first.Reference).ID)
		var kinds []string
		for _, e := range h {
			kinds = append(kinds, e.Event.Kind)
		}
		for _, k := range []string{"case-opened", "result-attached", "attachment-undone"} {
			if !slices.Contains(kinds, k) {
				t.Errorf("the history has no %s: %v", k, kinds)
			}
		}
		return err
	})
	if _, err := b.undo(done.ID, "again"); cases.KindOf(err) != cases.Refused {
		t.Errorf("a second undo: %v", err)
	}
	apart, err := b.resolve(done.ID, intake.Choice{As: intake.Apart, Reason: "the cousin"})
	if err != nil || apart.Reference == "" || apart.Reference == first.Reference {
		t.Errorf("after that, a case of its own: %+v, %v", apart, err)
	}
}

// TestUndoKeepsWhatWasRecordedSince: only the attachment goes.
func TestUndoKeepsWhatWasRecordedSince(t *testing.T) {
	b := newBench(t, intake.Settings{})
	first := b.receive("first", d01(t)).Items[0]
	second := b.receive("second card", d01(t, dayOff...)).Items[0]
	done, err := b.resolve(second.ID, intake.Choice{As: intake.Same, Reference: first.Reference, Reason: "the hospital says so"})
	if err != nil {
		t.Fatal(err)
	}
	c := b.of(first.Reference)
	desk := cases.NewDesk(b.db, cases.DefaultProtocol())
	if _, err := desk.AddNote(context.Background(), coordinator, c.ID, c.Rev, "The aunt called."); err != nil {
		t.Fatal(err)
	}
	if _, err := b.undo(done.ID, "it is the cousin"); err != nil {
		t.Fatal(err)
	}
	notes := b.of(first.Reference).Notes
	if len(notes) != 1 || notes[0].Text != "The aunt called." {
		t.Errorf("notes %+v", notes)
	}
}

// TestUndoOfAnAutomaticAttachment works on what attached by itself, and lets go of
// letters that were held for it.
func TestUndoOfAnAutomaticAttachment(t *testing.T) {
	b := newBench(t, intake.Settings{})
	first := b.receive("first", d01(t)).Items[0]
	before := document(t, b.of(first.Reference))
	dead := b.receive("death", d01(t, "|||N|\r", "|||N||||||Y\r", "D01-0001", "D01-0033"))
	it := dead.Items[0]
	if it.Outcome != "attached" {
		t.Fatalf("the message with a death is %s: %v", it.Outcome, it.Reasons)
	}
	if b.of(first.Reference).Infant.Died == 0 {
		t.Fatal("the death is not on the case")
	}
	waiting := len(b.waiting())
	if _, err := b.undo(it.ID, "the death is the neighbor's"); err != nil {
		t.Fatal(err)
	}
	if now := document(t, b.of(first.Reference)); now != before {
		t.Errorf("the case is not what it was:\n%s\n%s", before, now)
	}
	// The confirmation of the death waits no more; the message itself does.
	eq(t, "waiting", len(b.waiting()), waiting)
}

// TestFaultListNamesNobody: what goes back to a sender by mail holds no name, no date
// of birth and no reference of ours.
func TestFaultListNamesNobody(t *testing.T) {
	b := newBench(t, intake.Settings{})
	for _, name := range []string{"m06-impossible-dates.hl7", "m13-sweat-units.hl7", "m11-second-pid.hl7", "m08-code-and-text-disagree.hl7"} {
		for _, it := range b.file(bad + name).Items {
			var rec intake.Record
			if err := json.Unmarshal(it.Read, &rec); err != nil {
				t.Fatal(err)
			}
			text := intake.FaultList(it, rec)
			in := rec.Referral.Infant
			for _, secret := range []string{in.Family, in.Given, rec.Referral.Mother.Given, in.Born.Day.String(), in.Born.Text, "AB-2026"} {
				if secret != "" && strings.Contains(strings.ToUpper(text), strings.ToUpper(secret)) {
					t.Errorf("%s: %q stands in:\n%s", name, secret, text)
				}
			}
			if !strings.Contains(text, "\n- ") {
				t.Errorf("%s names no fault:\n%s", name, text)
			}
		}
	}
}
