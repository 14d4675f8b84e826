package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/bits"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// Options say how a store is opened. The zero value is usable.
type Options struct {
	Now      func() time.Time // the clock; time.Now when nil
	Rand     io.Reader        // for identifiers; crypto/rand when nil
	Zone     *time.Location   // the program's zone; UTC when nil
	Wait     time.Duration    // for another process to let go of the file; 2 s when 0, at least 100 ms
	MaxSize  int64            // limit of the file in bytes; 0 = none
	Protocol *cases.Protocol  // for the due index; the defaults when nil
	Program  string           // two letters before references; "AB" when empty
	Release  string           // of the program, for messages
	Log      *slog.Logger     // discards when nil

	ReadOnly  bool // nothing is written, not even a marker; indexes are used as they are
	MustExist bool // refuse to make a new file
	Checked   bool // Examine just found it sound in another process; an unclean stop asks for no second check
	Scratch   bool // no disk sync: only for files that may be lost, such as a demo's
}

// DB is one open store file. It implements cases.Store and cases.Ledger and is
// safe for concurrent use.
type DB struct {
	path   string
	opt    Options
	bolt   *bbolt.DB
	steps  []step
	opened time.Time

	writer chan struct{} // one token: who holds it may write
	rules  atomic.Pointer[cases.Protocol]
	broken atomic.Pointer[Fault] // set once a disk error made writing unsafe
	marked bool                  // the marker of a running process is ours
	clean  bool                  // the last stop was clean
	closed atomic.Bool

	tables
}

var (
	_ cases.Store  = (*DB)(nil)
	_ cases.Ledger = (*DB)(nil)
)

// mapSize is the least memory map: while the file is smaller, neither writers
// nor readers wait for each other when it grows. It is address space, not memory.
const mapSize = 256 << 20 << (bits.UintSize / 64 * 2) // 1 GiB where addresses have 64 bits

// Open opens the store at path, making it when it is not there. Errors are
// *Fault with a sentence for people: errors.Is tells ErrLocked, ErrNotStore,
// ErrNewer, ErrReadOnly, ErrFull, ErrDamaged and the other Err values.
func Open(path string, o Options) (*DB, error) { return openWith(path, o, steps) }

func openWith(path string, o Options, list []step) (*DB, error) {
	o.defaults()
	if err := preflight(path); err != nil {
		return nil, err
	}
	if o.ReadOnly || o.MustExist {
		if info, err := os.Stat(path); err != nil {
			return nil, openFault(path, err)
		} else if info.Size() == 0 {
			return nil, fault(ErrNotStore, path, nil, "%s is empty and not yet a store.", path)
		}
	}
	db := &DB{path: path, opt: o, steps: list, writer: make(chan struct{}, 1), clean: true}
	db.rules.Store(o.Protocol)
	db.tables = declare(db)
	db.opened = db.now()
	if err := db.openBolt(); err != nil {
		return nil, openFault(path, err)
	}
	if err := guarded(db.start); err != nil {
		db.abandon()
		return nil, startFault(path, err)
	}
	return db, nil
}

func (o *Options) defaults() {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Rand == nil {
		o.Rand = rand.Reader
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Wait == 0 {
		o.Wait = 2 * time.Second
	}
	o.Wait = max(o.Wait, 100*time.Millisecond) // bbolt gives up at once below 50 ms
	if o.Protocol == nil {
		o.Protocol = cases.DefaultProtocol()
	}
	if o.Program == "" {
		o.Program = "AB"
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
}

// openBolt opens the file itself. A damaged one can make bbolt panic; then the
// file is let go again and the panic becomes an error.
func (db *DB) openBolt() error {
	var file *os.File
	err := guarded(func() (err error) {
		db.bolt, err = bbolt.Open(db.path, 0o600, &bbolt.Options{
			Timeout:         db.opt.Wait,
			FreelistType:    bbolt.FreelistMapType,
			InitialMmapSize: mapSize,
			MaxSize:         int(db.opt.MaxSize),
			ReadOnly:        db.opt.ReadOnly,
			NoSync:          db.opt.Scratch,
			NoGrowSync:      db.opt.Scratch,
			NoStatistics:    true,
			OpenFile: func(name string, flag int, mode os.FileMode) (*os.File, error) {
				var err error
				file, err = os.OpenFile(name, flag, mode)
				return file, err
			},
		})
		return err
	})
	var pe *os.PathError
	if err != nil && db.bolt == nil && file != nil && !errors.As(err, &pe) {
		file.Close() // no-op when bbolt closed it
	}
	return err
}

// start makes the open file usable: schema, marker, check after an unclean
// stop, and indexes that fit this release and protocol.
func (db *DB) start() error {
	if err := db.bringUp(); err != nil {
		return err
	}
	if db.opt.ReadOnly {
		return nil
	}
	unclean, err := mark(db.path, db.opened)
	if err != nil {
		return err
	}
	db.marked, db.clean = true, !unclean
	if err := db.freshen(); err != nil {
		return err
	}
	if !unclean || db.opt.Checked {
		return nil
	}
	return db.afterUnclean()
}

// afterUnclean checks the store. Indexes that do not fit are built anew;
// anything else is damage and the store stays shut.
func (db *DB) afterUnclean() error {
	db.opt.Log.Warn("the last stop was not clean; checking the store")
	problems, err := db.Check(context.Background())
	if err != nil {
		return err
	}
	if bad := lasting(problems); len(bad) > 0 {
		return damaged(db.path, fmt.Errorf("%d problem(s) were found after an unclean stop, the first: %s", len(bad), bad[0]))
	}
	if len(problems) > 0 {
		db.opt.Log.Warn("indexes did not fit and are built anew", "problems", len(problems))
		return db.Reindex(context.Background())
	}
	return nil
}

func startFault(path string, err error) error {
	var f *Fault
	if errors.As(err, &f) || isFull(err) || errors.Is(err, os.ErrPermission) {
		return openFault(path, err)
	}
	return damaged(path, err)
}

// abandon lets go of a file that could not be used; its marker stays as it was
// found.
func (db *DB) abandon() {
	if db.marked && db.clean {
		_ = unmark(db.path) // at worst the next start checks the store
	}
	_ = guarded(db.bolt.Close) // the fault that is reported came first
}

// Unclean tells whether the store at path was not closed when it was last used, or is
// in use now.
func Unclean(path string) bool {
	_, err := os.Stat(markerPath(path))
	return err == nil
}

// Path is where the store lies.
func (db *DB) Path() string { return db.path }

// MayWrite tells why nothing can be written now: the store is closed or open for
// reading only, or a disk error stopped writing. It is nil when writing is possible.
func (db *DB) MayWrite() error { return db.mayWrite() }

// CleanStart tells whether the last stop was clean; otherwise the store was
// checked when it was opened.
func (db *DB) CleanStart() bool { return db.clean }

// Close waits for open transactions, then lets go of the file and removes the
// marker of a running process. A second Close does nothing.
func (db *DB) Close() error {
	if db.closed.Swap(true) {
		return nil
	}
	if err := guarded(db.bolt.Close); err != nil {
		return fmt.Errorf("close %s: %w", db.path, err)
	}
	if db.opt.ReadOnly || db.broken.Load() != nil {
		return nil
	}
	if err := unmark(db.path); err != nil {
		return fmt.Errorf("close %s: %w", db.path, err)
	}
	return nil
}

func (db *DB) protocol() *cases.Protocol { return db.rules.Load() }

// now is the clock cut to milliseconds, in the program's zone, so that a time
// reads back exactly as it was written.
func (db *DB) now() time.Time {
	return db.opt.Now().Round(0).Truncate(time.Millisecond).In(db.opt.Zone)
}

func syncFolder(path string) error {
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
