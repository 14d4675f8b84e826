package cases

import (
	"context"
	"slices"
)

// Desk holds the use cases: the only thing front ends call to change a case. Each
// takes the revision the user saw; when the record has moved on, *Changed says
// what somebody else did and nothing is written.
type Desk struct {
	store    Store
	protocol *Protocol
}

// NewDesk makes a desk over a store with the program's protocol.
func NewDesk(s Store, p *Protocol) *Desk { return &Desk{store: s, protocol: p} }

// Protocol gives the program's values; callers must not change them.
func (d *Desk) Protocol() *Protocol { return d.protocol }

// View runs a read.
func (d *Desk) View(ctx context.Context, f func(Reader) error) error { return d.store.View(ctx, f) }

// OpenCase puts a new case into a running transaction: it gives the reference,
// checks the document and writes. The caller says where it came from in ev.
func OpenCase(w Writer, p *Protocol, c Case, ev Event) (Case, error) {
	c.Document = DocumentName
	if c.Reference == "" {
		year, _, _ := w.Today().Date()
		ref, err := w.NewReference(year)
		if err != nil {
			return c, err
		}
		c.Reference = ref
	}
	if err := check(&c, p, w.Today()); err != nil {
		return c, err
	}
	return w.PutCase(c, ev)
}

// check refuses what the case document refuses, and facts dated in the future.
func check(c *Case, p *Protocol, today Day) error {
	faults := append(c.Faults(max(today, c.Infant.Born), p), c.FutureFaults(today)...)
	if len(faults) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Field: faults[0].Path, Text: "This cannot be recorded.", Faults: faults}
}

// ChangeIn changes one case inside a running transaction: it reads the case,
// compares the revision (0: whatever it is), lets f change a copy, checks the
// result and writes it with its indexes and audit entry. Where the change stops mail
// to the family, letters not yet mailed are held in the same transaction.
func ChangeIn(w Writer, p *Protocol, id ID, rev Rev, ev Event, f func(c *Case, today Day) error) (Case, error) {
	old, err := w.Case(id)
	if err != nil {
		return Case{}, err
	}
	if rev != 0 && rev != old.Rev {
		ch := &Changed{Want: rev, Have: old.Rev, Now: old}
		if entries, err := w.History(id); err == nil {
			for _, e := range entries {
				if e.ToRev > rev {
					ch.By = append(ch.By, e)
				}
			}
			slices.SortFunc(ch.By, func(a, b Entry) int { return int(int64(a.Seq) - int64(b.Seq)) })
		}
		return old, ch
	}
	c := old.Clone()
	if err := f(&c, w.Today()); err != nil {
		return old, err
	}
	if err := check(&c, p, w.Today()); err != nil {
		return old, err
	}
	c.Prepare()
	if _, err := HoldFamily(w, p, &old, &c); err != nil {
		return old, err
	}
	return w.PutCase(c, ev)
}

// Change is ChangeIn in its own transaction, for an actor with a right.
func (d *Desk) Change(ctx context.Context, a Actor, r Right, id ID, rev Rev, ev Event, f func(c *Case, today Day) error) (Case, error) {
	if err := a.need(r); err != nil {
		return Case{}, err
	}
	var out Case
	err := d.store.Update(ctx, a, func(w Writer) error {
		var err error
		out, err = ChangeIn(w, d.protocol, id, rev, ev, f)
		return err
	})
	return out, err
}

// Open opens a case entered by hand.
func (d *Desk) Open(ctx context.Context, a Actor, c Case, ev Event) (Case, error) {
	if err := a.need(WorkIntake); err != nil {
		return Case{}, err
	}
	var out Case
	err := d.store.Update(ctx, a, func(w Writer) error {
		var err error
		out, err = OpenCase(w, d.protocol, c, ev)
		return err
	})
	return out, err
}
