package intake_test

import (
	"encoding/json"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// toAddress keeps a letter of the one case that waits, addressed as the first guardian is
// now.
func (b *bench) toAddress(kind, occasion, state string) cases.Letter {
	b.t.Helper()
	c := b.all()[0]
	a := c.Family.Guardians[0].Address
	window, err := json.Marshal(map[string]any{"address": append(append([]string{"To the family"}, a.Lines...), a.City+" "+a.Postal)})
	if err != nil {
		b.t.Fatal(err)
	}
	var l cases.Letter
	err = b.db.Update(b.t.Context(), coordinator, func(w cases.Writer) (err error) {
		if l, err = w.PutLetter(cases.Letter{Number: "LETTER77", Case: c.ID, Kind: kind, Occasion: occasion, Language: "en", MadeOn: w.Today(), State: state, Data: window}); err != nil {
			return err
		}
		c.Letters = append(c.Letters, cases.LetterMade{Kind: kind, Occasion: occasion, MadeOn: w.Today(), State: state, Number: l.Number})
		_, err = w.PutCase(c, cases.Event{Kind: "test"})
		return err
	})
	if err != nil {
		b.t.Fatal(err)
	}
	return l
}

func (b *bench) letterNow(id string) (l cases.Letter) {
	b.t.Helper()
	b.view(func(r cases.Reader) (err error) { l, err = r.Letter(id); return err })
	return l
}

// carrier is d01 with one variant, of a family that may be written to.
func carrier(t testing.TB, pairs ...string) []byte {
	return d01(t, append([]string{"OBX|3|ST|21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN|2|G551D (c.1652G>A)", "OBX|3|ST|62330-6^Birth hospital facility name^LN|2|Example Birth Hospital",
		"Two CFTR variants found. ", ""}, pairs...)...)
}

func carrierCase(t *testing.T, change func(c *cases.Case)) *bench {
	b := newBench(t, intake.Settings{})
	eqT(t, "the case", outcomes(b.receive("one", carrier(t))), "opened")
	b.change(change)
	return b
}

// TestUndoneAddressHoldsItsLetters: an address that a message brought, and that is taken
// off again, takes the letters to it out of the stack; another is owed once an address is
// known.
func TestUndoneAddressHoldsItsLetters(t *testing.T) {
	for _, state := range []string{"to-print", "printed"} {
		b := carrierCase(t, func(c *cases.Case) { c.Family.Guardians[0].Address = nil })
		it := b.receive("again", carrier(t, "||118.4|ng/mL", "||120.9|ng/mL")).Items[0]
		eqT(t, "outcome", it.Outcome, "attached")
		if b.all()[0].Family.Guardians[0].Address == nil {
			t.Fatalf("the message brought no address: %q", it.Reasons)
		}
		l := b.toAddress(cases.LetterFirstNotice, b.all()[0].Referral.On.String(), state)
		if _, err := b.undo(it.ID, "the infant's aunt"); err != nil {
			t.Fatal(err)
		}
		now, c := b.letterNow(l.ID), b.all()[0]
		if now.State != "held" || !strings.Contains(now.Note, "the address on it is not on record any more") || c.Letters[0].State != "held" || !c.Letters[0].Unsent {
			t.Errorf("%s: %s, %q, on the case %+v", state, now.State, now.Note, c.Letters[0])
		}
	}
}

// TestAddressOfAMessageKeepsItsLetters: what a message adds beside the address that a
// letter is to, holds nothing.
func TestAddressOfAMessageKeepsItsLetters(t *testing.T) {
	b := carrierCase(t, func(c *cases.Case) { c.Family.Guardians[0].Phones = nil })
	l := b.toAddress(cases.LetterFirstNotice, b.all()[0].Referral.On.String(), "to-print")
	eqT(t, "outcome", b.receive("again", carrier(t, "||118.4|ng/mL", "||120.9|ng/mL")).Items[0].Outcome, "attached")
	eqT(t, "letter", b.letterNow(l.ID).State, "to-print")
}
