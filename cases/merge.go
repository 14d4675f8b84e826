package cases

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// DuplicateOf says that another case is about the same infant. Once a second person
// agreed, everything is there, and Moved with Siblings says how to bring it back.
type DuplicateOf struct {
	Reference string        `json:"reference" req:"yes"`
	On        Day           `json:"on" req:"yes"`
	By        string        `json:"by" req:"yes"`
	Twins     string        `json:"twins,omitempty" note:"why these are not twins, where that was possible"`
	AgreedOn  Day           `json:"agreed_on,omitempty"`
	AgreedBy  string        `json:"agreed_by,omitempty"`
	AtRev     Rev           `json:"at_rev,omitempty" note:"revision of this case that moved its facts"`
	Moved     []Moved       `json:"moved,omitempty"`
	Siblings  []SiblingLink `json:"siblings,omitempty"`
}

// Moved is one letter, message or item that went to the other case.
type Moved struct {
	What     string `json:"what" req:"yes" enum:"letter message item"`
	ID       string `json:"id" req:"yes"`
	Kind     string `json:"kind,omitempty"`
	By       string `json:"by,omitempty"`
	Occasion string `json:"occasion,omitempty"`
	Now      string `json:"now,omitempty" note:"its occasion in the other case, where that has one of the same"`
	FromRev  Rev    `json:"from_rev,omitempty"`
	ToRev    Rev    `json:"to_rev,omitempty"`
}

// SiblingLink is a sibling's list of references as it was and as the merge made it.
type SiblingLink struct {
	Reference string   `json:"reference" req:"yes"`
	Was       []string `json:"was"`
	Now       []string `json:"now,omitempty"`
}

// Merged is a case whose facts were brought into this one. Its numbers lead here.
type Merged struct {
	Reference  string `json:"reference" req:"yes"`
	On         Day    `json:"on" req:"yes"`
	By         string `json:"by" req:"yes"`
	AgreedBy   string `json:"agreed_by" req:"yes"`
	Laboratory string `json:"laboratory,omitempty"`
	Accession  string `json:"accession,omitempty"`
	AtRev      Rev    `json:"at_rev,omitempty" note:"revision of this case that took the facts"`
}

// KeptApart says that a person told another infant from this one, for good.
type KeptApart struct {
	Reference string `json:"reference" req:"yes"`
	On        Day    `json:"on" req:"yes"`
	By        string `json:"by" req:"yes"`
	Reason    string `json:"reason" req:"yes"`
}

// MergedInto is the reference of the case that has the facts of this one; "" when it was
// not merged.
func (c *Case) MergedInto() string {
	if d := c.DuplicateOf; d != nil && d.AgreedOn != 0 {
		return d.Reference
	}
	return ""
}

// ApartFrom is the word of a person that another infant is not this one, or nil.
func (c *Case) ApartFrom(ref string) *KeptApart {
	for i := range c.KeptApart {
		if c.KeptApart[i].Reference == ref {
			return &c.KeptApart[i]
		}
	}
	return nil
}

// TwinsPossible says why two cases may be about twins; "" when nothing speaks for it.
func TwinsPossible(a, b *Case) string {
	x, y := &a.Infant, &b.Infant
	switch {
	case slices.Contains(a.Siblings, b.Reference) || slices.Contains(b.Siblings, a.Reference):
		return "They are on record as siblings"
	case x.BirthOrder != 0 && y.BirthOrder != 0 && x.BirthOrder != y.BirthOrder:
		return fmt.Sprintf("One was born as number %d, the other as number %d", x.BirthOrder, y.BirthOrder)
	case x.Sex != y.Sex && known(x.Sex) && known(y.Sex):
		return "One is " + x.Sex + ", the other " + y.Sex
	case x.Plurality > 1 || y.Plurality > 1:
		return "One of them was born with others"
	case x.BornAt != "" && y.BornAt != "" && x.BornAt != y.BornAt:
		return fmt.Sprintf("One was born at %s, the other at %s", x.BornAt, y.BornAt)
	}
	return ""
}

func known(sex string) bool { return sex == "female" || sex == "male" }

// ProposeMerge proposes that a case be merged into another, which stays. It closes as
// referred in error once another person agrees (AgreeClosing). twins says why these are
// not twins; it is needed where they may be.
func (d *Desk) ProposeMerge(ctx context.Context, a Actor, id ID, rev Rev, into, reason, twins string) (Case, error) {
	into, reason, twins = strings.ToUpper(strings.TrimSpace(into)), strings.TrimSpace(reason), strings.TrimSpace(twins)
	if err := a.need(MergeCases); err != nil {
		return Case{}, err
	}
	var out Case
	err := d.store.Update(ctx, a, func(w Writer) error {
		other, err := w.ByReference(into)
		if KindOf(err) == NotFound && err != nil {
			return FieldError("duplicate_of.reference", "There is no infant with the reference %s", into)
		}
		if err != nil {
			return err
		}
		ev := Event{Kind: "merge-proposed", Text: "Merging into " + into + " proposed", Reason: reason}
		out, err = ChangeIn(w, d.protocol, id, rev, ev, func(c *Case, today Day) error {
			if err := mayMerge(c, &other, reason, twins); err != nil {
				return err
			}
			if d.protocol.closing(c, today).standing != nil {
				return Errorf(Refused, "%s is closed. Merge the other way round, so that it stays, or reopen it first.", c.Reference)
			}
			if d.protocol.closing(c, today).proposed != nil {
				return Errorf(Refused, "A closing of %s waits for agreement. It has to be agreed to or sent back first.", c.Reference)
			}
			c.DuplicateOf = &DuplicateOf{Reference: other.Reference, On: today, By: a.Name, Twins: twins}
			c.Closures = append(c.Closures, Closure{On: today, As: "duplicate", By: a.Name, Reason: "The same infant as " + other.Reference + ": " + reason, RestsOn: testDays(c)})
			return nil
		})
		return err
	})
	return out, err
}

func testDays(c *Case) []Day {
	out := []Day{}
	for i := range c.SweatTests {
		out = append(out, c.SweatTests[i].On)
	}
	return out
}

func mayMerge(c, other *Case, reason, twins string) error {
	switch apart := c.ApartFrom(other.Reference); {
	case c.ID == other.ID:
		return FieldError("duplicate_of.reference", "This is the same case. Enter the reference of the other one")
	case other.MergedInto() != "" || other.DuplicateOf != nil:
		return FieldError("duplicate_of.reference", "%s is itself a duplicate of %s. Enter that one", other.Reference, other.DuplicateOf.Reference)
	case c.DuplicateOf != nil:
		return Errorf(Refused, "Merging %s into %s waits for agreement already.", c.Reference, c.DuplicateOf.Reference)
	case len(c.Merged) > 0:
		return Errorf(Refused, "Others were merged into %s. Merge the other way round, so that it stays.", c.Reference)
	case apart != nil:
		return Errorf(Refused, "%s said on %s that %s and %s are two infants: %s", apart.By, apart.On, c.Reference, other.Reference, apart.Reason)
	case reason == "":
		return FieldError("reason", "Enter what shows that this is one infant")
	}
	if why := TwinsPossible(c, other); why != "" && twins == "" {
		return FieldError("duplicate_of.twins", "%s. Enter how it is known that these are not twins", why)
	}
	return nil
}

// KeepApart writes in two cases that they are about two infants, for good.
func (d *Desk) KeepApart(ctx context.Context, a Actor, id ID, rev Rev, other, reason string) (Case, error) {
	other, reason = strings.ToUpper(strings.TrimSpace(other)), strings.TrimSpace(reason)
	var out Case
	if err := a.need(MergeCases); err != nil {
		return out, err
	}
	if reason == "" {
		return out, FieldError("reason", "Enter what shows that these are two infants")
	}
	err := d.store.Update(ctx, a, func(w Writer) error {
		o, err := w.ByReference(other)
		if err != nil {
			return err
		}
		c, err := w.Case(id)
		if err != nil {
			return err
		}
		switch {
		case o.ID == id:
			return Errorf(Refused, "This is one case.")
		case c.DuplicateOf != nil && c.DuplicateOf.Reference == o.Reference, o.DuplicateOf != nil && o.DuplicateOf.Reference == c.Reference:
			return Errorf(Refused, "Merging %s and %s is proposed or done. Take that back first.", c.Reference, o.Reference)
		}
		apart := func(id ID, rev Rev, from string) (Case, error) {
			ev := Event{Kind: "kept-apart", Text: "Kept apart from " + from, Reason: reason}
			return ChangeIn(w, d.protocol, id, rev, ev, func(c *Case, today Day) error {
				if c.ApartFrom(from) == nil {
					c.KeptApart = append(c.KeptApart, KeptApart{Reference: from, On: today, By: a.Name, Reason: reason})
				}
				return nil
			})
		}
		if _, err := apart(o.ID, 0, c.Reference); err != nil {
			return err
		}
		out, err = apart(id, rev, o.Reference)
		return err
	})
	return out, err
}
