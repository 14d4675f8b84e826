package store

import (
	"errors"
	"fmt"
	"strconv"

	"dunlin/cases"
)

// NewID gives an identifier that sorts after all those of earlier milliseconds
// and after those made before it in this transaction.
func (w *writer) NewID() string {
	id, err := w.ids.next()
	if err != nil {
		panic(err) // the source of randomness is gone; nothing sensible can follow
	}
	return id
}

// NewReference gives the next case reference of a year, such as AB-2026-0042.
// A transaction that fails gives the number back.
func (w *writer) NewReference(year int) (string, error) {
	name := "reference " + strconv.Itoa(year)
	for {
		n, err := w.count(name)
		if err != nil {
			return "", err
		}
		ref := fmt.Sprintf("%s-%04d-%04d", w.db.opt.Program, year, n)
		if _, taken := w.db.cases.owner(w.tx, "reference", closed(ref)); !taken {
			return ref, nil
		}
	}
}

// PutCase writes a case, its indexes and an audit entry together. A new case
// has no revision; it gets an identifier and a reference when it has none. When
// somebody else wrote the case since revision c.Rev, the error is *cases.Changed
// with the case as it is now and what was done.
func (w *writer) PutCase(c cases.Case, e cases.Event) (cases.Case, error) {
	if c.ID == "" {
		c.ID = cases.ID(w.NewID())
	} else if err := checkID(string(c.ID)); err != nil {
		return c, &cases.Error{Kind: cases.Invalid, Text: "The case cannot be saved under this address.", Err: err}
	}
	if f := c.FutureFaults(w.Today()); len(f) > 0 {
		return c, &cases.Error{Kind: cases.Invalid, Field: f[0].Path, Text: "The case was not saved: a date lies in the future.", Faults: f}
	}
	if c.Document == "" {
		c.Document = cases.DocumentName
	}
	if c.Reference == "" {
		var err error
		year, _, _ := w.Today().Date()
		if c.Reference, err = w.NewReference(year); err != nil {
			return c, err
		}
	}
	done, err := w.db.cases.put(w.tx, &caseRecord{Case: c})
	if err != nil {
		return c, w.caseFault(&c, err)
	}
	fields, err := changes(done.oldJSON, done.newJSON, "")
	if err != nil {
		return c, err
	}
	err = w.record(cases.Entry{Event: e, Case: c.ID, FromRev: c.Rev, ToRev: done.now.Rev, Fields: fields})
	return done.now.Case, err
}

// caseFault turns a refusal of the table into words.
func (w *writer) caseFault(c *cases.Case, err error) error {
	var s *stale
	var k *clash
	switch {
	case errors.As(err, &s):
		return w.changed(c, s)
	case errors.As(err, &k):
		text := "Another infant has this number already."
		if other, e := w.caseAt(k.owner); e == nil {
			text = fmt.Sprintf("The reference %s belongs to another infant (%s).", c.Reference, other.Infant.Born)
		}
		return &cases.Error{Kind: cases.Conflict, Field: "reference", Text: text, Err: err}
	}
	return err
}

func (w *writer) changed(c *cases.Case, s *stale) error {
	if s.have == 0 {
		return notFound("This case is not in the store.", s)
	}
	now, err := w.caseAt(string(c.ID))
	if err != nil {
		return err
	}
	all, err := w.History(c.ID)
	if err != nil {
		return err
	}
	by := all[:0]
	for _, e := range all {
		if e.ToRev > c.Rev {
			by = append(by, e)
		}
	}
	return &cases.Changed{Want: c.Rev, Have: now.Rev, Now: now, By: by}
}
