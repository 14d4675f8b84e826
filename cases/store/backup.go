package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"go.etcd.io/bbolt"
)

// Summary says what a verified backup holds. Seq and Hash are the end of its
// audit trail, to be noted outside.
type Summary struct {
	Path   string         `json:"path"`
	At     time.Time      `json:"at"` // UTC
	Bytes  int64          `json:"bytes"`
	Schema int            `json:"schema"`
	Counts map[string]int `json:"counts"` // records by table
	Seq    uint64         `json:"audit_seq"`
	Hash   string         `json:"audit_hash"` // hex SHA-256
}

// Backup copies a consistent snapshot to path while the store serves. The copy
// is written beside the target, synced, opened for reading and checked in full;
// only then does it take its name. An earlier file of that name is replaced.
func (db *DB) Backup(ctx context.Context, path string) (Summary, error) {
	s := Summary{Path: path, At: db.now().UTC()}
	if same(path, db.path) {
		return s, fmt.Errorf("%s is the store itself; name another file for the backup", path)
	}
	part := path + ".part"
	defer os.Remove(part)
	if err := db.view(ctx, func(r *reader) error { return copyTo(r.tx, part, ctx) }); err != nil {
		return s, copyFault(path, err)
	}
	at := s.At
	o := db.opt
	o.MaxSize, o.Protocol = 0, db.protocol()
	s, err := examine(ctx, part, o, db.steps)
	if s.Path, s.At = path, at; err != nil {
		return s, fmt.Errorf("the backup %s was written but does not hold up, and is removed: %w", path, err)
	}
	if err := os.Rename(part, path); err != nil {
		return s, copyFault(path, err)
	}
	if err := syncFolder(path); err != nil {
		return s, copyFault(path, err)
	}
	return s, nil
}

// Snapshot copies a consistent state to path while the store serves, and checks
// nothing: Examine does, best in another process. What lay there is written over.
func (db *DB) Snapshot(ctx context.Context, path string) error {
	if same(path, db.path) {
		return fmt.Errorf("%s is the store itself; name another file for the copy", path)
	}
	if err := db.view(ctx, func(r *reader) error { return copyTo(r.tx, path, ctx) }); err != nil {
		return copyFault(path, err)
	}
	return nil
}

func copyFault(path string, err error) error {
	if isFull(err) {
		return fault(ErrFull, path, err, "There is no space left to write the backup %s. Free some disk space or name another place; the store is unharmed.", path)
	}
	return fmt.Errorf("write the backup %s: %w", path, err)
}

func same(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return filepath.Clean(a) == filepath.Clean(b)
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

// copyTo writes a snapshot to a new file and syncs file and folder; bbolt's own
// copy does neither. A nil ctx never ends.
func copyTo(tx *bbolt.Tx, path string, ctx context.Context) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
		if err != nil {
			err = errors.Join(err, ignoreMissing(os.Remove(path)))
		}
	}()
	w := bufio.NewWriterSize(stoppable{f, ctx}, 1<<20)
	if _, err := tx.WriteTo(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return syncFolder(path)
}

func ignoreMissing(err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// stoppable is a writer that ends with its context.
type stoppable struct {
	io.Writer
	ctx context.Context
}

func (s stoppable) Write(b []byte) (int, error) {
	if s.ctx != nil {
		if err := s.ctx.Err(); err != nil {
			return 0, err
		}
	}
	return s.Writer.Write(b)
}
