package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// known handles an item about an infant that certainly has a case. A correction
// never closes or changes the case by itself: a person is told.
func (p *placer) known(it *Item, v *Verdict, item *cases.Item, m match) error {
	r, c := &it.Referral, m.Case
	item.Case, item.Reference = c.ID, c.Reference
	closed := p.closed(&c)
	v.onFile = c.Genotype != nil && len(c.Genotype.Variants) >= 2
	if r.SweatTest && !r.Screen {
		return p.sweatKnown(it, v, item, c)
	}
	switch {
	case v.Outcome == Review:
		if v.Kind == KindCannot && r.Screen {
			item.Kind = KindAdds
		}
		item.Reasons = append(item.Reasons, "It is about the infant of "+c.Reference+".")
		return nil
	case r.Corrected || r.Deleted:
		item.Outcome, item.Kind = string(Review), KindCorrected
		item.Reasons = append(item.Reasons, fmt.Sprintf("The laboratory corrected or took back a result of %s. The case stays as it is until a person decides.", c.Reference))
		return nil
	case v.Outcome == NoCase && closed:
		item.Reasons = append(item.Reasons, "In range; "+c.Reference+" is closed.")
		return nil
	case v.Outcome == NoCase:
		item.Outcome, item.Kind = string(Review), KindLook
		item.Reasons = append(item.Reasons, fmt.Sprintf("In range, but %s is open for this infant. A person decides; the case stays open.", c.Reference))
		return nil
	case closed:
		item.Outcome, item.Kind = string(Review), KindLook
		item.Reasons = append(item.Reasons, fmt.Sprintf("Out of range, and %s of this infant is closed. Decide whether to reopen it.", c.Reference))
		return nil
	}
	return p.attach(it, v, item, c)
}

// attach adds to a case what it does not have yet. What differs is kept as text
// beside the case; what is the same is a duplicate.
func (p *placer) attach(it *Item, v *Verdict, item *cases.Item, c cases.Case) error {
	r := &it.Referral
	now := c.Clone()
	a := adder{c: &now, r: r}
	fresh := toCase(it, v, dayOf(p.job.doc.Sent), p.today)
	settle(&fresh, p.today, p.protocol)
	a.merge(&fresh)
	if a.ask != "" {
		item.Outcome, item.Kind = string(Review), KindAdds
		item.Top = item.Top || a.top
		item.Reasons = append(item.Reasons, a.ask)
		return nil
	}
	if len(a.added) == 0 && len(a.differs) == 0 {
		item.Outcome, item.Kind, item.Key = string(Duplicate), KindHere, ""
		item.Reasons = append(item.Reasons, "The same result is already on "+c.Reference+".")
		return nil
	}
	if faults := append(now.Faults(p.today, p.protocol), now.FutureFaults(p.today)...); len(faults) > 0 {
		item.Outcome, item.Kind = string(Review), KindAdds
		for _, f := range faults {
			item.Reasons = append(item.Reasons, "Adding this to "+c.Reference+" is refused: "+f.String()+".")
		}
		return nil
	}
	text := "Result added by " + it.Label
	if len(a.added) > 0 {
		text += ": " + strings.Join(a.added, ", ")
	}
	put, err := p.finder.put(now, cases.Event{Kind: "result-attached", Text: text})
	if err != nil {
		return err
	}
	item.FromRev, item.ToRev = c.Rev, put.Rev
	item.Outcome, item.Kind = string(Attached), KindAdds
	for _, s := range a.added {
		item.Reasons = append(item.Reasons, "Added: "+s+".")
	}
	for _, s := range a.differs {
		item.Reasons = append(item.Reasons, "Differs and was not taken over: "+s+".")
	}
	return nil
}
