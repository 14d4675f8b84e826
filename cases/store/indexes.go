package store

import (
	"cmp"
	"context"
	"fmt"
	"hash/maphash"
	"runtime/debug"
	"slices"
	"strings"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// kept is a table as the whole-store jobs see it.
type kept interface {
	buckets() []string
	declaration() []string
	rebuild(tx *bbolt.Tx, only []string) error
	verify(tx *bbolt.Tx, c *checker)
	title() string
}

// list names every table, in the order in which they are checked.
func (t *tables) list() []kept {
	return []kept{t.cases, t.letters, t.outgoing, t.received, t.items, t.mail, t.days, t.people, t.settings, t.jobs, t.once, t.sessions, t.counters}
}

// bucketNames lists every bucket of a store.
func (db *DB) bucketNames() []string {
	names := append([]string{metaBucket, auditBucket, auditByCase, auditByTime, rawBucket}, accessBuckets...)
	for _, t := range db.list() {
		names = append(names, t.buckets()...)
	}
	return names
}

// indexPrint changes when an index is added, taken away or given a new version.
func (db *DB) indexPrint() string {
	var all []string
	for _, t := range db.list() {
		all = append(all, t.declaration()...)
	}
	return fingerprint(all)
}

func (t *table[T]) title() string { return t.name }

func (t *table[T]) buckets() []string {
	out := []string{t.name}
	for i := range t.indexes {
		out = append(out, string(t.bucketOf(&t.indexes[i])))
	}
	return out
}

func (t *table[T]) declaration() []string {
	var out []string
	for _, ix := range t.indexes {
		out = append(out, fmt.Sprintf("%s.%s %d %t", t.name, ix.name, ix.version, ix.unique))
	}
	return out
}

// rebuildAtOnce bounds how many indexes are gathered in memory together; the
// records are read once for each group.
const rebuildAtOnce = 4

const rebuildGC = 30 // percent

// rebuild empties indexes and fills them from the records; a nil only means all.
func (t *table[T]) rebuild(tx *bbolt.Tx, only []string) error {
	var chosen []*index[T]
	for i := range t.indexes {
		if ix := &t.indexes[i]; only == nil || slices.Contains(only, ix.name) {
			chosen = append(chosen, ix)
		}
	}
	for group := range slices.Chunk(chosen, rebuildAtOnce) {
		if err := t.rebuildGroup(tx, group); err != nil {
			return err
		}
	}
	return nil
}

func (t *table[T]) rebuildGroup(tx *bbolt.Tx, group []*index[T]) error {
	entries := make([][]indexEntry, len(group))
	for r, err := range t.keyed(tx, group) {
		if err != nil {
			return err
		}
		for i, keys := range r.keys {
			for _, k := range keys {
				entries[i] = append(entries[i], indexEntry{k, r.pk})
			}
		}
	}
	for i, ix := range group {
		if err := t.refill(tx, ix, entries[i]); err != nil {
			return err
		}
		entries[i] = nil
	}
	return nil
}

// refill puts entries in order, so that pages fill one after the other.
func (t *table[T]) refill(tx *bbolt.Tx, ix *index[T], entries []indexEntry) error {
	name := t.bucketOf(ix)
	if tx.Bucket(name) != nil {
		if err := tx.DeleteBucket(name); err != nil {
			return err
		}
	}
	b, err := tx.CreateBucket(name)
	if err != nil {
		return err
	}
	slices.SortFunc(entries, indexEntry.compare)
	for _, e := range entries {
		if err := t.addEntry(b, ix, e.key, e.pk); err != nil {
			return err
		}
	}
	return nil
}

type indexEntry struct{ key, pk string }

func (e indexEntry) compare(o indexEntry) int {
	return cmp.Or(strings.Compare(e.key, o.key), strings.Compare(e.pk, o.pk))
}

// rebuild builds indexes of every table anew; only names indexes of cases.
func (db *DB) rebuild(tx *bbolt.Tx, only []string) error {
	defer debug.SetGCPercent(debug.SetGCPercent(rebuildGC)) // the changed pages stay in memory until commit
	if only != nil {
		if err := db.cases.rebuild(tx, only); err != nil {
			return fmt.Errorf("build the indexes of cases: %w", err)
		}
		return db.setFingerprints(tx)
	}
	if err := makeBuckets(tx, db.bucketNames()); err != nil {
		return err
	}
	for _, t := range db.list() {
		if err := t.rebuild(tx, nil); err != nil {
			return fmt.Errorf("build the indexes of %s: %w", t.title(), err)
		}
	}
	return db.setFingerprints(tx)
}

// Reindex builds every index anew from the records, in one transaction.
func (db *DB) Reindex(ctx context.Context) error {
	return db.update(ctx, ledgerActor, func(w *writer) error { return db.rebuild(w.tx, nil) })
}

// SetProtocol makes p the protocol that the due, open and closed indexes follow,
// and builds them anew in one transaction when it differs from the last one.
func (db *DB) SetProtocol(ctx context.Context, p *cases.Protocol) error {
	if protocolPrint(p) == protocolPrint(db.protocol()) {
		return nil
	}
	before := db.protocol()
	err := db.update(ctx, ledgerActor, func(w *writer) error {
		db.rules.Store(p)
		return db.rebuild(w.tx, protocolIndexes)
	})
	if err != nil {
		db.rules.Store(before)
	}
	return err
}

// recordKeysOf is one record with the keys it must have.
type recordKeysOf struct {
	pk   string
	keys [][]string // by index
	sums []uint64   // of the entries, by index
}

// keyed gives every record's keys for some indexes, computed on all processors.
func (t *table[T]) keyed(tx *bbolt.Tx, chosen []*index[T]) func(func(recordKeysOf, error) bool) {
	return func(yield func(recordKeysOf, error) bool) {
		pks := t.all(tx)
		for start := 0; start < len(pks); start += fullBatch {
			batch := pks[start:min(start+fullBatch, len(pks))]
			recs := t.batch(tx, batch)
			out := make([]recordKeysOf, len(batch))
			spread(len(batch), func(i int) {
				out[i].pk = batch[i]
				if recs[i].err != nil {
					return
				}
				for _, ix := range chosen {
					keys := ix.keys(recs[i].rec)
					out[i].keys = append(out[i].keys, keys)
					out[i].sums = append(out[i].sums, sumOf(ix.unique, keys, batch[i]))
				}
			}, func(i int, err error) { recs[i].err = err })
			for i := range out {
				if !yield(out[i], recs[i].err) {
					return
				}
			}
		}
	}
}

var sumSeed = maphash.MakeSeed()

// sumOf adds up hashes of index entries, so that two sets of them can be
// compared in any order.
func sumOf(unique bool, keys []string, pk string) (sum uint64) {
	for _, k := range keys {
		value := ""
		if unique {
			value = pk
		}
		sum += entrySum(entryKey(unique, k, pk), value)
	}
	return sum
}

func entrySum(key []byte, value string) uint64 {
	return maphash.Bytes(sumSeed, key) + 3*maphash.String(sumSeed, value)
}
