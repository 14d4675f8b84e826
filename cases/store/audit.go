package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strconv"
	"strings"
	"time"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// The audit trail is one chain. An entry is stored under its number as
//
//	<hash, 64 hex digits> <canonical bytes>
//
// where the canonical bytes are the JSON of the entry with an empty hash, and
// hash = SHA-256(0x00 || hash before || canonical bytes). Number and hash of the
// last entry are kept in meta, and printed elsewhere by those who want to prove
// that the tail was not cut. Nothing changes or removes an entry but
// erasing, which leaves its number and hash (erasedtrail.go).

const (
	auditBucket = "audit"
	auditByCase = "audit.case"
	auditByTime = "audit.time"
	seqWidth    = 12

	// Entries come in the order of their keys, so pages may be filled.
	appendFill = 0.9

	// timeKey is fixed in width and sorts as time does.
	timeKey = "20060102T150405.000Z"
)

var errChain = errors.New("the audit trail does not fit together")

// head is the number and hash of the last entry.
type head struct {
	seq  uint64
	hash [sha256.Size]byte
}

func readHead(tx *bbolt.Tx) (head, error) { return readHeadOf(tx, metaHead) }

// readHeadOf reads the head of a chain from its key in meta.
func readHeadOf(tx *bbolt.Tx, key string) (head, error) {
	text := metaGet(tx, key)
	if text == "" {
		return head{}, nil
	}
	seq, sum, _ := strings.Cut(text, " ")
	n, err := strconv.ParseUint(seq, 10, 64)
	b, herr := hex.DecodeString(sum)
	if err != nil || herr != nil || len(b) != sha256.Size {
		return head{}, fmt.Errorf("%w: %s in %s cannot be read", errChain, key, metaBucket)
	}
	return head{seq: n, hash: [sha256.Size]byte(b)}, nil
}

func linkHash(prev [sha256.Size]byte, canonical []byte) (sum [sha256.Size]byte) {
	h := sha256.New()
	h.Write([]byte{0})
	h.Write(prev[:])
	h.Write(canonical)
	h.Sum(sum[:0])
	return sum
}

// record appends one entry to the chain in the caller's transaction.
func (w *writer) record(e cases.Entry) error {
	last, err := readHead(w.tx)
	if err != nil {
		return err
	}
	e.Seq, e.At, e.Actor = last.seq+1, w.now.UTC(), w.actor
	e.Prev, e.Hash = hex.EncodeToString(last.hash[:]), ""
	canonical, err := json.Marshal(e)
	if err != nil {
		return fmt.Errorf("audit entry: %w", err)
	}
	sum := linkHash(last.hash, canonical)
	text := hex.EncodeToString(sum[:])
	key := number(e.Seq)
	puts := []struct{ bucket, key, value string }{
		{auditBucket, key, text + " " + string(canonical)},
		{auditByTime, e.At.Format(timeKey) + key, ""},
	}
	if e.Case != "" {
		puts = append(puts, struct{ bucket, key, value string }{auditByCase, string(e.Case) + key, ""})
	}
	for _, p := range puts {
		b := w.tx.Bucket([]byte(p.bucket))
		if p.bucket != auditByCase {
			b.FillPercent = appendFill
		}
		if err := b.Put([]byte(p.key), []byte(p.value)); err != nil {
			return err
		}
	}
	return metaPut(w.tx, metaHead, strconv.FormatUint(e.Seq, 10)+" "+text)
}

// splitEntry gives the hash and canonical bytes of a stored entry.
func splitEntry(value []byte) (sum [sha256.Size]byte, canonical []byte, err error) {
	const width = 2 * sha256.Size
	if len(value) <= width || value[width] != ' ' || bytes.ContainsAny(value[:width], "ABCDEF") { // written in small letters, so that one flipped bit of a letter shows
		return sum, nil, errChain
	}
	if _, err := hex.Decode(sum[:], value[:width]); err != nil {
		return sum, nil, errChain
	}
	return sum, value[width+1:], nil
}

func decodeEntry(value []byte) (cases.Entry, error) {
	var e cases.Entry
	sum, canonical, err := splitEntry(value)
	if err != nil {
		return e, err
	}
	if err := json.Unmarshal(canonical, &e); err != nil {
		return e, fmt.Errorf("audit entry: %w", err)
	}
	e.Hash = hex.EncodeToString(sum[:])
	return e, nil
}

func (r *reader) entry(seq string) (cases.Entry, error) {
	v := r.tx.Bucket([]byte(auditBucket)).Get([]byte(seq))
	if v == nil {
		return cases.Entry{}, fmt.Errorf("%w: entry %s is missing", errChain, seq)
	}
	return decodeEntry(v)
}

// History lists what was done to a case, oldest first.
func (r *reader) History(id cases.ID) ([]cases.Entry, error) {
	if err := checkID(string(id)); err != nil {
		return nil, notFound("There is no infant under this address.", err)
	}
	keys := scanKeys(r.tx.Bucket([]byte(auditByCase)), string(id), after(string(id)), seqWidth)
	out := make([]cases.Entry, 0, len(keys))
	for _, k := range keys {
		e, err := r.entry(k)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, nil
}

// EntriesSince gives the entries made at t or later, oldest first.
func (r *reader) EntriesSince(t time.Time) iter.Seq2[cases.Entry, error] {
	return func(yield func(cases.Entry, error) bool) {
		from := t.UTC().Format(timeKey)
		for _, k := range scanKeys(r.tx.Bucket([]byte(auditByTime)), from, "", seqWidth) {
			if e, err := r.entry(k); !yield(e, err) {
				return
			}
		}
	}
}

// Note writes an audit entry that belongs to no case, such as a sign-in.
func (w *writer) Note(e cases.Event) error { return w.record(cases.Entry{Event: e}) }

// noteChange writes an audit entry about a record that is not a case. hide
// names top-level members whose values, and those within, are never written to the
// trail.
func (w *writer) noteChange(e cases.Event, of cases.ID, path string, before, after []byte, hide ...string) error {
	fields, err := changes(before, after, path)
	if err != nil {
		return err
	}
	for i := range fields {
		for _, h := range hide {
			rest, within := strings.CutPrefix(fields[i].Path, path+"."+h)
			if within && (rest == "" || rest[0] == '.' || rest[0] == '[') {
				fields[i].Old, fields[i].New = nil, json.RawMessage(`"changed"`)
			}
		}
	}
	if len(fields) == 0 && bytes.Equal(before, after) {
		return nil
	}
	return w.record(cases.Entry{Event: e, Case: of, Fields: fields})
}

// AuditHead gives the number and hash of the last audit entry, to be kept
// outside the store: with it a cut tail can be found.
func (db *DB) AuditHead() (seq uint64, hash string, err error) {
	err = db.bolt.View(func(tx *bbolt.Tx) error {
		h, err := readHead(tx)
		seq, hash = h.seq, hex.EncodeToString(h.hash[:])
		return err
	})
	return seq, hash, err
}

// HasEntry tells whether the trail still holds the entry with this number and
// hash, as noted elsewhere earlier.
func (db *DB) HasEntry(seq uint64, hash string) (found bool, err error) {
	err = db.bolt.View(func(tx *bbolt.Tx) error {
		v := tx.Bucket([]byte(auditBucket)).Get([]byte(number(seq)))
		sum, _, err := splitEntry(v)
		found = err == nil && hex.EncodeToString(sum[:]) == strings.ToLower(hash)
		return nil
	})
	return found, err
}
