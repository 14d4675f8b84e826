package store

import (
	"bytes"
	"iter"

	"dunlin/cases"
)

// SharedKeys gives each key that from 2 to most cases have: of matching, then record
// numbers and accession numbers. A key that more cases have says nothing of one infant.
// The caller must not write meanwhile.
func (r *reader) SharedKeys(most int) iter.Seq[cases.SharedKey] {
	return func(yield func(cases.SharedKey) bool) {
		for _, ix := range []string{"match", "record", "accession"} {
			if !r.shared(ix, most, yield) {
				return
			}
		}
	}
}

func (r *reader) shared(ix string, most int, yield func(cases.SharedKey) bool) bool {
	var key []byte // without the case's identifier
	var ids []byte
	n := 0
	give := func() bool {
		if n < 2 || n > most {
			return true
		}
		k := cases.SharedKey{IDs: make([]cases.ID, n)}
		for i := range k.IDs {
			k.IDs[i] = cases.ID(ids[i*idWidth : (i+1)*idWidth])
		}
		if ix == "match" {
			k.Key = string(bytes.TrimSuffix(key, []byte(keyEnd)))
		}
		return yield(k)
	}
	c := r.tx.Bucket([]byte(r.db.cases.name + "." + ix)).Cursor()
	for k, _ := c.First(); k != nil; k, _ = c.Next() {
		if len(k) <= idWidth {
			continue
		}
		at := len(k) - idWidth
		if !bytes.Equal(k[:at], key) {
			if !give() {
				return false
			}
			key, ids, n = append(key[:0], k[:at]...), ids[:0], 0
		}
		if n++; n <= most {
			ids = append(ids, k[at:]...)
		}
	}
	return give()
}
