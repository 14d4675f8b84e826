package store

import (
	"context"
	"fmt"

	"go.etcd.io/bbolt"
)

// Problem is one thing wrong in a store. Text is a plain sentence; Where names
// the bucket and key for support. Index marks what Reindex mends.
type Problem struct {
	Where string `json:"where"`
	Text  string `json:"text"`
	Index bool   `json:"index,omitempty"`
}

// String gives the sentence and the place.
func (p Problem) String() string { return p.Text + " (" + p.Where + ")" }

// problemLimit stops a check of a file where everything is wrong.
const problemLimit = 1000

// checker gathers problems.
type checker struct {
	ctx      context.Context
	db       *DB
	problems []Problem
	counts   map[string]int
	looks    erasedChain // what the audit trail says was erased of the access log
	touched  byte        // keeps reads that only look for faults from being left out
}

func (c *checker) add(where, format string, a ...any) {
	c.put(Problem{Where: where, Text: fmt.Sprintf(format, a...)})
}

func (c *checker) addIndex(where, format string, a ...any) {
	c.put(Problem{Where: where, Text: fmt.Sprintf(format, a...), Index: true})
}

func (c *checker) put(p Problem) {
	if len(c.problems) < problemLimit {
		c.problems = append(c.problems, p)
	}
}

// Check reads the whole store and lists what is wrong: pages, every record
// against its checksum, every index against the records, every document against
// its hash, and the audit trail link by link. An empty list is a sound store.
func (db *DB) Check(ctx context.Context) ([]Problem, error) {
	problems, _, err := db.check(ctx)
	return problems, err
}

// check also counts the records of each table.
func (db *DB) check(ctx context.Context) ([]Problem, map[string]int, error) {
	c := &checker{ctx: ctx, db: db, counts: map[string]int{}}
	err := db.bolt.View(func(tx *bbolt.Tx) error { return c.run(tx) })
	return c.problems, c.counts, err
}

func (c *checker) run(tx *bbolt.Tx) error {
	if !c.pages(tx) {
		return c.ctx.Err() // deeper checks would only stumble over the same pages
	}
	for _, name := range c.db.bucketNames() {
		if tx.Bucket([]byte(name)) == nil {
			c.add(name, "A part of the store is missing.")
		}
	}
	if len(c.problems) > 0 {
		return c.ctx.Err()
	}
	parts := []func(*bbolt.Tx){}
	for _, t := range c.db.list() {
		parts = append(parts, func(tx *bbolt.Tx) { t.verify(tx, c) })
	}
	parts = append(parts, c.raw, c.owners, c.audit, c.access)
	for _, part := range parts {
		if err := c.ctx.Err(); err != nil {
			return err
		}
		err := guarded(func() error { part(tx); return nil })
		if err != nil {
			c.add("file", "The file is damaged: %v.", err)
		}
	}
	return nil
}

// pages walks every key and value in this goroutine, where a memory fault can
// be caught, and only then lets bbolt check its pages in its own.
func (c *checker) pages(tx *bbolt.Tx) bool {
	sound := true
	var names []string
	err := guarded(func() error {
		return tx.ForEach(func(name []byte, _ *bbolt.Bucket) error {
			names = append(names, string(name))
			return nil
		})
	})
	if err != nil {
		c.add("file", "The list of parts cannot be read: %v.", err)
		return false
	}
	for _, name := range names {
		err := guarded(func() error {
			return tx.Bucket([]byte(name)).ForEach(func(k, v []byte) error {
				c.touch(k)
				c.touch(v)
				return c.ctx.Err()
			})
		})
		if c.ctx.Err() != nil {
			return false
		}
		if err != nil {
			c.add(name, "A part of the store cannot be read: %v.", err)
			sound = false
		}
	}
	if !sound {
		return false
	}
	for err := range tx.Check() {
		c.add("file", "The pages of the file do not fit together: %v.", err)
		sound = false
	}
	return sound
}

// touch reads the ends of b, so that a page that is not there faults here.
func (c *checker) touch(b []byte) {
	if len(b) > 0 {
		c.touched ^= b[0] ^ b[len(b)-1]
	}
}

// verify reads every record and compares every index with what the records say.
func (t *table[T]) verify(tx *bbolt.Tx, c *checker) {
	all := make([]*index[T], len(t.indexes))
	for i := range t.indexes {
		all[i] = &t.indexes[i]
	}
	counts, sums := make([]int, len(all)), make([]uint64, len(all))
	readable := true
	for r, err := range t.keyed(tx, all) {
		c.counts[t.name]++
		if c.ctx.Err() != nil {
			return
		}
		if err != nil {
			c.add(t.name+" "+r.pk, "A record is damaged: %v.", err)
			readable = false
			continue
		}
		for i := range all {
			counts[i] += len(r.keys[i])
			sums[i] += r.sums[i]
		}
	}
	if !readable {
		return // its keys are not known, so indexes cannot be compared
	}
	for i, ix := range all {
		n, sum := bucketSum(tx.Bucket(t.bucketOf(ix)))
		if n != counts[i] || sum != sums[i] {
			t.compare(tx, ix, c)
		}
	}
}

func bucketSum(b *bbolt.Bucket) (n int, sum uint64) {
	cur := b.Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		n++
		sum += entrySum(k, string(v))
	}
	return n, sum
}

// compare names the entries in which an index and its records differ.
func (t *table[T]) compare(tx *bbolt.Tx, ix *index[T], c *checker) {
	want := map[string]string{}
	for r, err := range t.keyed(tx, []*index[T]{ix}) {
		if err != nil {
			continue
		}
		for _, k := range r.keys[0] {
			value := ""
			if ix.unique {
				value = r.pk
			}
			want[string(entryKey(ix.unique, k, r.pk))] = value
		}
	}
	name := string(t.bucketOf(ix))
	cur := tx.Bucket([]byte(name)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		value, ok := want[string(k)]
		switch {
		case !ok:
			c.addIndex(fmt.Sprintf("%s %q", name, k), "An index has an entry that no record asks for.")
		case value != string(v):
			c.addIndex(fmt.Sprintf("%s %q", name, k), "An index entry leads to the wrong record.")
		}
		delete(want, string(k))
	}
	for k := range want {
		c.addIndex(fmt.Sprintf("%s %q", name, k), "An index lacks the entry of a record.")
	}
}
