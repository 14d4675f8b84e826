package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"

	"go.etcd.io/bbolt"
)

// compactStep is how much one transaction of a compaction writes, in bytes.
const compactStep = 16 << 20

// Compact writes the store anew without the space that deleted and rewritten records
// left, checks the new file in full against the old one, and only then gives it the
// name. It needs the store for itself and as much free space as the store takes.
// Whatever goes wrong, the old file stays as it was.
func Compact(ctx context.Context, path string, o Options) (before, after Summary, err error) {
	o.MustExist, o.ReadOnly = true, false
	db, err := Open(path, o)
	if err != nil {
		return before, after, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	part := path + ".compact"
	if err := ignoreMissing(os.Remove(part)); err != nil {
		return before, after, err
	}
	defer os.Remove(part)
	if before, err = db.summary(ctx); err != nil {
		return before, after, err
	}
	if err := db.writeAnew(part); err != nil {
		return before, after, copyFault(part, err)
	}
	if after, err = Examine(ctx, part, o); err != nil {
		return before, after, fmt.Errorf("the new file does not hold up and is removed; %s is as it was: %w", path, err)
	}
	if before.Seq != after.Seq || before.Hash != after.Hash || !maps.Equal(before.Counts, after.Counts) {
		return before, after, fmt.Errorf("the new file does not hold the same and is removed; %s is as it was", path)
	}
	if err := os.Rename(part, path); err != nil {
		return before, after, err
	}
	after.Path = path
	return before, after, syncFolder(path)
}

// summary checks the open store in full and says what it holds.
func (db *DB) summary(ctx context.Context) (s Summary, err error) {
	problems, counts, err := db.check(ctx)
	if err != nil {
		return s, err
	}
	if len(problems) > 0 {
		return s, &Unsound{Path: db.path, Problems: problems}
	}
	info, err := os.Stat(db.path)
	if err != nil {
		return s, err
	}
	s = Summary{Path: db.path, At: db.now().UTC(), Bytes: info.Size(), Counts: counts}
	s.Seq, s.Hash, err = db.AuditHead()
	return s, err
}

// writeAnew copies every key into a new file and syncs it.
func (db *DB) writeAnew(path string) error {
	dst, err := bbolt.Open(path, 0o600, &bbolt.Options{FreelistType: bbolt.FreelistMapType, NoSync: true, NoGrowSync: true, NoStatistics: true, Timeout: db.opt.Wait})
	if err != nil {
		return err
	}
	err = guarded(func() error { return bbolt.Compact(dst, db.bolt, compactStep) })
	if err == nil {
		err = dst.Sync()
	}
	return errors.Join(err, dst.Close())
}
