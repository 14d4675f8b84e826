package safekeeping

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"filippo.io/age"

	"dunlin/cases/store"
)

// Restoring is what Restore needs.
type Restoring struct {
	From    string     // a back-up, or a folder of which the newest verified one is taken
	To      string     // the store to make; nothing may be there
	Keys    Identities // private keys; not needed where the back-up is not encrypted
	Drill   bool       // go through all of it and leave nothing behind
	Examine Examine
	Free    func(folder string) (uint64, bool) // the system's when nil
}

// Restored says what was restored.
type Restored struct {
	From     string
	Manifest *Manifest // nil where there was none to compare with
	Note     string    // what could not be compared; "" when everything was
	Summary  store.Summary
	Journal  int // lines of the journal of sent messages that were added
	Took     time.Duration
}

// ageHead begins every file of the format.
const ageHead = "age-encryption.org/"

// Restore writes the store of a back-up to a new file: hash against the manifest,
// decrypted, hash again, checked in full, and only then named. It never writes over
// anything, and what goes wrong leaves nothing behind.
func Restore(ctx context.Context, r Restoring) (done Restored, err error) {
	began := time.Now()
	if r.Free == nil {
		r.Free = freeSpace
	}
	if done.From, err = pick(r.From); err != nil {
		return done, err
	}
	if err := r.clear(); err != nil {
		return done, err
	}
	if err := done.compare(); err != nil {
		return done, err
	}
	if err := r.room(&done); err != nil {
		return done, err
	}
	part := r.To + ".restoring"
	defer os.Remove(part)
	if err := r.unpack(ctx, &done, part); err != nil {
		return done, err
	}
	if done.Summary, err = r.Examine(ctx, part); err != nil {
		return done, fmt.Errorf("%s was unpacked and does not hold up as a store. Nothing was restored. Take another back-up. %w", done.From, err)
	}
	if m := done.Manifest; m != nil && (m.AuditSeq != done.Summary.Seq || m.AuditHash != done.Summary.Hash) {
		return done, fmt.Errorf("%s holds another store than its manifest says. Nothing was restored", done.From)
	}
	if r.Drill {
		done.Took = time.Since(began)
		return done, nil
	}
	if err := nameNew(part, r.To); err != nil {
		return done, err
	}
	done.Summary.Path = r.To
	if at, ok := timeOf(done.From); ok {
		base := strings.TrimSuffix(filepath.Base(done.From), filepath.Base(fileName("", at, strings.HasSuffix(done.From, ".age"))))
		if done.Journal, err = addLines(filepath.Join(filepath.Dir(done.From), base+".sent"), r.To+".sent"); err != nil {
			return done, fmt.Errorf("the store is restored, but not the journal of sent messages: messages may go out twice. Copy it by hand before the program is started: %w", err)
		}
	}
	done.Took = time.Since(began)
	return done, nil
}

// pick takes the newest verified back-up where a folder is named.
func pick(from string) (string, error) {
	info, err := os.Stat(from)
	if err != nil {
		return "", fmt.Errorf("the back-up cannot be read: %w", err)
	}
	if !info.IsDir() {
		return from, nil
	}
	h, ok := Newest(from)
	if !ok {
		return "", fmt.Errorf("%s holds no verified back-up that still has its bytes. Name a file to try it all the same", from)
	}
	return h.Path, nil
}

// clear refuses a target that is there.
func (r *Restoring) clear() error {
	if r.Drill {
		return nil
	}
	if _, err := os.Lstat(r.To); err == nil {
		return fmt.Errorf("%s is there already, and restoring never writes over a store. Stop the program and move the file away first:\n  mv %s %s", r.To, Quoted(r.To), Quoted(r.To+".before"))
	} else if !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if info, err := os.Stat(filepath.Dir(r.To)); err != nil || !info.IsDir() {
		return fmt.Errorf("%s is not a folder; make it first", filepath.Dir(r.To))
	}
	return nil
}

// compare reads the manifest, and the back-up once from end to end, so that damage is
// told from a wrong key.
func (d *Restored) compare() error {
	m, err := readManifest(filepath.Join(filepath.Dir(d.From), manifestOf(filepath.Base(d.From))))
	switch {
	case errors.Is(err, os.ErrNotExist):
		d.Note = "It has no manifest beside it, so its hash could not be compared."
	case err != nil:
		d.Note = "Its manifest is damaged, so its hash could not be compared."
	case m.File != filepath.Base(d.From):
		d.Note = "The manifest beside it is of another file, so its hash could not be compared."
	default:
		d.Manifest = m
		sum, n, err := hashFile(d.From)
		if err != nil {
			return fmt.Errorf("%s cannot be read to its end: %w. Take another back-up", d.From, err)
		}
		if n < m.Bytes {
			return fmt.Errorf("%s was cut short: %d of %d bytes are there. Nothing was restored. Take another back-up", d.From, n, m.Bytes)
		}
		if sum != m.SHA256 {
			return fmt.Errorf("%s is damaged: its hash is not the one that its manifest names. Nothing was restored. Take another back-up", d.From)
		}
	}
	return nil
}

func (r *Restoring) room(d *Restored) error {
	info, err := os.Stat(d.From)
	if err != nil {
		return err
	}
	need := uint64(info.Size())
	if free, known := r.Free(filepath.Dir(r.To)); known && free < need+spare {
		return fmt.Errorf("there is not enough space in %s: %s are needed and %s are free. Nothing was restored", filepath.Dir(r.To), Megabytes(int64(need+spare)), Megabytes(int64(free)))
	}
	return nil
}

// unpack writes the plain store and compares its hash.
func (r *Restoring) unpack(ctx context.Context, d *Restored, part string) (err error) {
	in, err := os.Open(d.From)
	if err != nil {
		return err
	}
	defer in.Close()
	src := bufio.NewReaderSize(in, 1<<20)
	plain := io.Reader(src)
	if head, _ := src.Peek(len(ageHead)); string(head) == ageHead {
		if plain, err = r.open(src, d); err != nil {
			return err
		}
	}
	out, err := createNew(part)
	if err != nil {
		return err
	}
	sum := sha256.New()
	_, err = io.CopyBuffer(io.MultiWriter(out, sum), stoppable{plain, ctx}, make([]byte, 1<<20))
	if err == nil {
		err = out.Sync()
	}
	err = errors.Join(err, out.Close())
	switch {
	case err == nil:
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("there is no space left for %s. Nothing was restored; the back-up is as it was (%w)", r.To, err)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%s was cut short. Nothing was restored. Take another back-up", d.From)
	default:
		return fmt.Errorf("%s cannot be read to its end: it is damaged (%w). Nothing was restored. Take another back-up", d.From, err)
	}
	if m := d.Manifest; m != nil && hex.EncodeToString(sum.Sum(nil)) != m.StoreHash {
		return fmt.Errorf("%s holds other bytes than its manifest says. Nothing was restored", d.From)
	}
	return nil
}

// open decrypts, and says which key is wanted where it cannot.
func (r *Restoring) open(src io.Reader, d *Restored) (io.Reader, error) {
	wanted := ""
	if d.Manifest != nil {
		wanted = " It was encrypted to:\n  " + strings.Join(d.Manifest.Recipients, "\n  ")
	}
	if len(r.Keys.list) == 0 {
		return nil, fmt.Errorf("%s is encrypted. Name the file with the private key: --identity FILE.%s", d.From, wanted)
	}
	plain, err := age.Decrypt(src, r.Keys.list...)
	var no *age.NoIdentityMatchError
	switch {
	case err == nil:
		return plain, nil
	case errors.As(err, &no) && d.Manifest != nil:
		return nil, fmt.Errorf("this private key does not open %s. Nothing was restored.%s", d.From, wanted)
	case errors.As(err, &no):
		return nil, fmt.Errorf("this private key does not open %s: it is another one's, or the beginning of the file is damaged. Nothing was restored", d.From)
	}
	return nil, fmt.Errorf("%s cannot be opened: its beginning is damaged (%w). Nothing was restored. Take another back-up", d.From, err)
}

// nameNew gives a file its name, never over another one.
func nameNew(part, to string) error {
	err := os.Link(part, to)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("%s came into being meanwhile and is left alone. Nothing was restored", to)
	}
	if err != nil { // a disk without links; the name was free a moment ago
		if _, lerr := os.Lstat(to); lerr == nil {
			return fmt.Errorf("%s came into being meanwhile and is left alone. Nothing was restored", to)
		}
		if err := os.Rename(part, to); err != nil {
			return err
		}
	}
	return syncFolder(filepath.Dir(to))
}

// Quoted is a path as a shell takes it.
func Quoted(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool {
		return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._-+@%", r)
	}) {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// Command is the command line that restores a back-up.
func Command(h Held, to string) string {
	key := ""
	if h.Encrypted() || strings.HasSuffix(h.File, ".age") {
		key = " --identity KEYFILE"
	}
	return "dunlin restore " + Quoted(h.Path) + key + " --to " + Quoted(to)
}
