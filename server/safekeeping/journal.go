package safekeeping

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// The journal of sent messages lies beside the store and not in it, so that a restored
// store does not send again what went out since its back-up was made. Where the disk of
// the store is lost the journal would be too: a copy lies in the folder.

// SaveJournal copies the journal into the folder when it has grown. It holds hashes
// and times, and names nobody.
func (k *Keeper) SaveJournal() error {
	if k.o.Journal == "" {
		return nil
	}
	_, err := addLines(k.o.Journal, filepath.Join(k.o.Folder, k.base()+".sent"))
	return err
}

// addLines appends to a file those lines of another that it does not have; nothing is
// ever taken away. A missing source has none.
func addLines(from, to string) (added int, err error) {
	src, err := os.ReadFile(from)
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("the journal of sent messages: %w", err)
	}
	old, err := os.ReadFile(to)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return 0, fmt.Errorf("the journal of sent messages: %w", err)
	}
	if bytes.Equal(src, old) {
		return 0, nil
	}
	have := map[string]bool{"": true}
	for line := range bytes.Lines(old) {
		have[string(bytes.TrimSpace(line))] = true
	}
	var more bytes.Buffer
	for line := range bytes.Lines(src) {
		if text := string(bytes.TrimSpace(line)); !have[text] {
			have[text] = true
			more.WriteString("\n" + text) // a broken last line spoils no other
			added++
		}
	}
	if added == 0 {
		return 0, nil
	}
	f, err := os.OpenFile(to, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, err
	}
	_, err = f.Write(more.Bytes())
	return added, errors.Join(err, f.Sync(), f.Close())
}
