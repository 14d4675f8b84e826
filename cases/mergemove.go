package cases

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// merge moves everything of a case into the one it repeats, in the caller's transaction.
// Both entries of the audit trail hold what changed, so that it can be taken back.
func (d *Desk) merge(w Writer, a Actor, dup *Case, rev Rev) (Case, error) {
	into, err := w.ByReference(dup.DuplicateOf.Reference)
	if err != nil {
		return *dup, err
	}
	if into.DuplicateOf != nil {
		return *dup, Errorf(Refused, "%s became a duplicate of %s meanwhile. Send this back.", into.Reference, into.DuplicateOf.Reference)
	}
	moved, err := w.MoveTo(dup.ID, into.ID)
	if err != nil {
		return *dup, err
	}
	links, err := relink(w, dup, &into)
	if err != nil {
		return *dup, err
	}
	if into, err = w.Case(into.ID); err != nil { // a sibling of both may have been the other
		return *dup, err
	}
	facts := dup.Clone()
	renameMoved(&facts, moved)
	ev := Event{Kind: "merged", Text: "Merged with " + dup.Reference, Reason: dup.latestClosure(w.Today()).Reason}
	_, err = ChangeIn(w, d.protocol, into.ID, 0, ev, func(c *Case, today Day) error {
		c.absorb(&facts)
		m := Merged{Reference: dup.Reference, On: today, By: dup.DuplicateOf.By, AgreedBy: a.Name, AtRev: c.Rev + 1}
		if s := dup.Referral.Screen; s != nil {
			m.Laboratory, m.Accession = s.Laboratory, s.Accession
		}
		c.Merged = append(c.Merged, m)
		return nil
	})
	if err != nil {
		return *dup, err
	}
	return d.agreeIn(w, a, dup.ID, rev, Event{Kind: "closing-agreed", Text: "Merged into " + into.Reference}, func(c *Case) {
		o := c.DuplicateOf
		o.AgreedBy, o.AgreedOn, o.AtRev, o.Moved, o.Siblings = a.Name, w.Today(), c.Rev+1, moved, links
		c.Contacts, c.Bookings, c.SweatTests, c.Holds, c.Notes, c.ToCheck = nil, nil, nil, nil, nil, nil
		c.Letters, c.Messages, c.Releases = nil, nil, nil
	})
}

// relink lets siblings name the case that stays, and gives their lists before and after.
func relink(w Writer, dup, into *Case) (out []SiblingLink, err error) {
	for _, ref := range dup.Siblings {
		sib, err := w.ByReference(ref)
		if KindOf(err) == NotFound && err != nil || err == nil && (sib.ID == into.ID || !slices.Contains(sib.Siblings, dup.Reference)) {
			continue
		}
		if err != nil {
			return nil, err
		}
		link := SiblingLink{Reference: sib.Reference, Was: slices.Clone(sib.Siblings)}
		for _, s := range sib.Siblings {
			if s == dup.Reference {
				s = into.Reference
			}
			if !slices.Contains(link.Now, s) {
				link.Now = append(link.Now, s)
			}
		}
		sib.Siblings = link.Now
		if _, err := w.PutCase(sib, Event{Kind: "sibling-merged", Text: "Sibling " + dup.Reference + " is " + into.Reference}); err != nil {
			return nil, err
		}
		out = append(out, link)
	}
	return out, nil
}

// renameMoved gives letters and messages of a case the occasions they have in another.
func renameMoved(c *Case, moved []Moved) {
	for _, m := range moved {
		if m.Now == "" {
			continue
		}
		for i := range c.Letters {
			if l := &c.Letters[i]; m.What == "letter" && l.Kind == m.Kind && l.Occasion == m.Occasion {
				l.Occasion = m.Now
			}
		}
		for i := range c.Messages {
			if x := &c.Messages[i]; m.What == "message" && x.Kind == m.Kind && x.Occasion == m.Occasion && x.By == m.By {
				x.Occasion = m.Now
			}
		}
	}
}

// absorb adds what another case of the same infant has. Of what can be only once, the
// case that stays keeps its own; facts that both have stay once.
func (c *Case) absorb(d *Case) {
	c.Contacts = append(c.Contacts, fresh(c.Contacts, d.Contacts)...)
	c.Bookings = append(c.Bookings, fresh(c.Bookings, d.Bookings)...)
	c.SweatTests = append(c.SweatTests, fresh(c.SweatTests, d.SweatTests)...)
	c.Holds = append(c.Holds, fresh(c.Holds, d.Holds)...)
	c.Notes = append(c.Notes, fresh(c.Notes, d.Notes)...)
	c.ToCheck = append(c.ToCheck, fresh(c.ToCheck, d.ToCheck)...)
	c.Flags = append(c.Flags, fresh(c.Flags, d.Flags)...)
	c.Letters = append(c.Letters, d.Letters...)
	c.Messages = append(c.Messages, d.Messages...)
	c.Releases = append(c.Releases, fresh(c.Releases, d.Releases)...)
	c.LegalHolds = append(c.LegalHolds, fresh(c.LegalHolds, d.LegalHolds)...)
	c.Siblings = slices.DeleteFunc(c.Siblings, func(ref string) bool { return ref == d.Reference })
	for _, ref := range d.Siblings {
		if ref != c.Reference && !slices.Contains(c.Siblings, ref) {
			c.Siblings = append(c.Siblings, ref)
		}
	}
	orZero(&c.Genotype, d.Genotype)
	orZero(&c.Family, d.Family)
	orZero(&c.PrimaryCare, d.PrimaryCare)
	orZero(&c.Declined, d.Declined)
	orZero(&c.Handover, d.Handover)
	orZero(&c.RepeatOrdered, d.RepeatOrdered)
	orZero(&c.Referral.Screen, d.Referral.Screen)
	c.Infant.absorb(&d.Infant)
}

func (in *Infant) absorb(d *Infant) {
	in.Weights = append(in.Weights, fresh(in.Weights, d.Weights)...)
	in.Records = append(in.Records, fresh(in.Records, d.Records)...)
	in.Former = append(in.Former, fresh(in.Former, d.Former)...)
	names := d.FormerNames
	if (d.Family != in.Family || d.Given != in.Given) && d.Family+d.Given != "" {
		names = append([]string{d.Family + ", " + d.Given}, names...)
	}
	for _, name := range names {
		if !slices.Contains(in.FormerNames, name) {
			in.FormerNames = append(in.FormerNames, name)
		}
	}
	if !known(in.Sex) && known(d.Sex) {
		in.Sex = d.Sex
	}
	orZero(&in.Given, d.Given)
	orZero(&in.Family, d.Family)
	orZero(&in.BornAt, d.BornAt)
	orZero(&in.Plurality, d.Plurality)
	orZero(&in.BirthOrder, d.BirthOrder)
	orZero(&in.Gestation, d.Gestation)
	orZero(&in.BirthWeightG, d.BirthWeightG)
	orZero(&in.Died, d.Died)
	orZero(&in.DiedReported, d.DiedReported)
	orZero(&in.Facility, d.Facility)
}

func orZero[T comparable](to *T, from T) {
	var zero T
	if *to == zero {
		*to = from
	}
}

// fresh gives the entries of a list that another has not, as they are written.
func fresh[T any](have, more []T) (out []T) {
	seen := map[string]bool{}
	for i := range have {
		seen[written(&have[i])] = true
	}
	for i := range more {
		if !seen[written(&more[i])] {
			out = append(out, more[i])
		}
	}
	return out
}

func written(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(fmt.Sprintf("cases: a fact that cannot be written: %v", err)) // every field has a JSON form
	}
	return string(b)
}

// Unmerge takes a merge back: both cases are what they were, with what was recorded since
// staying where it was recorded. Changed names what came with the merge and was changed
// since; a person has to look at these.
func (d *Desk) Unmerge(ctx context.Context, a Actor, id ID, rev Rev, ref, reason string) (out Case, changed []string, err error) {
	if err := a.need(MergeCases); err != nil {
		return out, nil, err
	}
	if reason = strings.TrimSpace(reason); reason == "" {
		return out, nil, FieldError("reason", "Enter what shows that these are two infants")
	}
	err = d.store.Update(ctx, a, func(w Writer) error {
		into, err := w.Case(id)
		if err != nil {
			return err
		}
		dup, err := w.ByReference(ref)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(into.Merged, func(m Merged) bool { return m.Reference == dup.Reference })
		if at < 0 || dup.MergedInto() != into.Reference {
			return Errorf(Refused, "%s is not merged into %s.", dup.Reference, into.Reference)
		}
		if at != len(into.Merged)-1 {
			return Errorf(Refused, "%s was merged into %s later. Take that back first.", into.Merged[len(into.Merged)-1].Reference, into.Reference)
		}
		o := dup.DuplicateOf
		ev := Event{Kind: "unmerged", Text: "Merge with " + dup.Reference + " taken back", Reason: reason}
		out, changed, err = d.takeBack(w, &into, rev, into.Merged[at].AtRev, ev)
		if err != nil {
			return err
		}
		ev.Text = "Merge into " + into.Reference + " taken back"
		if _, more, err := d.takeBack(w, &dup, 0, o.AtRev, ev); err != nil {
			return err
		} else if len(more) > 0 {
			changed = append(changed, more...)
		}
		if err := unlink(w, o.Siblings, into.Reference, dup.Reference); err != nil {
			return err
		}
		if err := w.MoveBack(o.Moved, dup.ID); err != nil {
			return err
		}
		if err := d.sendBackMerge(w, a, dup.ID, reason); err != nil {
			return err
		}
		for _, id := range []ID{dup.ID, into.ID} {
			if err := asLetters(w, id); err != nil {
				return err
			}
		}
		out, err = w.Case(id)
		return err
	})
	return out, changed, err
}

// asLetters writes in a case what became of its letters: some were held, mailed or came
// back while they belonged to the other.
func asLetters(w Writer, id ID) error {
	c, err := w.Case(id)
	if err != nil {
		return err
	}
	letters, err := w.LettersOf(id)
	if err != nil {
		return err
	}
	changed := false
	for _, l := range letters {
		for i := range c.Letters {
			if m := &c.Letters[i]; m.Kind == l.Kind && m.Occasion == l.Occasion && m.State != l.State {
				m.State, changed = l.State, true
			}
		}
	}
	if !changed {
		return nil
	}
	_, err = w.PutCase(c, Event{Kind: "letters-as-they-are", Text: "States of letters written down anew"})
	return err
}

// takeBack writes a case without the change that made a revision of it.
func (d *Desk) takeBack(w Writer, c *Case, rev, made Rev, ev Event) (Case, []string, error) {
	entries, err := w.History(c.ID)
	if err != nil {
		return *c, nil, err
	}
	i := slices.IndexFunc(entries, func(e Entry) bool { return e.ToRev == made })
	if i < 0 {
		return *c, nil, Errorf(Refused, "The change of %s that merged it is not on record.", c.Reference)
	}
	var changed []string
	out, err := ChangeIn(w, d.protocol, c.ID, rev, ev, func(k *Case, _ Day) error {
		now, kept, off, err := k.TakeBack(entries[i].Fields)
		if err != nil {
			return err
		}
		for _, path := range append(kept, off...) {
			changed = append(changed, c.Reference+": "+path)
		}
		*k = now
		return nil
	})
	return out, changed, err
}

// unlink gives siblings the references they had, unless somebody changed them since.
func unlink(w Writer, links []SiblingLink, into, dup string) error {
	for _, l := range links {
		sib, err := w.ByReference(l.Reference)
		if KindOf(err) == NotFound && err != nil {
			continue
		}
		if err != nil {
			return err
		}
		switch {
		case slices.Equal(sib.Siblings, l.Now):
			sib.Siblings = l.Was
		case !slices.Contains(sib.Siblings, dup):
			sib.Siblings = append(sib.Siblings, dup)
		}
		if _, err := w.PutCase(sib, Event{Kind: "sibling-unmerged", Text: "Sibling " + dup + " is not " + into}); err != nil {
			return err
		}
	}
	return nil
}

// sendBackMerge takes back the proposal itself, once the merge is undone.
func (d *Desk) sendBackMerge(w Writer, a Actor, id ID, reason string) error {
	ev := Event{Kind: "closing-sent-back", Text: "Merging sent back", Reason: reason}
	_, err := ChangeIn(w, d.protocol, id, 0, ev, func(c *Case, today Day) error {
		c.DuplicateOf = nil
		if k := d.protocol.closing(c, today).proposed; k != nil {
			k.Reopened = &Reopened{On: today, By: a.Name, Reason: reason}
		}
		return nil
	})
	return err
}
