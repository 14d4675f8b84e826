package intake

import (
	"fmt"
	"slices"

	"dunlin/cases"
)

// open makes a new case, links it with a twin's, and stands up the item.
func (p *placer) open(it *Item, v *Verdict, item *cases.Item, ms []match) error {
	born := it.Referral.Infant.Born
	if born.Day > p.today {
		item.Outcome, item.Kind = string(Review), KindCannot
		item.Reasons = append(item.Reasons, where(born.At, "PID[1]-7")+fmt.Sprintf("The birth date %s lies in the future; today is %s. Ask the sender, then enter the right one.", born.Day, p.today))
		return nil
	}
	c := toCase(it, v, dayOf(p.job.doc.Sent), p.today)
	for _, m := range ms {
		if m.Level == clash {
			c.ToCheck = append(c.ToCheck, cases.ToCheck{Field: "referral.screen.card_serial", Text: it.Referral.Card,
				Reason: fmt.Sprintf("%s of another infant carries %s. Check the number with the laboratory.", m.Case.Reference, m.Why)})
			item.Reasons = append(item.Reasons, fmt.Sprintf("%s of another infant carries %s.", m.Case.Reference, m.Why))
		}
	}
	if left := settle(&c, p.today, p.protocol); len(left) > 0 {
		item.Outcome, item.Kind = string(Review), KindCannot
		for _, f := range left {
			item.Reasons = append(item.Reasons, "A case cannot be opened: "+f.String()+".")
		}
		return nil
	}
	return p.create(it, item, c, ms)
}

// create writes the case with its reference and its siblings.
func (p *placer) create(it *Item, item *cases.Item, c cases.Case, ms []match) error {
	year, _, _ := c.Referral.On.Date()
	var err error
	if c.Reference, err = p.w.NewReference(year); err != nil {
		return err
	}
	c.Siblings = references(ms, twin)
	c.Prepare()
	text := "Opened from " + it.Label
	if p.job.doc.Name != "" {
		text += " of " + p.job.doc.Name
	}
	if c, err = p.finder.put(c, cases.Event{Kind: "case-opened", Text: text}); err != nil {
		return err
	}
	for _, m := range ms {
		if m.Level != twin {
			continue
		}
		other, err := p.w.Case(m.Case.ID) // as it is by now: what stops a family's mail is written on all siblings
		if err != nil {
			return err
		}
		if slices.Contains(other.Siblings, c.Reference) {
			continue
		}
		other.Siblings = append(slices.Clone(other.Siblings), c.Reference)
		if _, err := p.finder.put(other, cases.Event{Kind: "sibling-linked", Text: "Twin or sibling " + c.Reference + " was opened"}); err != nil {
			return err
		}
		item.Reasons = append(item.Reasons, "Linked with the case of the twin, "+m.Case.Reference+".")
	}
	item.Case, item.Reference = c.ID, c.Reference
	for _, t := range c.ToCheck {
		if s := t.Field + ": " + t.Reason; !slices.Contains(item.Reasons, t.Reason) && !slices.Contains(item.Reasons, s) {
			item.Reasons = append(item.Reasons, s)
		}
	}
	return nil
}

// tell puts a second entry in the review list, beside the outcome of the item
// itself, when a message reports a death: a person must know at once.
func (p *placer) tell(it *Item, item cases.Item) error {
	if !it.Referral.Infant.Deceased || item.Case == "" || item.Outcome != string(Opened) && item.Outcome != string(Attached) {
		return nil
	}
	_, err := p.w.PutItem(cases.Item{Document: item.Document, Position: item.Position + ", death", Outcome: string(Review),
		Kind: KindLook, Title: item.Title, Due: p.today, Case: item.Case, Reference: item.Reference,
		Reasons: []string{"PID[1]-30: The message says that the infant died. All letters and reminders of " + item.Reference + " have stopped. Confirm it, and enter the day."}})
	return err
}
