package cases

import (
	"context"
	"slices"
	"strings"
)

// Erasing is a proposal to erase records. It waits for another person.
type Erasing struct {
	By         string   `json:"by"`
	On         Day      `json:"on"`
	Reason     string   `json:"reason"`
	Order      bool     `json:"order,omitempty"` // on an order that the program must follow, whatever the times say
	References []string `json:"references"`
}

// mostErased bounds one proposal, so that a person can look at what it names.
const mostErased = 200

// ErasingWaiting reads the proposal that waits; false for none.
func ErasingWaiting(r Reader) (Erasing, bool, error) {
	var e Erasing
	err := settingInto(r, erasingSetting, &e)
	return e, len(e.References) > 0, err
}

// ProposeErasing proposes to erase records: those whose time is over or, with order, one
// that an order or request names which the program must follow. Nothing is erased before
// another person confirms it.
func (d *Desk) ProposeErasing(ctx context.Context, a Actor, x Erasing) error {
	if err := a.need(EraseRecords); err != nil {
		return err
	}
	x.By, x.Reason = a.Name, strings.TrimSpace(x.Reason)
	return d.store.Update(ctx, a, func(w Writer) error {
		x.On = w.Today()
		switch _, waits, err := ErasingWaiting(w); {
		case err != nil:
			return err
		case waits:
			return Errorf(Refused, "A proposal waits already. Confirm it or take it back first.")
		case len(x.References) == 0:
			return FieldError("references", "Select the records to be erased")
		case len(x.References) > mostErased:
			return FieldError("references", "Select at most %d records at a time", mostErased)
		case x.Reason == "":
			return FieldError("reason", "Enter why they are erased. Name nobody: the reason is kept for good")
		}
		list, err := ErasableThrough(w, w.Today())
		if err != nil {
			return err
		}
		for _, ref := range x.References {
			if _, err := mayErase(w, list, ref, &x, x.Reason); err != nil {
				return err
			}
		}
		return putSetting(w, erasingSetting, x)
	})
}

// mayErase gives the rule by which a record may be erased now; list is what may be.
func mayErase(r Reader, list []Erasable, ref string, x *Erasing, reason string) (rule string, err error) {
	c, err := r.ByReference(ref)
	if err != nil {
		if KindOf(err) == NotFound {
			err = FieldError("references", "There is no infant with the reference %s", ref)
		}
		return "", err
	}
	if h := c.HeldLegally(r.Today()); h != nil {
		return "", Errorf(Refused, "%s is under a legal hold since %s. Nothing of it may be erased.", ref, h.On)
	}
	if into := c.MergedInto(); into != "" {
		return "", Errorf(Refused, "%s was merged into %s and goes with it.", ref, into)
	}
	if word := namesInfant(&c, reason); word != "" {
		return "", FieldError("reason", "The reason is kept for good and must name nobody. Leave out %s", word)
	}
	if x.Order {
		return "an order or request that the program must follow", nil
	}
	i := slices.IndexFunc(list, func(e Erasable) bool { return e.Case == c.ID })
	if i < 0 {
		return "", Errorf(Refused, "%s is to be kept longer: its time is not over, or it was opened again.", ref)
	}
	return list[i].Rule, nil
}

// namesInfant gives the word of a text that names an infant, its mother or its case.
func namesInfant(c *Case, text string) string {
	names := []string{c.Infant.Family, c.Infant.Given, c.Reference}
	if c.Family != nil {
		names = append(names, c.Family.Mother)
		for _, g := range c.Family.Guardians {
			names = append(names, g.Family, g.Given)
		}
	}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return strings.ContainsRune(" ,.;:()\n\t\"'", r) })
	for _, n := range names {
		for _, part := range strings.Fields(strings.ToLower(n)) {
			if len(part) > 2 && slices.Contains(words, strings.Trim(part, ",.")) {
				return part
			}
		}
	}
	return ""
}

// DropErasing takes the proposal back.
func (d *Desk) DropErasing(ctx context.Context, a Actor) error {
	if err := a.need(EraseRecords); err != nil {
		return err
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		if _, waits, err := ErasingWaiting(w); err != nil || !waits {
			return orErr(err, Errorf(Refused, "No proposal waits."))
		}
		return putSetting(w, erasingSetting, Erasing{})
	})
}

func orErr(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// ConfirmErasing erases what another person proposed, each record in a transaction of its
// own, and gives what was erased. A record that may not be erased any more, since it was
// opened again or is under a legal hold, is left, and left says why. reason is the
// second person's own.
func (d *Desk) ConfirmErasing(ctx context.Context, a Actor, reason string) (done []Erasure, left []string, err error) {
	if err := a.need(EraseRecords); err != nil {
		return nil, nil, err
	}
	reason = strings.TrimSpace(reason)
	var x Erasing
	var rules []string // for each, read before anything is erased; "" leaves it
	err = d.store.Update(ctx, a, func(w Writer) (err error) {
		var waits bool
		switch x, waits, err = ErasingWaiting(w); {
		case err != nil:
			return err
		case !waits:
			return Errorf(Refused, "No proposal waits.")
		case x.By == a.Name:
			return Errorf(Refused, "You proposed this. Another person must confirm it.")
		case reason == "":
			return FieldError("reason", "Enter why they are erased, in your own words. Name nobody")
		}
		list, err := ErasableThrough(w, w.Today())
		if err != nil {
			return err
		}
		for _, ref := range x.References {
			rule, err := mayErase(w, list, ref, &x, reason)
			if KindOf(err) == Invalid && err != nil && strings.Contains(err.Error(), "must name nobody") {
				return err
			}
			rules = append(rules, rule)
			if err != nil {
				left = append(left, err.Error())
			}
		}
		return putSetting(w, erasingSetting, Erasing{}) // before: its entry names those that go
	})
	if err != nil {
		return nil, nil, err
	}
	for i, ref := range x.References {
		if rules[i] == "" {
			continue
		}
		e := Erasure{Rule: rules[i], ProposedBy: x.By, ConfirmedBy: a.Name}
		err := d.store.Update(ctx, a, func(w Writer) error {
			c, err := w.ByReference(ref)
			if err != nil {
				return err
			}
			e, err = w.Erase(c.ID, e, Event{Kind: "erased", Text: "Record erased", Reason: x.Reason + " / " + reason})
			return err
		})
		if err != nil {
			return done, left, err
		}
		done = append(done, e)
	}
	return done, left, nil
}
