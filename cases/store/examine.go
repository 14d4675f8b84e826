package store

import (
	"context"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"go.etcd.io/bbolt"
)

// Unsound is a file that opens as a store and does not hold up.
type Unsound struct {
	Path     string
	Problems []Problem
}

// Error names the number of problems and the first, without its key: that of an
// index may hold a name, and errors are logged.
func (u *Unsound) Error() string {
	part, _, _ := strings.Cut(u.Problems[0].Where, " ")
	return fmt.Sprintf("%s does not hold up: %d problem(s), the first: %s (%s)", filepath.Base(u.Path), len(u.Problems), u.Problems[0].Text, part)
}

// Unwrap lets errors.Is find ErrDamaged, or ErrIndexes where no more is wrong.
func (u *Unsound) Unwrap() error {
	if len(lasting(u.Problems)) == 0 {
		return ErrIndexes
	}
	return ErrDamaged
}

// Examine opens a file for reading, checks it in full and says what it holds. It
// changes nothing. Indexes of another release or protocol are not compared, because
// opening for use builds them anew. A damaged file can end the process in spite of
// all guards, so it belongs in a process of its own. The error is a *Fault, an
// *Unsound, or the end of ctx.
func Examine(ctx context.Context, path string, o Options) (Summary, error) {
	return examine(ctx, path, o, steps)
}

// Look is the short form of Examine: the file opens and its pages can be read and
// fit together. It does not read records.
func Look(ctx context.Context, path string, o Options) error {
	return reading(path, o, steps, func(db *DB) error {
		c := &checker{ctx: ctx, db: db, counts: map[string]int{}}
		err := db.bolt.View(func(tx *bbolt.Tx) error { c.pages(tx); return ctx.Err() })
		if err == nil && len(c.problems) > 0 {
			err = &Unsound{Path: path, Problems: c.problems}
		}
		return err
	})
}

func examine(ctx context.Context, path string, o Options, list []step) (s Summary, err error) {
	s.Path = path
	err = reading(path, o, list, func(db *DB) error {
		problems, counts, err := db.check(ctx)
		if err != nil {
			return err
		}
		if db.outdated() {
			problems = lasting(problems)
		}
		if len(problems) > 0 {
			return &Unsound{Path: path, Problems: problems}
		}
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		s.At, s.Bytes, s.Counts = db.opened.UTC(), info.Size(), counts
		return db.bolt.View(func(tx *bbolt.Tx) error {
			h, err := readHead(tx)
			if err != nil {
				return err
			}
			s.Seq, s.Hash = h.seq, hex.EncodeToString(h.hash[:])
			s.Schema, err = schemaOf(tx, path)
			return err
		})
	})
	return s, err
}

// reading opens a file for reading only, for as long as f takes.
func reading(path string, o Options, list []step, f func(*DB) error) error {
	o.ReadOnly = true
	db, err := openWith(path, o, list)
	if err != nil {
		return err
	}
	err = guarded(func() error { return f(db) })
	if cerr := db.Close(); err == nil {
		err = cerr
	}
	return err
}

// outdated tells whether the indexes were built by another release or protocol.
func (db *DB) outdated() (old bool) {
	// What cannot be read was found by the check before.
	_ = db.bolt.View(func(tx *bbolt.Tx) error {
		old = metaGet(tx, metaIndexes) != db.indexPrint() || metaGet(tx, metaProtocol) != protocolPrint(db.protocol())
		return nil
	})
	return old
}

// lasting leaves out what Reindex mends.
func lasting(all []Problem) (out []Problem) {
	for _, p := range all {
		if !p.Index {
			out = append(out, p)
		}
	}
	return out
}
