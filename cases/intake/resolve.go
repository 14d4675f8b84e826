package intake

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// The words for what a person does with a waiting item.
const (
	Accept   = "accept"      // a new case
	Apart    = "keep apart"  // a new case; with a reference it is linked as a sibling
	Same     = "same infant" // add it to the case of the reference
	SetAside = "set aside"   // nothing follows; a reason is required
)

// Choice is a person's decision on a waiting item.
type Choice struct {
	As        string
	Reference string // the case meant by Same, or the sibling meant by Apart
	Reason    string
	Correct   Correction
}

// Correction holds values that the person typed instead of what was sent; zero
// values leave what was sent.
type Correction struct {
	Family, Given, Sex string
	Born               cases.Day
	Variants           []string // one name for each variant and allele; nil leaves what was sent
}

func (k Correction) apply(r *Referral, v *Verdict) {
	set := func(to *string, s string) {
		if s != "" {
			*to = s
		}
	}
	set(&r.Infant.Family, k.Family)
	set(&r.Infant.Given, k.Given)
	set(&r.Infant.Sex, k.Sex)
	if k.Born != 0 {
		r.Infant.Born = Moment{Text: k.Born.String(), Day: k.Born, Clock: r.Infant.Born.Clock, Precision: "day"}
	}
	if k.Variants != nil {
		v.Genes = Genotyping{Names: k.Variants, Reported: true}
	}
}

// Resolve carries out a person's decision on a waiting item. The item keeps its
// outcome, review, and records who decided what. Errors: NotFound for an unknown
// item, Conflict when it was decided before, Invalid with the field for a decision
// that cannot be carried out.
func (in *Intake) Resolve(ctx context.Context, actor cases.Actor, id string, ch Choice) (item cases.Item, err error) {
	err = in.store.Update(ctx, actor, func(w cases.Writer) error {
		if item, err = w.Item(id); err != nil {
			return err
		}
		if item.Decided != nil {
			return cases.Errorf(cases.Conflict, "%s decided on this item before: %s.", item.Decided.By, item.Decided.As)
		}
		p := &placer{w: w, finder: newFinder(w, in.protocol()), in: in, protocol: in.protocol(), today: w.Today(), job: &job{hash: item.Document}}
		if err := p.resolve(actor, &item, ch); err != nil {
			return err
		}
		item.Decided = &cases.Decision{As: ch.As, By: actor.Name, At: w.Now(), Reason: strings.TrimSpace(ch.Reason)}
		item, err = w.PutItem(item)
		return err
	})
	return item, err
}

func (p *placer) resolve(actor cases.Actor, item *cases.Item, ch Choice) error {
	var rec Record
	if len(item.Read) > 0 {
		if err := json.Unmarshal(item.Read, &rec); err != nil {
			return fmt.Errorf("item %s: %w", item.ID, err)
		}
	}
	it := &Item{Label: item.Position, Referral: rec.Referral, Problems: rec.Problems, Kind: rec.Kind}
	v := Decide(it, p.in.settings)
	v.Outcome = Review
	ch.Correct.apply(&it.Referral, &v)
	switch ch.As {
	case SetAside:
		if strings.TrimSpace(ch.Reason) == "" {
			return cases.FieldError("reason", "is missing; say why this is set aside")
		}
		return p.w.Note(cases.Event{Kind: "item-set-aside", Text: item.Title + ", " + item.Position, Reason: ch.Reason})
	case Same:
		return p.addTo(actor, it, &v, item, ch)
	case Accept, Apart:
		return p.accept(it, &v, item, ch)
	}
	return cases.FieldError("as", "must be %q, %q, %q or %q", Accept, Apart, Same, SetAside)
}

// accept opens a case by a person's decision.
func (p *placer) accept(it *Item, v *Verdict, item *cases.Item, ch Choice) error {
	r := &it.Referral
	if r.Infant.Born.Day == 0 {
		return cases.FieldError("born", "is missing or not a real day; a case needs the birth date")
	}
	var ms []match
	if ch.As == Apart && ch.Reference != "" {
		other, err := p.w.ByReference(ch.Reference)
		if err != nil {
			return err
		}
		ms = []match{{Case: other, Level: twin}}
	}
	c := toCase(it, v, 0, p.today)
	if left := settle(&c, p.today, p.protocol); len(left) > 0 {
		return &cases.Error{Kind: cases.Invalid, Text: "The case cannot be opened.", Faults: left}
	}
	return p.create(it, item, c, ms)
}

// addTo adds what was sent to the case that a person named.
func (p *placer) addTo(actor cases.Actor, it *Item, v *Verdict, item *cases.Item, ch Choice) error {
	if ch.Reference == "" {
		return cases.FieldError("reference", "is missing; say which case is meant")
	}
	c, err := p.w.ByReference(ch.Reference)
	if err != nil {
		return err
	}
	now := c.Clone()
	r := &it.Referral
	a := adder{c: &now, r: r, force: true}
	if r.Screen {
		fresh := toCase(it, v, 0, p.today)
		settle(&fresh, p.today, p.protocol)
		a.merge(&fresh)
	}
	text := item.Kind + ": " + strings.Join(append(siteLines(r), slices.Clone(item.Reasons)...), " ")
	now.Notes = append(now.Notes, cases.Note{On: p.today, By: actor.Name, Text: text})
	if faults := append(now.Faults(p.today, p.protocol), now.FutureFaults(p.today)...); len(faults) > 0 {
		return &cases.Error{Kind: cases.Invalid, Text: "This cannot be added to " + c.Reference + ".", Faults: faults}
	}
	if now, err = p.finder.put(now, cases.Event{Kind: "result-attached", Text: "Added by decision: " + item.Title + ", " + item.Position, Reason: ch.Reason}); err != nil {
		return err
	}
	item.Case, item.Reference = now.ID, now.Reference
	return nil
}
