package store

import (
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"

	"dunlin/cases"
)

func notFound(text string, err error) error {
	return &cases.Error{Kind: cases.NotFound, Text: text, Err: err}
}

// Case reads one case by its identifier; NotFound when there is none.
func (r *reader) Case(id cases.ID) (cases.Case, error) {
	if err := checkID(string(id)); err != nil {
		return cases.Case{}, notFound("There is no infant under this address.", err)
	}
	return r.caseAt(string(id))
}

func (r *reader) caseAt(id string) (cases.Case, error) {
	c, err := r.db.cases.get(r.tx, id)
	if errors.Is(err, errNoRecord) {
		return cases.Case{}, notFound("There is no infant under this address.", err)
	}
	if err != nil {
		return cases.Case{}, err
	}
	return c.Case, nil
}

// ByReference reads the case of a reference such as AB-2026-0042, in any case
// of letters; NotFound when there is none.
func (r *reader) ByReference(ref string) (cases.Case, error) {
	id, ok := r.db.cases.owner(r.tx, "reference", closed(strings.ToUpper(strings.TrimSpace(ref))))
	if !ok {
		return cases.Case{}, notFound(fmt.Sprintf("There is no infant with the reference %s.", clip(ref)), nil)
	}
	return r.caseAt(id)
}

// ByExternal reads the one case that source calls id: a laboratory and its
// accession number, or an authority and its record number. NotFound when there is
// none, Conflict when several cases carry it and a person must choose.
func (r *reader) ByExternal(source, id string) (cases.Case, error) {
	keys := r.db.cases.keysWith(r.tx, "external", externalKey(source, id))
	switch {
	case plainNumber(id) == "" || len(keys) == 0:
		return cases.Case{}, notFound(fmt.Sprintf("No infant has the number %s of %s.", clip(id), clip(source)), nil)
	case len(keys) > 1:
		return cases.Case{}, cases.Errorf(cases.Conflict, "%d infants have the number %s of %s. A person must choose.", len(keys), clip(id), clip(source))
	}
	return r.caseAt(keys[0])
}

// ByAccession lists the cases whose screen has an accession number; letters
// and digits alone are compared.
func (r *reader) ByAccession(accession string) ([]cases.Case, error) {
	return r.byNumber("accession", accession)
}

// ByRecord lists the cases with a record number of any authority.
func (r *reader) ByRecord(text string) ([]cases.Case, error) { return r.byNumber("record", text) }

func (r *reader) byNumber(ix, text string) ([]cases.Case, error) {
	n := plainNumber(text)
	if n == "" {
		return nil, nil
	}
	var out []cases.Case
	for c, err := range r.cases(r.db.cases.keysWith(r.tx, ix, closed(n))) {
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// largestBlock is how many cases one match key may name. A larger block, such as a
// ward's telephone number entered for every family, says nothing of one infant and
// is left out.
const largestBlock = 1000

// MatchIDs lists the cases that have one of the keys, in order of making.
func (r *reader) MatchIDs(keys []string) ([]cases.ID, error) {
	var ids []cases.ID
	for _, k := range keys {
		block := r.db.cases.firstWith(r.tx, "match", closed(k), largestBlock+1)
		if len(block) > largestBlock {
			continue
		}
		for _, id := range block {
			ids = append(ids, cases.ID(id))
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids), nil
}

// ByMatchKeys reads the cases that have one of the keys, in order of making.
func (r *reader) ByMatchKeys(keys []string) ([]cases.Case, error) {
	ids, err := r.MatchIDs(keys)
	if err != nil {
		return nil, err
	}
	pks := make([]string, len(ids))
	for i, id := range ids {
		pks[i] = string(id)
	}
	out := make([]cases.Case, 0, len(ids))
	for c, err := range r.cases(pks) {
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// BornBetween gives the cases born on from to to, both included, oldest first.
func (r *reader) BornBetween(from, to cases.Day) iter.Seq2[cases.Case, error] {
	return r.days("born", from, to)
}

// DueThrough gives the cases that are on the overdue list of day d unless
// something was recorded that the index cannot know; readers assess each again.
func (r *reader) DueThrough(d cases.Day) iter.Seq2[cases.Case, error] { return r.days("due", 0, d) }

// RetestsThrough gives the cases closed as CRMS/CFSPID whose day to look again is d or
// earlier, by that day; readers assess each again.
func (r *reader) RetestsThrough(d cases.Day) iter.Seq2[cases.Case, error] {
	return r.days("retest", 0, d)
}

// Open gives every case that is not closed, oldest referral first.
func (r *reader) Open() iter.Seq2[cases.Case, error] { return r.days("open", 0, lastDay) }

// ClosedBetween gives the cases closed on from to to, both included.
func (r *reader) ClosedBetween(from, to cases.Day) iter.Seq2[cases.Case, error] {
	return r.days("closed", from, to)
}

// All gives every case, in order of making.
func (r *reader) All() iter.Seq2[cases.Case, error] {
	return r.cases(r.db.cases.all(r.tx))
}

const lastDay cases.Day = 3652058 // 9999-12-30

func (r *reader) days(ix string, from, to cases.Day) iter.Seq2[cases.Case, error] {
	to = min(to, lastDay)
	if to < from || to <= 0 {
		return func(func(cases.Case, error) bool) {}
	}
	t := r.db.cases
	return func(yield func(cases.Case, error) bool) {
		keys := t.keysBetween(r.tx, ix, from.String(), (to + 1).String())
		r.cases(keys)(yield)
	}
}

// cases reads the cases of keys in order.
func (r *reader) cases(keys []string) iter.Seq2[cases.Case, error] {
	return func(yield func(cases.Case, error) bool) {
		for c, err := range r.db.cases.each(r.tx, keys) {
			if c == nil {
				c = &caseRecord{}
			}
			if !yield(c.Case, err) {
				return
			}
		}
	}
}
