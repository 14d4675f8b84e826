package store

import (
	"context"
	"time"
)

// LastWritten is the time of the newest audit entry by number, whatever its clock said;
// zero when there is none. A clock that lies behind it is wrong now, or was.
func (db *DB) LastWritten(ctx context.Context) (at time.Time, err error) {
	seq, _, err := db.AuditHead()
	if err != nil || seq == 0 {
		return at, err
	}
	err = db.view(ctx, func(r *reader) error {
		e, err := r.entry(number(seq))
		at = e.At
		return err
	})
	return at, err
}
