package outbox

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"time"

	"dunlin/cases"
)

// Journal is a file beside the store that remembers what was handed over, by a hash of
// case, kind, occasion and channel: it names nobody. After the store was restored from a
// backup, it tells which messages went out since that backup was made.
type Journal struct {
	path string
	mu   sync.Mutex
	seen map[string]time.Time
}

// OpenJournal reads a journal, or begins one.
func OpenJournal(path string) (*Journal, error) {
	j := &Journal{path: path, seen: map[string]time.Time{}}
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return j, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the journal of sent messages: %w", err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		when, key, ok := strings.Cut(lines.Text(), " ")
		at, err := time.Parse(time.RFC3339, when)
		if !ok || err != nil || len(key) != 2*sha256.Size {
			continue // the end of a line was lost with the power; the message stands as being sent
		}
		j.seen[key] = at
	}
	return j, lines.Err()
}

func journalKey(o *cases.Outgoing) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{string(o.Case), o.Kind, o.Occasion, o.By}, "\x00")))
	return hex.EncodeToString(sum[:])
}

// sent tells when a message was handed over, if it was, by a store that the present one
// does not know of.
func (j *Journal) sent(o *cases.Outgoing) (time.Time, bool) {
	if j == nil || o.Tries > 0 {
		return time.Time{}, false // the store knows of its own attempts
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	at, ok := j.seen[journalKey(o)]
	return at, ok
}

// add remembers an attempt that the server took, or may have taken.
func (j *Journal) add(p *Parcel, sent error, now time.Time) error {
	var unsure *Unsure
	if j == nil || sent != nil && !errors.As(sent, &unsure) {
		return nil
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	key := journalKey(&p.Outgoing)
	j.seen[key] = now
	f, err := os.OpenFile(j.path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "\n%s %s", now.UTC().Format(time.RFC3339), key) // a broken last line spoils no other
	return errors.Join(err, f.Sync(), f.Close())
}
