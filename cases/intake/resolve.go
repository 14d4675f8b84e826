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
	Apart    = "keep apart"  // a new case; with a reference and a link, a sibling's
	Same     = "same infant" // add it to the case of the reference
	SetAside = "set aside"   // nothing follows; a reason is required
	SendBack = "send back"   // the sender is asked for it again, with the faults named
)

// Choice is a person's decision on a waiting item.
type Choice struct {
	As        string
	Reference string            // the case meant by Same, or the sibling meant by Apart
	Link      bool              // with Apart: link both cases as siblings
	Reason    string            // why; required to set aside
	Read      func(*Referral)   // corrects what was read, nil for nothing
	Case      func(*cases.Case) // corrects the case to open, nil for nothing
}

// Over gives the same intake on another store, such as one that keeps a form's token
// in the same transaction.
func (in *Intake) Over(s cases.Store) *Intake {
	other := *in
	other.store = s
	return &other
}

// Resolve carries out a person's decision on a waiting item, in one transaction. The
// item keeps its outcome, review, and records who decided what. Errors: NotFound for
// an unknown item, Conflict when it was decided before, Invalid with the field for a
// decision that cannot be carried out.
func (in *Intake) Resolve(ctx context.Context, actor cases.Actor, id string, ch Choice) (item cases.Item, err error) {
	set, err := in.inForce(ctx)
	if err != nil {
		return item, err
	}
	err = in.store.Update(ctx, actor, func(w cases.Writer) error {
		if item, err = w.Item(id); err != nil {
			return err
		}
		switch {
		case item.Decided != nil:
			return cases.Errorf(cases.Conflict, "%s decided on this item before: %s.", item.Decided.By, item.Decided.As)
		case Outcome(item.Outcome) != Review:
			return cases.Errorf(cases.Refused, "This item does not wait for a decision.")
		}
		p := &placer{w: w, finder: newFinder(w, in.protocol()), in: in, protocol: in.protocol(), today: w.Today(), job: &job{hash: item.Document, set: set}}
		if err := p.resolve(actor, &item, ch); err != nil {
			return err
		}
		item.Decided = &cases.Decision{As: ch.As, By: actor.Name, At: w.Now(), Reason: strings.TrimSpace(ch.Reason)}
		item, err = w.PutItem(item)
		return err
	})
	return item, err
}

// stored gives an item back as it was read, and what the rule says of it.
func stored(item *cases.Item) (it *Item, rec Record, err error) {
	if len(item.Read) > 0 {
		if err := json.Unmarshal(item.Read, &rec); err != nil {
			return nil, rec, fmt.Errorf("item %s: %w", item.ID, err)
		}
	}
	return &Item{Label: item.Position, Referral: rec.Referral, Problems: rec.Problems, Kind: rec.Kind}, rec, nil
}

func (p *placer) resolve(actor cases.Actor, item *cases.Item, ch Choice) error {
	it, rec, err := stored(item)
	if err != nil {
		return err
	}
	if ch.Read != nil {
		ch.Read(&it.Referral)
		it.Kind = Readable
	}
	v := Decide(it, p.job.set.For(it.Referral.Sender, it.Referral.Program))
	v.Outcome = Review
	p.mail = rec.Mail
	switch ch.As {
	case SetAside, SendBack:
		if ch.As == SetAside && strings.TrimSpace(ch.Reason) == "" {
			return cases.FieldError("reason", "is missing; say why this is set aside")
		}
		return p.w.Note(cases.Event{Kind: "item-decided", Text: ch.As + ": " + item.Title + ", " + item.Position, Reason: ch.Reason})
	case Same:
		return p.addTo(actor, it, &v, item, &rec, ch)
	case Accept, Apart:
		return p.accept(it, &v, item, ch)
	}
	return cases.FieldError("as", "must be %q, %q, %q, %q or %q", Accept, Apart, Same, SetAside, SendBack)
}

// accept opens a case by a person's decision.
func (p *placer) accept(it *Item, v *Verdict, item *cases.Item, ch Choice) error {
	c := toCase(it, v, p.mail, p.today)
	sweat := it.Referral.SweatTest && !it.Referral.Screen
	if !it.Referral.Screen { // a mail or a sweat result: nothing of a newborn screen was read
		c.Referral.Screen = nil
	}
	if sweat {
		c.Referral.Route = "clinical"
	}
	if ch.Case != nil {
		ch.Case(&c)
	}
	if c.Infant.Born == 0 {
		return cases.FieldError("infant.born", "is missing or not a real day; a case needs the birth date")
	}
	var ms []match
	if ch.As == Apart && ch.Link {
		if ch.Reference == "" {
			return cases.FieldError("reference", "is missing; say which case is the sibling's")
		}
		other, err := p.w.ByReference(ch.Reference)
		if err != nil {
			return err
		}
		ms = []match{{Case: other, Level: twin}}
	}
	if left := settle(&c, p.today, p.protocol); len(left) > 0 {
		return &cases.Error{Kind: cases.Invalid, Field: left[0].Path, Text: "The case cannot be opened.", Faults: left}
	}
	if err := p.create(it, item, c, ms); err != nil || !sweat {
		return err
	}
	opened, err := p.w.Case(item.Case)
	if err != nil {
		return err
	}
	return p.addByHand(it, item, opened)
}

// addTo adds what was sent to the case that a person named.
func (p *placer) addTo(actor cases.Actor, it *Item, v *Verdict, item *cases.Item, rec *Record, ch Choice) error {
	if ch.Reference == "" {
		return cases.FieldError("reference", "is missing; say which case is meant")
	}
	c, err := p.w.ByReference(ch.Reference)
	if err != nil {
		return err
	}
	r := &it.Referral
	if r.SweatTest && !r.Screen {
		return p.addByHand(it, item, c)
	}
	now := c.Clone()
	a := adder{c: &now, r: r, force: true}
	if r.Screen {
		fresh := toCase(it, v, p.mail, p.today)
		settle(&fresh, p.today, p.protocol)
		a.merge(&fresh)
	}
	text := item.Kind + ": " + strings.Join(append(siteLines(r), slices.Clone(item.Reasons)...), " ")
	if rec.own() {
		text += " " + cut(fresh(rec.About.Text), maxNote)
	}
	now.Notes = append(now.Notes, cases.Note{On: p.today, By: actor.Name, Text: text})
	if faults := append(now.Faults(p.today, p.protocol), now.FutureFaults(p.today)...); len(faults) > 0 {
		return &cases.Error{Kind: cases.Invalid, Field: faults[0].Path, Text: "This cannot be added to " + c.Reference + ".", Faults: faults}
	}
	if now, err = p.finder.put(now, cases.Event{Kind: "result-attached", Text: "Added by decision: " + item.Title + ", " + item.Position, Reason: ch.Reason}); err != nil {
		return err
	}
	item.Case, item.Reference, item.FromRev, item.ToRev = now.ID, now.Reference, c.Rev, now.Rev
	return nil
}

// addByHand adds a sweat result to the case that a person named. What still keeps it
// from being added is said, and nothing is written.
func (p *placer) addByHand(it *Item, item *cases.Item, c cases.Case) error {
	trial := *item
	trial.Reasons = nil
	if err := p.addSweat(it, &trial, c, true); err != nil {
		return err
	}
	if trial.ToRev == 0 && Outcome(trial.Outcome) != Duplicate {
		return cases.Errorf(cases.Refused, "This cannot be added to %s yet. %s", c.Reference, strings.Join(trial.Reasons, " "))
	}
	item.Case, item.Reference, item.FromRev, item.ToRev = c.ID, c.Reference, trial.FromRev, trial.ToRev
	item.Reasons = append(item.Reasons, trial.Reasons...)
	return nil
}
