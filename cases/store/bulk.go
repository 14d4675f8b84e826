package store

import (
	"context"
	"iter"

	"dunlin/cases"
)

// bulkSize is how many cases Load writes in one transaction.
const bulkSize = 2000

// Load writes many new cases, some thousands in a transaction, each with its
// indexes and audit entry as PutCase does. It gives the number written; when it
// fails, whole transactions before the failure stay.
func (db *DB) Load(ctx context.Context, a cases.Actor, seq iter.Seq[cases.Case], e cases.Event) (int, error) {
	next, stop := iter.Pull(seq)
	defer stop()
	done := 0
	for {
		n := 0
		err := db.update(ctx, a, func(w *writer) error {
			for n < bulkSize {
				c, ok := next()
				if !ok {
					return nil
				}
				if _, err := w.PutCase(c, e); err != nil {
					return err
				}
				n++
			}
			return nil
		})
		if err != nil {
			return done, err
		}
		done += n
		if n < bulkSize {
			return done, nil
		}
	}
}
