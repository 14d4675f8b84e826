package store

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dunlin/cases"
)

var mergePairs = flag.Int("mergepairs", 150, "pairs of cases that are merged and taken apart again")

var boss = cases.Actor{ID: "max", Name: "Max Orr", Role: cases.Manager, Via: "test"}

// withPapers gives a case letters, messages and an item; made holds the case's own lines.
func withPapers(t testing.TB, db *DB, rng *rand.Rand, c cases.Case) cases.Case {
	t.Helper()
	on := max(c.Infant.Born+4, c.Referral.On)
	update(t, db, func(w cases.Writer) error {
		for _, kind := range []string{"first-notice", "booking"} {
			if rng.IntN(3) == 0 {
				continue
			}
			l, err := w.PutLetter(cases.Letter{Case: c.ID, Kind: kind, Occasion: on.String()[:7], State: "mailed", MadeOn: on, Data: json.RawMessage(`{}`)})
			if err != nil {
				return err
			}
			c.Letters = append(c.Letters, cases.LetterMade{Kind: l.Kind, Occasion: l.Occasion, MadeOn: on, State: l.State, Number: l.Number})
		}
		if rng.IntN(2) == 0 {
			x := message(c.ID, "reminder", "2026-03", "email")
			x.State = "sent" // one that waits may be held by what the cases say together, and stays so
			m, err := w.PutOutgoing(x)
			if err != nil {
				return err
			}
			c.Messages = append(c.Messages, cases.MessageMade{Kind: m.Kind, Occasion: m.Occasion, By: m.By, QueuedOn: on, Number: m.Number})
		}
		if _, err := w.PutItem(cases.Item{Document: "x", Outcome: "opened", Case: c.ID, Reference: c.Reference, ToRev: 1}); err != nil {
			return err
		}
		var err error
		c, err = w.PutCase(c, cases.Event{Kind: "papers"})
		return err
	})
	return c
}

// state is all that is kept of a case, as text; the revision and, of a case that was to be
// merged, the closing that was proposed and sent back are left out.
func state(t testing.TB, db *DB, id cases.ID, merged bool) string {
	t.Helper()
	var b strings.Builder
	view(t, db, func(r cases.Reader) error {
		c, err := r.Case(id)
		if err != nil {
			return err
		}
		if merged {
			c.Closures = c.Closures[:len(c.Closures)-1]
		}
		if len(c.Closures) == 0 {
			c.Closures = nil
		}
		text, err := json.MarshalIndent(&c, "", " ")
		b.Write(text)
		letters, err2 := r.LettersOf(id)
		messages, err3 := r.OutgoingOf(id)
		items, err4 := r.ItemsOfCase(id)
		more, err5 := json.MarshalIndent([]any{letters, messages, items}, "", " ")
		b.Write(more)
		for _, err := range []error{err, err2, err3, err4, err5} {
			if err != nil {
				return err
			}
		}
		return nil
	})
	return b.String()
}

// TestMergeAndBackIsAsBefore merges random pairs and takes the merge back: both cases, their
// letters, messages, items and siblings must be what they were.
func TestMergeAndBackIsAsBefore(t *testing.T) {
	db := openTest(t)
	desk := cases.NewDesk(db, cases.DefaultProtocol())
	rng := rand.New(rand.NewPCG(5, 6))
	today := cases.MakeDay(2026, 3, 20)
	done := 0
	for i := range *mergePairs {
		a, b := randomFacts(rng, today), randomFacts(rng, today)
		a.Infant.Died = 0 // a death puts a flag on siblings, which a person ends and nobody else
		a = put(t, db, a, "opened")
		if rng.IntN(2) == 0 {
			b.Infant, b.Infant.Born = a.Infant, a.Infant.Born
			b = bornAs(rng, b, today)
		}
		b.Infant.Died = 0
		b.Referral.Screen = &cases.Screen{Accession: fmt.Sprintf("X%05d", i), Laboratory: "Alder Bay Laboratory"}
		third := put(t, db, newCase(30, "Di", "Wren"), "opened")
		b.Siblings = []string{third.Reference}
		b = put(t, db, b, "opened")
		third.Siblings = []string{b.Reference}
		if rng.IntN(2) == 0 {
			third.Siblings = append(third.Siblings, a.Reference)
		}
		third = put(t, db, third, "linked")
		a, b = withPapers(t, db, rng, a), withPapers(t, db, rng, b)
		wasA, wasB, wasThird := state(t, db, a.ID, false), state(t, db, b.ID, false), state(t, db, third.ID, false)
		b, err := desk.ProposeMerge(ctx, clerk, b.ID, b.Rev, a.Reference, "one card", "one birth record")
		if err != nil {
			if k := cases.KindOf(err); k != cases.Refused && k != cases.Invalid {
				t.Fatal(err)
			}
			continue
		}
		_, err = desk.AgreeClosing(ctx, clerk, b.ID, b.Rev)
		wantKind(t, err, cases.Forbidden)
		if b, err = desk.AgreeClosing(ctx, boss, b.ID, b.Rev); err != nil {
			if cases.KindOf(err) != cases.Invalid { // two tests of one time
				t.Fatal(err)
			}
			continue
		}
		merged(t, db, a.ID, b, fmt.Sprintf("x%05d", i))
		_, changed, err := desk.Unmerge(ctx, clerk, a.ID, 0, b.Reference, "two birth records")
		if err != nil || len(changed) > 0 {
			t.Fatalf("pair %d: %v %v", i, changed, err)
		}
		done++
		for _, x := range []struct {
			name, was string
			id        cases.ID
			sent      bool
		}{{"the one that stayed", wasA, a.ID, false}, {"the one that went", wasB, b.ID, true}, {"the sibling", wasThird, third.ID, false}} {
			if d := cmp.Diff(x.was, state(t, db, x.id, x.sent)); d != "" {
				t.Fatalf("pair %d: %s: %s", i, x.name, d)
			}
		}
	}
	t.Logf("%d of %d pairs could be merged", done, *mergePairs)
	if done < *mergePairs/2 {
		t.Errorf("only %d pairs were merged", done)
	}
}

// bornAs moves facts that lie before a birth to the day after it.
func bornAs(rng *rand.Rand, c cases.Case, today cases.Day) cases.Case {
	n := randomFacts(rng, today)
	for range 1000 {
		c.Contacts, c.Holds, c.Bookings, c.SweatTests, c.Closures, c.Genotype, c.Infant.Weights = n.Contacts, n.Holds, n.Bookings, n.SweatTests, nil, n.Genotype, n.Infant.Weights
		c.Declined, c.Handover = nil, nil
		c.Referral.On = c.Infant.Born + 2
		if len(c.Faults(today, cases.DefaultProtocol())) == 0 && len(c.FutureFaults(today)) == 0 {
			return c
		}
		n = randomFacts(rng, today)
	}
	return n
}

// merged demands that everything is in one case and that old numbers lead there.
func merged(t *testing.T, db *DB, into cases.ID, dup cases.Case, accession string) {
	t.Helper()
	if dup.MergedInto() == "" || len(dup.SweatTests)+len(dup.Contacts)+len(dup.Bookings)+len(dup.Letters) > 0 {
		t.Fatalf("something stayed: %+v", dup)
	}
	view(t, db, func(r cases.Reader) error {
		for _, f := range []func() ([]cases.Case, error){
			func() ([]cases.Case, error) { return r.ByAccession(accession) },
			func() ([]cases.Case, error) {
				c, err := r.ByExternal("Alder Bay Laboratory", accession)
				return []cases.Case{c}, err
			},
		} {
			if list, err := f(); err != nil || len(list) != 1 || list[0].ID != into {
				t.Errorf("number %s leads to %v %v", accession, ids(list), err)
			}
		}
		c, err := r.Case(into)
		if err != nil {
			return err
		}
		letters, err := r.LettersOf(into)
		if err != nil || len(letters) != len(c.Letters) {
			t.Errorf("%d letters, the case knows %d: %v", len(letters), len(c.Letters), err)
		}
		for _, l := range letters {
			if !slices.ContainsFunc(c.Letters, func(m cases.LetterMade) bool { return m.Kind == l.Kind && m.Occasion == l.Occasion }) {
				t.Errorf("the case does not know %s %s", l.Kind, l.Occasion)
			}
		}
		left, err := r.LettersOf(dup.ID)
		if err != nil || len(left) > 0 {
			t.Errorf("letters left: %v %v", left, err)
		}
		return nil
	})
}

func TestMergeRefusals(t *testing.T) {
	db := openTest(t)
	desk := cases.NewDesk(db, cases.DefaultProtocol())
	a, b := put(t, db, newCase(19, "Ada", "Wren"), "opened"), put(t, db, newCase(20, "Ben", "Wren"), "opened")
	merge := func(twins string) (cases.Case, error) {
		return desk.ProposeMerge(ctx, clerk, b.ID, 0, a.Reference, "one card", twins)
	}
	b.Infant.BirthOrder, a.Infant.BirthOrder = 1, 2
	a, b = put(t, db, a, "order"), put(t, db, b, "order")
	_, err := merge("")
	wantKind(t, err, cases.Invalid)
	if !strings.Contains(err.Error(), "not twins") {
		t.Error(err)
	}
	_, err = desk.ProposeMerge(ctx, boss, b.ID, 0, a.Reference, "r", "t")
	wantKind(t, err, cases.Forbidden)
	_, err = desk.ProposeMerge(ctx, clerk, b.ID, 0, "AB-1999-0001", "r", "t")
	wantKind(t, err, cases.Invalid)
	if _, err = desk.KeepApart(ctx, clerk, b.ID, 0, a.Reference, "two birth records"); err != nil {
		t.Fatal(err)
	}
	_, err = merge("one birth record")
	wantKind(t, err, cases.Refused)
	view(t, db, func(r cases.Reader) error {
		a, err := r.Case(a.ID)
		if a.ApartFrom(b.Reference) == nil {
			t.Error("the other case does not know")
		}
		return err
	})
}

// TestUnmergeKeepsWhatCameSince records facts after the merge: they stay where they were
// recorded, and what came with the merge and was changed is named.
func TestUnmergeKeepsWhatCameSince(t *testing.T) {
	db := openTest(t)
	desk := cases.NewDesk(db, cases.DefaultProtocol())
	a, b := newCase(19, "Ada", "Wren"), newCase(20, "Ada", "Wren")
	on := cases.MakeDay(2026, 3, 10)
	a.Contacts = []cases.Contact{{On: on, With: "family", By: "phone", Outcome: "no answer"}}
	b.Contacts = []cases.Contact{{On: on + 1, With: "family", By: "phone", Outcome: "talked", Reached: true}}
	a, b = put(t, db, a, "opened"), put(t, db, b, "opened")
	b, err := desk.ProposeMerge(ctx, clerk, b.ID, 0, a.Reference, "one card", "")
	if err == nil {
		_, err = desk.AgreeClosing(ctx, boss, b.ID, 0)
	}
	if err != nil {
		t.Fatal(err)
	}
	_, err = desk.Reopen(ctx, clerk, b.ID, 0, "why not")
	wantKind(t, err, cases.Refused)
	view(t, db, func(r cases.Reader) (err error) { a, err = r.Case(a.ID); return err })
	if len(a.Contacts) != 2 {
		t.Fatalf("%+v", a.Contacts)
	}
	a.Contacts[1].Note = "called again"
	a.Contacts = append(a.Contacts, cases.Contact{On: on + 2, With: "family", By: "letter", Outcome: "sent"})
	a = put(t, db, a, "contact-logged")
	a, changed, err := desk.Unmerge(ctx, clerk, a.ID, a.Rev, b.Reference, "two infants")
	if err != nil || len(changed) != 1 || !strings.Contains(changed[0], "contacts[1]") {
		t.Fatalf("%v %v", changed, err)
	}
	if len(a.Contacts) != 2 || a.Contacts[1].Outcome != "sent" {
		t.Errorf("%+v", a.Contacts)
	}
	view(t, db, func(r cases.Reader) error {
		b, err := r.Case(b.ID)
		if len(b.Contacts) != 1 || b.Contacts[0].Outcome != "talked" || b.DuplicateOf != nil {
			t.Errorf("%+v", b)
		}
		if s := cases.DefaultProtocol().Assess(&b, r.Today()); s.Closed || s.Proposed != nil {
			t.Errorf("still closed: %v %v", s.Closed, s.Proposed)
		}
		return err
	})
}
