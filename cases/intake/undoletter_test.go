package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// TestUndoNamesTheLetterThatLeft: a letter that a wrong attachment made due is held
// while it is here, and a person is told when it has left.
func TestUndoNamesTheLetterThatLeft(t *testing.T) {
	for _, state := range []string{"to-print", "printed", "mailed"} {
		b := referred(t, func(c *cases.Case) {
			c.Genotype = nil
			c.Contacts = append(c.Contacts, cases.Contact{On: march23 - 10, With: "family", By: "phone", Reached: true, Staff: "Wren Castellano"})
		})
		it := b.receive("sweat", sweat(t, neither)).Items[0]
		eq(t, "outcome", it.Outcome, "attached")
		c := b.of("AB-2026-0001")
		due := cases.DefaultProtocol().Assess(&c, cases.DayOf(today)).LettersDue
		if len(due) != 1 || due[0].Kind != cases.LetterRepeatNeeded {
			t.Fatalf("no letter is due because of it: %+v", due)
		}
		b.change(func(c *cases.Case) {
			m := cases.LetterMade{Kind: due[0].Kind, Occasion: due[0].Occasion, MadeOn: cases.DayOf(today), State: state}
			if state == "mailed" {
				m.MailedOn = cases.DayOf(today)
			}
			c.Letters = append(c.Letters, m)
		})
		err := b.db.Update(t.Context(), coordinator, func(w cases.Writer) error {
			_, err := w.PutLetter(cases.Letter{Number: "LETTER77", Case: c.ID, Kind: due[0].Kind, Occasion: due[0].Occasion, Language: "en", MadeOn: cases.DayOf(today), State: state})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		back, err := b.undo(it.ID, "another infant")
		if err != nil {
			t.Fatal(err)
		}
		var l cases.Letter
		b.view(func(r cases.Reader) error { ls, err := r.LettersOf(c.ID); l = ls[0]; return err })
		want := "held"
		if state == "mailed" {
			want = "mailed"
		}
		eq(t, state+" letter", l.State, want)
		said := strings.Contains(strings.Join(back.Reasons, " "), "was mailed because of it. Tell the family")
		eq(t, state+" told", said, state == "mailed")
		now := b.of("AB-2026-0001")
		eq(t, state+" on the case", now.Letters[0].State, want)
	}
}
