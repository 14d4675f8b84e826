package intake

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// KindUndone is an item that was taken off a case again.
const KindUndone = "taken off a case"

// Undo takes an attached item off its case again, in one transaction: the case
// returns to what it was, apart from what was recorded since; the history keeps both
// steps; letters that only the attachment made due and that have not left are held;
// and the item waits for a new decision. Errors: NotFound, Refused when the item was
// attached to no case, Invalid without a reason.
func (in *Intake) Undo(ctx context.Context, actor cases.Actor, id, reason string) (item cases.Item, err error) {
	reason = strings.TrimSpace(reason)
	if reason == "" {
		return item, cases.FieldError("reason", "is missing; say why this does not belong to the case")
	}
	err = in.store.Update(ctx, actor, func(w cases.Writer) error {
		if item, err = w.Item(id); err != nil {
			return err
		}
		if item.ToRev == 0 || item.Case == "" {
			return cases.Errorf(cases.Refused, "This item was added to no case, so there is nothing to take off.")
		}
		u := undoing{w: w, protocol: in.protocol(), actor: actor, item: &item, reason: reason}
		if err := u.run(); err != nil {
			return err
		}
		item.Due = w.Today()
		item, err = w.PutItem(item)
		return err
	})
	return item, err
}

// undoing is one attachment being taken back.
type undoing struct {
	w        cases.Writer
	protocol *cases.Protocol
	actor    cases.Actor
	item     *cases.Item
	reason   string
	gone     []string // letters that have left and cannot be held any more
}

func (u *undoing) run() error {
	was, err := u.w.Case(u.item.Case)
	if err != nil {
		return err
	}
	fields, err := u.change()
	if err != nil {
		return err
	}
	now, kept, off, err := was.TakeBack(fields)
	if err != nil {
		return err
	}
	today := u.w.Today()
	for _, path := range kept {
		now.ToCheck = append(now.ToCheck, cases.ToCheck{Field: path,
			Reason: "This was changed by a message that was taken off the case since, and then by hand. Check it."})
	}
	reopened := u.reopen(&was, &now)
	if faults := append(now.Faults(today, u.protocol), now.FutureFaults(today)...); len(faults) > 0 {
		return &cases.Error{Kind: cases.Invalid, Field: faults[0].Path, Faults: faults,
			Text: "The case cannot stand without this message, because of what was recorded since. Change that first."}
	}
	if err := u.letters(&was, &now); err != nil {
		return err
	}
	text := "Taken off: " + u.item.Title + ", " + u.item.Position
	if len(off) > 0 {
		text += "; with what was recorded on it since: " + strings.Join(off, ", ")
	}
	if reopened != "" {
		text += "; reopened, because it was closed on this as " + reopened
	}
	if now, err = u.w.PutCase(now, cases.Event{Kind: "attachment-undone", Text: text, Reason: u.reason}); err != nil {
		return err
	}
	u.wait(now.Reference, kept, off)
	if reopened != "" {
		u.item.Top = true
		u.item.Reasons = append(u.item.Reasons, now.Reference+" was closed as "+reopened+" and is open again, because that rested on this. Whoever was told must hear of it.")
	}
	u.item.Reasons = append(u.item.Reasons, u.gone...)
	return u.followers()
}

// followers closes what waits only because of the attachment, such as "confirm the
// death": those items stand beside this one, with its position and a word.
func (u *undoing) followers() error {
	items, err := u.w.ItemsOf(u.item.Document)
	if err != nil {
		return err
	}
	for _, f := range items {
		if f.ID == u.item.ID || f.Decided != nil || Outcome(f.Outcome) != Review || !strings.HasPrefix(f.Position, u.item.Position+", ") {
			continue
		}
		f.Decided = &cases.Decision{As: SetAside, By: u.actor.Name, At: u.w.Now(), Reason: "The message was taken off the case: " + u.reason}
		if _, err := u.w.PutItem(f); err != nil {
			return err
		}
	}
	return nil
}

// change finds what the attachment changed, in the audit trail. Where a later message
// that still is on the case changed the same, that one must go first: what it said
// would be lost with this, or could not be taken off any more.
func (u *undoing) change() ([]cases.FieldChange, error) {
	entries, err := u.w.History(u.item.Case)
	if err != nil {
		return nil, err
	}
	by := map[cases.Rev][]cases.FieldChange{}
	for _, e := range entries {
		by[e.ToRev] = e.Fields
	}
	fields, ok := by[u.item.ToRev]
	if !ok {
		return nil, fmt.Errorf("item %s: the history of its case has no revision %d", u.item.ID, u.item.ToRev)
	}
	items, err := u.w.ItemsOfCase(u.item.Case)
	if err != nil {
		return nil, err
	}
	for _, other := range items {
		if other.ToRev > u.item.ToRev && builtOn(fields, by[other.ToRev]) {
			return nil, cases.Errorf(cases.Refused, "%s, %s, which came on %s, was added later and changed the same values. Take that off first; it can be added again after this.",
				other.Title, other.Position, cases.DayOf(other.At))
		}
	}
	return fields, nil
}

// wait puts the item back on the review list, off its case.
func (u *undoing) wait(reference string, kept, off []string) {
	it := u.item
	it.Reasons = append(it.Reasons, fmt.Sprintf("%s took it off %s on %s: %s.", u.actor.Name, reference, u.w.Today(), strings.TrimSuffix(u.reason, ".")))
	if len(kept) > 0 {
		it.Reasons = append(it.Reasons, "Changed since, and left on "+reference+" to be checked: "+strings.Join(kept, ", ")+".")
	}
	if len(off) > 0 {
		it.Reasons = append(it.Reasons, "Taken off with what was recorded on it since: "+strings.Join(off, ", ")+".")
	}
	if !slices.Contains(it.Related, reference) {
		it.Related = append(it.Related, reference)
	}
	it.Outcome, it.Kind, it.Decided = string(Review), KindUndone, nil
	it.Case, it.Reference, it.FromRev, it.ToRev = "", "", 0, 0
}

// letters brings the letters in step with the case: one that the attachment had held
// returns to where it was, and one that is no longer due and has not left is held.
func (u *undoing) letters(was, now *cases.Case) error {
	made, err := u.w.LettersOf(was.ID)
	if err != nil {
		return err
	}
	for _, l := range made {
		state := l.State
		if i := letterAt(now, &l); i >= 0 && l.State == "held" && now.Letters[i].State != "held" {
			l.State, l.Note = now.Letters[i].State, ""
		}
		if (l.State == "mailed" || l.State == "came-back") && u.stale(was, now, &l) {
			u.gone = append(u.gone, fmt.Sprintf("Letter %s (%s) was mailed because of it. Tell the family what is right.", l.Number, l.Kind))
		}
		if (l.State == "to-print" || l.State == "printed") && u.stale(was, now, &l) {
			l.Note = "Held: what it speaks of was taken off the case."
			if l.State == "printed" {
				l.Note += " Take it out of the stack."
			}
			l.State = "held"
			if i := letterAt(now, &l); i >= 0 {
				now.Letters[i].State = "held"
			}
		}
		if l.State != state {
			l.Changed = u.w.Today()
			if _, err := u.w.PutLetter(l); err != nil {
				return err
			}
		}
	}
	_, err = cases.HoldFamily(u.w, u.protocol, was, now)
	return err
}

func letterAt(c *cases.Case, l *cases.Letter) int {
	return slices.IndexFunc(c.Letters, func(m cases.LetterMade) bool { return m.Kind == l.Kind && m.Occasion == l.Occasion })
}

// stale tells a letter that was due with the attachment and is not without it.
func (u *undoing) stale(was, now *cases.Case, l *cases.Letter) bool {
	return u.due(was, l) && !u.due(now, l)
}

// due tells whether a letter would be due if it had not been made.
func (u *undoing) due(c *cases.Case, l *cases.Letter) bool {
	without := c.Clone()
	without.Letters = slices.DeleteFunc(without.Letters, func(m cases.LetterMade) bool { return m.Kind == l.Kind && m.Occasion == l.Occasion })
	a := u.protocol.Assess(&without, u.w.Today())
	return slices.ContainsFunc(a.LettersDue, func(d cases.LetterDue) bool { return d.Kind == l.Kind && d.Occasion == l.Occasion })
}
