package store

import (
	"context"

	"dunlin/cases"
)

// Restored ends every session and forgets every form of a store that was restored from
// a back-up, and writes that down: who was signed in when the back-up was made may have
// signed out, or lost the account, since.
func (db *DB) Restored(ctx context.Context, a cases.Actor, words string) error {
	return db.update(ctx, a, func(w *writer) error {
		if err := w.clearTokens(); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "restored", Text: words})
	})
}

func (w *writer) clearTokens() error {
	for _, key := range scanKeys(w.tx.Bucket([]byte(w.db.sessions.name)), "", "", 0) {
		if err := w.db.sessions.delete(w.tx, key); err != nil {
			return err
		}
	}
	for _, key := range scanKeys(w.tx.Bucket([]byte(w.db.once.name)), "", "", 0) {
		if err := w.db.once.delete(w.tx, key); err != nil {
			return err
		}
	}
	return nil
}
