package store

import (
	"fmt"
	"io"
	"time"

	"github.com/oklog/ulid/v2"
)

// idSource makes identifiers that sort by time: 48 bits of milliseconds from
// the transaction's time and 80 random bits, growing within a transaction.
type idSource struct {
	at      uint64
	entropy *ulid.MonotonicEntropy
}

func newIDSource(now time.Time, random io.Reader) *idSource {
	return &idSource{at: ulid.Timestamp(now), entropy: ulid.Monotonic(random, 0)}
}

func (s *idSource) next() (string, error) {
	id, err := ulid.New(s.at, s.entropy)
	if err != nil {
		return "", fmt.Errorf("make an identifier: %w", err)
	}
	return id.String(), nil
}

// checkID refuses anything but the text form of an identifier, before it
// becomes part of a key.
func checkID(id string) error {
	if _, err := ulid.ParseStrict(id); err != nil || len(id) != ulid.EncodedSize {
		return fmt.Errorf("%q is not an identifier", clip(id))
	}
	return nil
}

// firstID is the least identifier that can be made at a time.
func firstID(t time.Time) string {
	var id ulid.ULID
	if err := id.SetTime(ulid.Timestamp(t)); err != nil {
		return ""
	}
	return id.String()
}
