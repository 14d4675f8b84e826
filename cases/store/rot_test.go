package store

import (
	"bytes"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"go.etcd.io/bbolt"
)

// TestEveryFlippedByteOfContentIsFound flips one bit of a stored value, as a failing disk
// does, 150 times over every table, document and audit entry. A copy of the store, which
// is what the scrub reads, must show each.
func TestEveryFlippedByteOfContentIsFound(t *testing.T) {
	db := openTest(t)
	for range 20 {
		fill(t, db)
	}
	type place struct{ bucket, key string }
	var all []place
	err := db.bolt.View(func(tx *bbolt.Tx) error {
		names := []string{rawBucket, auditBucket}
		for _, k := range db.list() {
			names = append(names, k.buckets()[0])
		}
		for _, name := range names {
			c := tx.Bucket([]byte(name)).Cursor()
			for k, v := c.First(); k != nil; k, v = c.Next() {
				if len(v) > 0 {
					all = append(all, place{name, string(k)})
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 9))
	copied := filepath.Join(t.TempDir(), "copy.db")
	found, tables := 0, map[string]bool{}
	for range 150 {
		p := all[rng.IntN(len(all))]
		var was []byte
		write := func(v []byte) {
			if err := db.bolt.Update(func(tx *bbolt.Tx) error {
				b := tx.Bucket([]byte(p.bucket))
				was = bytes.Clone(b.Get([]byte(p.key)))
				return b.Put([]byte(p.key), v)
			}); err != nil {
				t.Fatal(err)
			}
		}
		if err := db.bolt.View(func(tx *bbolt.Tx) error {
			was = bytes.Clone(tx.Bucket([]byte(p.bucket)).Get([]byte(p.key)))
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		hurt := bytes.Clone(was)
		hurt[rng.IntN(len(hurt))] ^= 1 << rng.IntN(8)
		sound := was
		write(hurt)
		if err := db.Snapshot(ctx, copied); err != nil {
			t.Fatal(err)
		}
		if _, err := Examine(ctx, copied, testOptions()); err != nil {
			found++
			tables[p.bucket] = true
		} else {
			t.Errorf("a flipped bit of %s %q was not found", p.bucket, p.key)
		}
		write(sound)
	}
	if _, err := db.Check(ctx); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d of 150 found, in %d parts of the store", found, len(tables))
}
