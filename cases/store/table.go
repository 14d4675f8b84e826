package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"

	json2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// table keeps records of one type in one bucket, with indexes that cannot
// drift: put is the only function that writes these buckets.
type table[T any] struct {
	name    string
	key     func(*T) string // primary key, in text
	fixed   int             // width of the primary key in bytes; 0 = varies
	strict  bool            // text with zero bytes is refused
	rev     func(*T) uint64 // revision; nil for tables without
	loaded  func(r *T, key string, rev uint64)
	indexes []index[T]
}

// index declares one way to find records. keys is a pure function of the
// record; its keys come without the primary key. A key is made of fields of
// fixed width or closed by a zero byte.
type index[T any] struct {
	name    string // of the bucket: <table>.<name>
	version int    // raised when keys changes; makes the index be built anew
	unique  bool
	keys    func(*T) []string
}

// clash is a unique key that another record owns.
type clash struct{ index, key, owner string }

func (c *clash) Error() string {
	return fmt.Sprintf("index %s: key %q belongs to record %s", c.index, c.key, c.owner)
}

// stale is a write from an old revision.
type stale struct{ want, have uint64 }

func (s *stale) Error() string {
	return fmt.Sprintf("revision %d was written over by %d", s.want, s.have)
}

var errNoRecord = errors.New("no such record")

// readOptions skip what the checksum makes needless.
var readOptions = json2.JoinOptions(jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true))

func (t *table[T]) bucketOf(ix *index[T]) []byte { return []byte(t.name + "." + ix.name) }

// decode reads a stored value; the result shares no memory with it.
func (t *table[T]) decode(key string, value []byte) (*T, error) {
	rev, body, err := unseal(t.name, key, value)
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", t.name, key, err)
	}
	r := new(T)
	if err := json2.Unmarshal(body, r, readOptions); err != nil {
		return nil, fmt.Errorf("%s %s: %w", t.name, key, err)
	}
	if t.loaded != nil {
		t.loaded(r, key, rev)
	}
	return r, nil
}

// get reads one record, or errNoRecord.
func (t *table[T]) get(tx *bbolt.Tx, key string) (*T, error) {
	v := tx.Bucket([]byte(t.name)).Get([]byte(key))
	if v == nil {
		return nil, errNoRecord
	}
	return t.decode(key, v)
}

// one reads one record by value; NotFound, in the words of none, when it is not there.
func (t *table[T]) one(tx *bbolt.Tx, key, none string) (T, error) {
	v, err := t.get(tx, key)
	if errors.Is(err, errNoRecord) {
		err = notFound(none, err)
	}
	if err != nil {
		var zero T
		return zero, err
	}
	return *v, nil
}

// inState gives the records of a table with an index "state", all for "", in order of
// their keys.
func (t *table[T]) inState(tx *bbolt.Tx, state string) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		keys := t.all(tx)
		if state != "" {
			keys = t.keysWith(tx, "state", closed(state))
		}
		values(t.each(tx, keys))(yield)
	}
}

// written is what put did.
type written[T any] struct {
	old, now *T
	oldJSON  []byte // nil for a new record; the caller's own memory
	newJSON  []byte
}

// put writes one record with its indexes: it compares the revision, encodes,
// decodes again and takes the keys from that decoded copy, so that the indexes
// describe what will be read, not what was in memory.
func (t *table[T]) put(tx *bbolt.Tx, r *T) (written[T], error) {
	var w written[T]
	b := tx.Bucket([]byte(t.name))
	key := t.key(r)
	if key == "" || t.fixed > 0 && len(key) != t.fixed {
		return w, fmt.Errorf("%s: %q cannot be a key", t.name, clip(key))
	}
	var rev uint64
	if v := b.Get([]byte(key)); v != nil {
		have, body, err := unseal(t.name, key, v)
		if err != nil {
			return w, fmt.Errorf("%s %s: %w", t.name, key, err)
		}
		if w.old, err = t.decode(key, v); err != nil {
			return w, err
		}
		rev, w.oldJSON = have, bytes.Clone(body)
	}
	if t.rev != nil && t.rev(r) != rev {
		return w, &stale{want: t.rev(r), have: rev}
	}
	body, err := json.Marshal(r)
	if err != nil {
		return w, fmt.Errorf("%s %s: %w", t.name, key, err)
	}
	if t.strict && holdsZero(body) {
		return w, cases.Errorf(cases.Invalid, "A text holds a zero byte, which cannot be saved. Remove it and save again.")
	}
	value := seal(t.name, key, rev+1, body)
	if w.now, err = t.decode(key, value); err != nil {
		return w, err
	}
	w.newJSON = body
	if err := t.reindex(tx, key, w.old, w.now); err != nil {
		return w, err
	}
	return w, b.Put([]byte(key), value)
}

// reindex removes the keys that only old had and adds those that only now has.
func (t *table[T]) reindex(tx *bbolt.Tx, pk string, old, now *T) error {
	for i := range t.indexes {
		ix := &t.indexes[i]
		var was, is []string
		if old != nil {
			was = ix.keys(old)
		}
		if now != nil {
			is = ix.keys(now)
		}
		b := tx.Bucket(t.bucketOf(ix))
		for _, k := range was {
			if !contains(is, k) {
				if err := b.Delete(entryKey(ix.unique, k, pk)); err != nil {
					return err
				}
			}
		}
		for _, k := range is {
			if contains(was, k) {
				continue
			}
			if err := t.addEntry(b, ix, k, pk); err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *table[T]) addEntry(b *bbolt.Bucket, ix *index[T], k, pk string) error {
	full := entryKey(ix.unique, k, pk)
	if !ix.unique {
		return b.Put(full, nil)
	}
	if owner := b.Get(full); owner != nil && string(owner) != pk {
		return &clash{index: t.name + "." + ix.name, key: k, owner: string(owner)}
	}
	return b.Put(full, []byte(pk))
}

func entryKey(unique bool, k, pk string) []byte {
	if unique {
		return []byte(k)
	}
	return []byte(k + pk)
}

// delete removes a record and its keys; only short-lived records go so, and what is
// erased.
func (t *table[T]) delete(tx *bbolt.Tx, key string) error {
	b := tx.Bucket([]byte(t.name))
	v := b.Get([]byte(key))
	if v == nil {
		return nil
	}
	if old, err := t.decode(key, v); err == nil {
		if err := t.reindex(tx, key, old, nil); err != nil {
			return err
		}
	}
	return b.Delete([]byte(key))
}

// owner gives the primary key that a unique key belongs to.
func (t *table[T]) owner(tx *bbolt.Tx, ix, k string) (string, bool) {
	v := tx.Bucket([]byte(t.name + "." + ix)).Get([]byte(k))
	return string(v), v != nil
}

// holdsZero finds an escaped zero byte in JSON.
func holdsZero(body []byte) bool {
	const zero = `\u0000`
	for at := 0; ; at += len(zero) {
		i := bytes.Index(body[at:], []byte(zero))
		if i < 0 {
			return false
		}
		at += i
		slashes := 0
		for at-slashes > 0 && body[at-slashes-1] == '\\' {
			slashes++
		}
		if slashes%2 == 0 {
			return true
		}
	}
}

// contains is slices.Contains without its generic call in the hot path.
func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
