package store

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	berrors "go.etcd.io/bbolt/errors"

	"dunlin/cases"
)

// What may be wrong with a store file. Test with errors.Is; the Fault around
// it carries the sentence for people.
var (
	ErrLocked   = errors.New("held by another process")
	ErrNotStore = errors.New("not a store")
	ErrNewer    = errors.New("written by a newer release")
	ErrOlder    = errors.New("written by an older release")
	ErrReadOnly = errors.New("read only")
	ErrMissing  = errors.New("no such file")
	ErrFull     = errors.New("no space left")
	ErrDamaged  = errors.New("damaged")
	ErrFailed   = errors.New("writing stopped after a disk error")
	ErrBusy     = errors.New("the store is busy")
	ErrClosed   = errors.New("the store is closed")
	ErrIndexes  = errors.New("indexes that do not fit the records") // which opening after an unclean stop, or Reindex, mends
)

// Fault is an error of the store file itself. Text says what is wrong, where,
// and what to do; Why is one of the Err values; Err is for the log.
type Fault struct {
	Why  error
	Path string
	Text string
	Err  error
}

// Error gives the sentence for people.
func (f *Fault) Error() string { return f.Text }

// Unwrap lets errors.Is find both the kind of fault and its cause.
func (f *Fault) Unwrap() []error {
	if f.Err == nil {
		return []error{f.Why}
	}
	return []error{f.Why, f.Err}
}

func fault(why error, path string, err error, format string, a ...any) *Fault {
	return &Fault{Why: why, Path: path, Err: err, Text: fmt.Sprintf(format, a...)}
}

const restoreAdvice = "Keep this file as it is, and restore the newest verified backup in its place."

// damaged wraps anything that shows the file to be broken.
func damaged(path string, err error) *Fault {
	return fault(ErrDamaged, path, err, "%s is damaged: %v. %s", path, err, restoreAdvice)
}

// openFault turns an error of opening into a sentence.
func openFault(path string, err error) error {
	var f *Fault
	switch {
	case errors.As(err, &f):
		return err
	case errors.Is(err, berrors.ErrTimeout):
		return fault(ErrLocked, path, err, "%s is held by another process%s. Stop that process, or ask it to do the job.", path, holder(path))
	case errors.Is(err, fs.ErrNotExist):
		return fault(ErrMissing, path, err, "%s does not exist. Check the path; the folder must exist and be writable.", path)
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return fault(ErrReadOnly, path, err, "%s cannot be written: %v. Give this user the right to write the file and its folder.", path, err)
	case isFull(err):
		return fullFault(path, err)
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrVersionMismatch):
		return fault(ErrNotStore, path, err, "%s is not a Dunlin store. Check the path; nothing was changed in that file.", path)
	case errors.Is(err, berrors.ErrChecksum):
		return damaged(path, errors.New("neither of its two header pages can be read"))
	}
	return fmt.Errorf("open %s: %w", path, err)
}

func fullFault(path string, err error) *Fault {
	return fault(ErrFull, path, err, "There is no space left to write %s. Nothing was saved. Free some disk space, then save again.", path)
}

// isFull tells a full disk, quota or size limit, after which the same write
// may simply be tried again.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) ||
		errors.Is(err, syscall.EFBIG) || errors.Is(err, berrors.ErrMaxSizeReached)
}

// As lets front ends, which do not know this package, show the faults that a
// person may meet while working.
func (f *Fault) As(target any) bool {
	e, ok := target.(**cases.Error)
	if !ok {
		return false
	}
	text := map[error]string{
		ErrFull:   "There is no space left on the disk, so nothing was saved. What you typed is still here: ask the administrator to free some space, then save again.",
		ErrBusy:   "The store is busy with another change, so nothing was saved. Save again.",
		ErrFailed: "The disk failed, so nothing was saved. Tell the administrator: the program must be started again after the disk was checked.",
	}[f.Why]
	if text == "" {
		return false
	}
	*e = &cases.Error{Kind: cases.Refused, Text: text, Err: f}
	return true
}
