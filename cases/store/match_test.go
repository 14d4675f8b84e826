package store

import (
	"fmt"
	"testing"

	"dunlin/cases"
)

// TestByMatchKeys: a case is found by its keys, once, follows a change of name, and
// a key that too many cases have is left out.
func TestByMatchKeys(t *testing.T) {
	db := openTest(t)
	born := cases.MakeDay(2026, 3, 1)
	caseOf := func(i int, family, phone string) cases.Case {
		return cases.Case{Reference: fmt.Sprintf("AB-2026-%04d", i), Infant: cases.Infant{Family: family, Born: born}, Referral: cases.Referral{On: born + 7, Route: "screen"},
			Family: &cases.Family{Guardians: []cases.Guardian{{Given: "Ina", Family: family, Phones: []cases.Phone{{Number: phone}}}}}}
	}
	found := func(f cases.MatchFacts) (refs []string) {
		if err := db.View(ctx, func(r cases.Reader) error {
			cs, err := r.ByMatchKeys(f.Near())
			for _, c := range cs {
				refs = append(refs, c.Reference)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return refs
	}
	var wren cases.Case
	err := db.Update(ctx, clerk, func(w cases.Writer) (err error) {
		if wren, err = w.PutCase(caseOf(1, "Wren", "555-0101"), cases.Event{Kind: "opened"}); err != nil {
			return err
		}
		for i := range largestBlock + 1 {
			if _, err = w.PutCase(caseOf(i+2, "Tern", "555-0199"), cases.Event{Kind: "opened"}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	both := cases.MatchFacts{Born: born + 1, Surnames: []string{"WREN"}, Phones: []string{"555-0101", "555-0199"}}
	if got := fmt.Sprint(found(both)); got != "[AB-2026-0001]" {
		t.Errorf("found %s", got)
	}
	wren.Infant.Family, wren.Family.Guardians[0].Family = "Lark", "Lark"
	if err := db.Update(ctx, clerk, func(w cases.Writer) error {
		_, err := w.PutCase(wren, cases.Event{Kind: "renamed"})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if got := found(cases.MatchFacts{Born: born, Surnames: []string{"Wren"}}); got != nil {
		t.Errorf("found by the old name: %s", got)
	}
	if got := fmt.Sprint(found(cases.MatchFacts{Born: born, Surnames: []string{"Lark"}})); got != "[AB-2026-0001]" {
		t.Errorf("found by the new name: %s", got)
	}
	if found(cases.MatchFacts{}) != nil {
		t.Error("found by nothing")
	}
}
