package safekeeping

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"filippo.io/age"

	"dunlin/cases/store"
)

// Source is the store that is backed up.
type Source interface {
	Snapshot(ctx context.Context, path string) error
	Path() string
}

// Examine checks a copy of a store in full, best in a process of its own.
type Examine func(ctx context.Context, path string) (store.Summary, error)

// Options is what a Keeper needs. Keep, Journal, Recipients and Free may be zero.
type Options struct {
	Folder      string
	Source      Source
	Examine     Examine
	Now         func() time.Time // in the program's zone
	Recipients  string           // path of the file of public keys, read anew each time
	Unencrypted bool             // asked for in so many words; then Recipients is empty
	Keep        Keep
	Journal     string // path of the journal of sent messages; "" = none
	Release     string
	Free        func(folder string) (bytes uint64, known bool) // free space; the system's when nil
}

// Keeper makes the back-ups of one folder, one at a time.
type Keeper struct {
	o    Options
	busy sync.Mutex
}

// ErrBusy says that a back-up is being made already.
var ErrBusy = errors.New("a back-up is being made already; wait for it to end")

// New makes a keeper. It needs either public keys or the word that back-ups are not
// encrypted.
func New(o Options) (*Keeper, error) {
	if o.Folder == "" || o.Source == nil || o.Examine == nil || o.Now == nil {
		return nil, errors.New("safekeeping: folder, source, check and clock are required")
	}
	if (o.Recipients == "") != o.Unencrypted {
		return nil, errors.New("back-ups hold every name and result: name a file of public keys to encrypt them to, or say that they are not to be encrypted, and not both")
	}
	if o.Free == nil {
		o.Free = freeSpace
	}
	return &Keeper{o: o}, nil
}

// Folder is where the back-ups lie.
func (k *Keeper) Folder() string { return k.o.Folder }

// Encrypts tells whether back-ups are encrypted.
func (k *Keeper) Encrypts() bool { return !k.o.Unencrypted }

// base is the beginning of every file name: that of the store.
func (k *Keeper) base() string { return Base(k.o.Source.Path()) }

// Base is the beginning of the names of a store's back-ups.
func Base(storePath string) string {
	return strings.TrimSuffix(filepath.Base(storePath), filepath.Ext(storePath))
}

// Make makes one back-up, verifies it, and drops those that the rule does not keep.
// by says who asked for it. What goes wrong leaves the store and every earlier
// back-up as they were.
func (k *Keeper) Make(ctx context.Context, by string) (m Manifest, dropped int, err error) {
	if !k.busy.TryLock() {
		return m, 0, ErrBusy
	}
	defer k.busy.Unlock()
	began := time.Now()
	at := k.o.Now().UTC().Truncate(time.Second)
	m = Manifest{Format: manifestFormat, At: at, By: by, Release: k.o.Release}
	var keys Recipients
	if !k.o.Unencrypted {
		if keys, err = ReadRecipients(k.o.Recipients); err != nil {
			return m, 0, err
		}
		m.Recipients = keys.Names
	}
	m.File = fileName(k.base(), at, !k.o.Unencrypted)
	if err := k.room(); err != nil {
		return m, 0, err
	}
	scratch := k.scratch()
	defer os.Remove(scratch)
	if err := k.o.Source.Snapshot(ctx, scratch); err != nil {
		return m, 0, err
	}
	sum, err := k.o.Examine(ctx, scratch)
	if err != nil {
		return m, 0, fmt.Errorf("the store was copied and the copy does not hold up, so it is not kept. Earlier back-ups are as they were. %w", err)
	}
	m.take(sum)
	if err := k.write(ctx, &m, scratch, keys); err != nil {
		return m, 0, k.folderFault(err)
	}
	m.Verified, m.Seconds = k.o.Now().UTC().Truncate(time.Second), time.Since(began).Round(time.Millisecond).Seconds()
	if err := m.write(k.o.Folder); err != nil {
		return m, 0, k.folderFault(err)
	}
	if err := k.SaveJournal(); err != nil {
		return m, 0, k.folderFault(err)
	}
	dropped, err = k.rotate(m.File)
	return m, dropped, err
}

// scratch is where the plain snapshot lies while it is checked: beside the store,
// where its facts lie already, and not in the folder, which may be elsewhere.
func (k *Keeper) scratch() string { return k.o.Source.Path() + ".snapshot" }

// Clear removes what a back-up left behind that was cut off by the end of the program.
func (k *Keeper) Clear() error {
	if !k.busy.TryLock() {
		return ErrBusy
	}
	defer k.busy.Unlock()
	parts, err := filepath.Glob(filepath.Join(escapeGlob(k.o.Folder), escapeGlob(k.base())+"-*.part"))
	for _, path := range append(parts, k.scratch()) {
		if rerr := os.Remove(path); rerr != nil && !errors.Is(rerr, os.ErrNotExist) {
			err = errors.Join(err, rerr)
		}
	}
	return err
}

// write puts the snapshot into the folder, reads it back, and only then names it.
func (k *Keeper) write(ctx context.Context, m *Manifest, scratch string, keys Recipients) error {
	path := filepath.Join(k.o.Folder, m.File)
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s is there already; wait a second", m.File)
	}
	part := path + ".part"
	defer os.Remove(part)
	once, err := k.copyOut(ctx, m, scratch, part, keys)
	if err != nil {
		return err
	}
	if err := readBack(ctx, m, part, once); err != nil {
		return fmt.Errorf("%s was written and could not be read back as it was, so it is removed. Earlier back-ups are as they were: %w", m.File, err)
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return syncFolder(k.o.Folder)
}

// copyOut writes the file and its hashes; it gives the key that opens it once.
func (k *Keeper) copyOut(ctx context.Context, m *Manifest, scratch, part string, keys Recipients) (once age.Identity, err error) {
	in, err := os.Open(scratch)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	out, err := createNew(part)
	if err != nil {
		return nil, err
	}
	whole, plain := sha256.New(), sha256.New()
	count := &counter{Writer: io.MultiWriter(out, whole)}
	var dst io.Writer = count
	var lock io.WriteCloser
	if m.Encrypted() {
		var list []age.Recipient
		if list, once, err = keys.forOne(); err == nil {
			lock, err = age.Encrypt(count, list...)
		}
		dst = lock
	}
	if err == nil {
		_, err = io.CopyBuffer(io.MultiWriter(dst, plain), stoppable{in, ctx}, make([]byte, 1<<20))
	}
	if err == nil && lock != nil {
		err = lock.Close()
	}
	if err == nil {
		err = out.Sync()
	}
	err = errors.Join(err, out.Close())
	m.Bytes, m.SHA256, m.StoreHash = count.n, hex.EncodeToString(whole.Sum(nil)), hex.EncodeToString(plain.Sum(nil))
	return once, err
}

// readBack reads a written file from end to end, decrypts it where it is encrypted,
// and compares both forms with what was written.
func readBack(ctx context.Context, m *Manifest, path string, once age.Identity) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	whole, plain := sha256.New(), sha256.New()
	src := io.TeeReader(stoppable{f, ctx}, whole)
	opened := io.Reader(src)
	if once != nil {
		if opened, err = age.Decrypt(src, once); err != nil {
			return err
		}
	}
	if _, err := io.CopyBuffer(plain, opened, make([]byte, 1<<20)); err != nil {
		return err
	}
	if _, err := io.Copy(io.Discard, src); err != nil {
		return err
	}
	if hex.EncodeToString(whole.Sum(nil)) != m.SHA256 || hex.EncodeToString(plain.Sum(nil)) != m.StoreHash {
		return errors.New("it has other bytes than were written")
	}
	return nil
}

// createNew makes a file that is new, in place of what a cut-off try left.
func createNew(path string) (*os.File, error) {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	return os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
}

// counter counts what passes.
type counter struct {
	io.Writer
	n int64
}

func (c *counter) Write(b []byte) (int, error) {
	n, err := c.Writer.Write(b)
	c.n += int64(n)
	return n, err
}

// stoppable is a reader that ends with its context.
type stoppable struct {
	io.Reader
	ctx context.Context
}

func (s stoppable) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(b)
}

// folderFault says what can be done about an error of the folder.
func (k *Keeper) folderFault(err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("there is no space left in %s. Nothing was kept of this back-up; the store and earlier back-ups are as they were. Free some space, or keep fewer back-ups (%w)", k.o.Folder, err)
	case errors.Is(err, os.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%s cannot be written. Give this user the right to write there (%w)", k.o.Folder, err)
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s is not there. Make the folder, or mount the disk it lies on (%w)", k.o.Folder, err)
	}
	return err
}
