package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// TestCheckFinds plants one fault behind the store's back and asks for the
// sentence that names it.
//
//asvs:16.4.2
func TestCheckFinds(t *testing.T) {
	del := func(bucket, key string) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error { return tx.Bucket([]byte(bucket)).Delete([]byte(key)) }
	}
	edit := func(bucket string, seq uint64, from, to string) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte(bucket))
			v := b.Get([]byte(number(seq)))
			if !bytes.Contains(v, []byte(from)) {
				return fmt.Errorf("%s not in %s", from, v)
			}
			return b.Put([]byte(number(seq)), bytes.Replace(v, []byte(from), []byte(to), 1))
		}
	}
	first := func(tx *bbolt.Tx, bucket string) []byte {
		k, _ := tx.Bucket([]byte(bucket)).Cursor().First()
		return bytes.Clone(k)
	}
	for name, x := range map[string]struct {
		plant func(*bbolt.Tx) error
		says  string
		index bool
	}{
		"flipped byte of a case":     {func(tx *bbolt.Tx) error { return flip(tx, "cases") }, "A record is damaged", false},
		"flipped byte of a letter":   {func(tx *bbolt.Tx) error { return flip(tx, "letters") }, "A record is damaged", false},
		"flipped byte of a document": {func(tx *bbolt.Tx) error { return flip(tx, rawBucket) }, "A received document is damaged", false},
		"document gone":              {func(tx *bbolt.Tx) error { return tx.Bucket([]byte(rawBucket)).Delete(first(tx, rawBucket)) }, "1 received document(s) are gone", false},
		"case gone":                  {func(tx *bbolt.Tx) error { return tx.Bucket([]byte("cases")).Delete(first(tx, "cases")) }, "case(s) of the audit trail are gone", false},
		"cases swapped": {func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte("cases"))
			k1, v1 := b.Cursor().First()
			k2, v2 := b.Cursor().Last()
			k1, v1, k2, v2 = bytes.Clone(k1), bytes.Clone(v1), bytes.Clone(k2), bytes.Clone(v2)
			return errors.Join(b.Put(k1, v2), b.Put(k2, v1))
		}, "A record is damaged", false},
		"older copy of a case": {func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte("cases"))
			k, v := b.Cursor().First()
			k = bytes.Clone(k)
			_, body, err := unseal("cases", string(k), v)
			if err != nil {
				return err
			}
			return b.Put(k, seal("cases", string(k), 1, body))
		}, "is at revision 1, but the audit trail knows 2", false},
		"index entry gone":     {func(tx *bbolt.Tx) error { return tx.Bucket([]byte("cases.due")).Delete(first(tx, "cases.due")) }, "An index lacks the entry", true},
		"index entry too many": {func(tx *bbolt.Tx) error { return tx.Bucket([]byte("cases.born")).Put([]byte("x"), nil) }, "that no record asks for", true},
		"unique entry astray": {func(tx *bbolt.Tx) error {
			return tx.Bucket([]byte("cases.reference")).Put(first(tx, "cases.reference"), []byte("x"))
		}, "leads to the wrong record", true},
		"audit entry removed": {del(auditBucket, number(2)), "entry 2 is missing", false},
		"first audit entry":   {del(auditBucket, number(1)), "entry 1 is missing", false},
		"last audit entry": {func(tx *bbolt.Tx) error {
			k, _ := tx.Bucket([]byte(auditBucket)).Cursor().Last()
			return tx.Bucket([]byte(auditBucket)).Delete(k)
		}, "The audit trail ends at entry", false},
		"audit entry altered": {edit(auditBucket, 2, "Ina Reed", "Eva Reed"), "Entry 2 of the audit trail was altered", false},
		"audit entry rewritten with its hash": {func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte(auditBucket))
			e, err := decodeEntry(b.Get([]byte(number(2))))
			if err != nil {
				return err
			}
			e.Actor.Name, e.Hash = "Eva Reed", ""
			canonical, _ := json.Marshal(e)
			prev, _, _ := splitEntry(b.Get([]byte(number(1))))
			return b.Put([]byte(number(2)), fmt.Appendf(nil, "%x %s", linkHash(prev, canonical), canonical))
		}, "Entry 3 of the audit trail does not follow", false},
		"audit index":    {func(tx *bbolt.Tx) error { return tx.Bucket([]byte(auditByCase)).Delete(first(tx, auditByCase)) }, "index of the audit trail does not fit", false},
		"part missing":   {func(tx *bbolt.Tx) error { return tx.DeleteBucket([]byte("settings")) }, "A part of the store is missing", false},
		"head overtyped": {func(tx *bbolt.Tx) error { return metaPut(tx, metaHead, "nonsense") }, "The head of the audit trail cannot be read", false},
	} {
		t.Run(name, func(t *testing.T) {
			db := openTest(t)
			fill(t, db)
			if err := db.bolt.Update(x.plant); err != nil {
				t.Fatal(err)
			}
			problems, err := db.Check(ctx)
			if err != nil {
				t.Fatal(err)
			}
			found := false
			for _, p := range problems {
				found = found || strings.Contains(p.Text, x.says) && p.Index == x.index
			}
			if !found {
				t.Errorf("not found; got %v", problems)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		})
	}
}

// fill writes a little of everything.
func fill(t testing.TB, db *DB) {
	t.Helper()
	var last cases.Case
	for i, name := range []string{"Ada", "Ben", "Cy"} {
		last = put(t, db, newCase(19+i, name, "Wren"), "opened")
		last.Owner = "ina"
		last = put(t, db, last, "owner-set")
	}
	update(t, db, func(w cases.Writer) error {
		if err := w.PutReceived(cases.Received{Source: "import", Name: "a.hl7", At: w.Now(), Raw: []byte("MSH|^~\\&|and a good deal more of it")}); err != nil {
			return err
		}
		if _, err := w.PutItem(cases.Item{Document: "x", Outcome: "review", Kind: "cannot be read", Title: "row 1"}); err != nil {
			return err
		}
		_, err := w.PutLetter(cases.Letter{Case: last.ID, Kind: "first-notice", Occasion: "2026-03-05", State: "to-print", Data: json.RawMessage(`{"text":"x"}`)})
		return err
	})
}

func TestFlippedByteIsFoundWhenRead(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	if err := db.bolt.Update(func(tx *bbolt.Tx) error { return flip(tx, "cases") }); err != nil {
		t.Fatal(err)
	}
	err := db.View(ctx, func(r cases.Reader) error { _, err := r.Case(c.ID); return err })
	if !errors.Is(err, errDamaged) {
		t.Errorf("got %v", err)
	}
	db.Close()
}

//asvs:16.4.3
func TestOutsideHeadFindsACutTail(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	seq, hash, err := db.AuditHead()
	if err != nil || seq == 0 {
		t.Fatal(seq, err)
	}
	if ok, err := db.HasEntry(seq, hash); !ok || err != nil {
		t.Fatalf("the head is not there: %v", err)
	}
	// Cut the tail and make the head in meta agree: inside the file all fits.
	err = db.bolt.Update(func(tx *bbolt.Tx) error {
		b := tx.Bucket([]byte(auditBucket))
		sum, _, err := splitEntry(b.Get([]byte(number(seq - 1))))
		if err != nil {
			return err
		}
		return errors.Join(b.Delete([]byte(number(seq))), metaPut(tx, metaHead, fmt.Sprintf("%d %x", seq-1, sum)))
	})
	if err != nil {
		t.Fatal(err)
	}
	if ok, _ := db.HasEntry(seq, hash); ok {
		t.Error("the cut tail was not noticed")
	}
	db.Close()
}

// TestDamagedFiles truncates, overwrites and flips a file at many places. The
// process must live, and what cannot be read must be said.
func TestDamagedFiles(t *testing.T) {
	path := closedStore(t, 300)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	used := int(headerOf(t, path).pages * headerOf(t, path).pageSize)
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(1, 2))
	kinds := map[string]func([]byte) []byte{
		"cut":    func(b []byte) []byte { return b[:rng.IntN(used)] },
		"zeroed": func(b []byte) []byte { clear(page(b, rng.IntN(used))); return b },
		"garbage": func(b []byte) []byte {
			p := page(b, rng.IntN(used))
			for i := range p {
				p[i] = byte(rng.Uint32())
			}
			return b
		},
		"flipped": func(b []byte) []byte { b[rng.IntN(used)] ^= 1 << rng.IntN(8); return b },
	}
	for name, hurt := range kinds {
		t.Run(name, func(t *testing.T) {
			said := 0
			for i := range 40 {
				p := filepath.Join(dir, fmt.Sprintf("%s-%d.db", name, i))
				if err := os.WriteFile(p, hurt(bytes.Clone(whole)), 0o600); err != nil {
					t.Fatal(err)
				}
				if examineDamaged(t, p) {
					said++
				}
				os.Remove(p)
			}
			t.Logf("%d of 40 were named; the others hit free space", said)
			if said == 0 || name == "cut" && said != 40 {
				t.Errorf("%d of 40 files were noticed", said)
			}
		})
	}
}

// examineDamaged opens a file and checks it; true when something was said.
func examineDamaged(t *testing.T, path string) bool {
	o := testOptions()
	o.ReadOnly = true
	db, err := Open(path, o)
	if err != nil {
		var f *Fault
		if !errors.As(err, &f) {
			t.Errorf("no sentence for people: %v", err)
		}
		return true
	}
	defer db.Close()
	problems, err := db.Check(ctx)
	return err != nil || len(problems) > 0
}

func page(b []byte, at int) []byte {
	at -= at % 4096
	return b[at : at+4096]
}

func headerOf(t *testing.T, path string) *header {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, _ := f.Stat()
	h, _ := newestHeader(f, info.Size())
	if h == nil {
		t.Fatal("no header")
	}
	return h
}
