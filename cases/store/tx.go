package store

import (
	"context"
	"time"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// reader is one snapshot; it implements cases.Reader.
type reader struct {
	db  *DB
	tx  *bbolt.Tx
	now time.Time
}

// writer is the one open write transaction; it implements cases.Writer.
type writer struct {
	reader
	actor cases.Actor
	ids   *idSource
}

var (
	_ cases.Reader = (*reader)(nil)
	_ cases.Writer = (*writer)(nil)
)

// Now is the time of the transaction, in the program's zone.
func (r *reader) Now() time.Time { return r.now }

// Today is the civil date of Now in the program's zone.
func (r *reader) Today() cases.Day { return cases.DayOf(r.now) }

// View runs f on a snapshot. f must not start another transaction and must
// return soon: while it runs, space freed by writers cannot be used again.
func (db *DB) View(ctx context.Context, f func(cases.Reader) error) error {
	return db.view(ctx, func(r *reader) error { return f(r) })
}

func (db *DB) view(ctx context.Context, f func(*reader) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if db.closed.Load() {
		return fault(ErrClosed, db.path, nil, "The store %s is closed.", db.path)
	}
	var own error
	err := guarded(func() error {
		return db.bolt.View(func(tx *bbolt.Tx) error {
			own = f(&reader{db: db, tx: tx, now: db.now()})
			return own
		})
	})
	if err == nil || own != nil {
		return own
	}
	return damaged(db.path, err)
}

// Update runs f in the one write transaction and commits what it wrote, with
// one disk sync, unless f fails. f must not start another transaction. Waiting
// for another writer ends with ctx.
func (db *DB) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	return db.update(ctx, a, func(w *writer) error { return f(w) })
}

func (db *DB) update(ctx context.Context, a cases.Actor, f func(*writer) error) error {
	if err := db.mayWrite(); err != nil {
		return err
	}
	select {
	case db.writer <- struct{}{}:
		defer func() { <-db.writer }()
	case <-ctx.Done():
		return fault(ErrBusy, db.path, ctx.Err(), "The store is busy with another change. Nothing was saved; try again.")
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := db.mayWrite(); err != nil {
		return err
	}
	var own error
	err := guarded(func() error {
		return db.bolt.Update(func(tx *bbolt.Tx) error {
			now := db.now()
			own = f(&writer{
				reader: reader{db: db, tx: tx, now: now},
				actor:  a, ids: newIDSource(now, db.opt.Rand),
			})
			return own
		})
	})
	return db.writeResult(own, err)
}

func (db *DB) mayWrite() error {
	switch {
	case db.closed.Load():
		return fault(ErrClosed, db.path, nil, "The store %s is closed.", db.path)
	case db.opt.ReadOnly:
		return fault(ErrReadOnly, db.path, nil, "The store %s is open for reading only.", db.path)
	}
	if f := db.broken.Load(); f != nil {
		return f
	}
	return nil
}

// writeResult tells a refusal by the caller from a failure of the disk. After
// any disk error but a full disk nothing more is written: what the disk holds is
// not known until the store is opened and checked again.
func (db *DB) writeResult(own, err error) error {
	switch {
	case err == nil:
		return nil
	case isFull(err):
		return fullFault(db.path, err)
	case own != nil:
		return own
	}
	f := fault(ErrFailed, db.path, err,
		"The disk failed while writing %s (%v). The last change was not saved and nothing more is written. Check the disk, then start the program again; it checks the store first.", db.path, err)
	db.broken.CompareAndSwap(nil, f)
	db.opt.Log.Error("writing stopped", "store", db.path, "error", err)
	return f
}
