package store

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// tampering is one way to falsify a chain. It tells whether it changed anything.
type tampering struct {
	name string
	do   func(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error)
	head bool // only a head noted elsewhere can find it
}

var tamperings = []tampering{
	{"a byte of an entry", flipByte, false},
	{"an entry with its own hash made to fit", editOne, false},
	{"an entry and every hash after it", rewriteFrom, true},
	{"an entry taken out", deleteOne, false},
	{"an entry taken out and the others moved up", closeGap, true},
	{"two entries exchanged", swapTwo, false},
	{"the end cut off", cutEnd, false},
	{"the end cut off with all that leads to it", cutClean, true},
	{"a key of an index", dropKey, false},
}

// TestTamperingIsFound falsifies both chains 10,000 times, each in a transaction that
// is checked and taken back. Every falsification must be found, against heads that were
// noted elsewhere; those that leave the file in itself without fault must be found by
// these heads alone.
//
//asvs:16.4.2
func TestTamperingIsFound(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	logged(t, db, 40)
	noted, err := db.Heads(ctx)
	if err != nil {
		t.Fatal(err)
	}
	// The control: nothing falsified, nothing found.
	if got := inside(t, db, func(*bbolt.Tx) (bool, error) { return true, nil }, noted); got.changed != 1 || got.file+got.heads > 0 {
		t.Fatalf("a sound store gives %+v", got)
	}
	rng := rand.New(rand.NewPCG(7, 11))
	const tries = 10_000
	done, found, silent := map[string]int{}, map[string]int{}, map[string]int{}
	for n := 0; n < tries; {
		how := tamperings[rng.IntN(len(tamperings))]
		name := []string{"audit", "access"}[rng.IntN(2)]
		got := inside(t, db, func(tx *bbolt.Tx) (bool, error) { return how.do(tx, rng, chains[name]) }, noted)
		if got.changed == 0 {
			continue
		}
		n++
		done[how.name]++
		switch {
		case got.file+got.heads == 0:
			t.Fatalf("%s: %s was not found", name, how.name)
		case got.file == 0:
			silent[how.name]++
		}
		found[how.name]++
	}
	for _, how := range tamperings {
		t.Logf("%-45s %5d done, %5d found, %5d of them by the noted heads alone", how.name, done[how.name], found[how.name], silent[how.name])
		if done[how.name] == 0 || how.head && silent[how.name] == 0 {
			t.Errorf("%s: the test did not come to it", how.name)
		}
	}
}

type outcome struct{ changed, file, heads int }

var errBack = errors.New("taken back")

// inside falsifies, checks and takes back.
func inside(t *testing.T, db *DB, do func(*bbolt.Tx) (bool, error), noted []Head) (got outcome) {
	t.Helper()
	err := db.bolt.Update(func(tx *bbolt.Tx) error {
		changed, err := do(tx)
		if err != nil || !changed {
			return errors.Join(err, errBack)
		}
		got.changed = 1
		c := &checker{ctx: ctx, db: db, counts: map[string]int{}}
		c.audit(tx)
		c.access(tx)
		got.file, got.heads = len(c.problems), len(againstHeads(tx, noted))
		return errBack
	})
	if err == nil || err.Error() != errBack.Error() {
		t.Fatal(err)
	}
	return got
}

// keysOf lists the keys of a bucket.
func keysOf(tx *bbolt.Tx, bucket string) []string {
	return scanKeys(tx.Bucket([]byte(bucket)), "", "", 0)
}

func anyKey(tx *bbolt.Tx, rng *rand.Rand, bucket string) string {
	keys := keysOf(tx, bucket)
	return keys[rng.IntN(len(keys))]
}

func flipByte(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	b, key := tx.Bucket([]byte(ch.bucket)), []byte(anyKey(tx, rng, ch.bucket))
	v := bytes.Clone(b.Get(key))
	v[rng.IntN(len(v))] ^= 1 << rng.IntN(8)
	return true, b.Put(key, v)
}

// altered is an entry whose person is another.
func altered(canonical []byte) []byte {
	for _, name := range []string{"ina", "jo@", "kim", "mia"} {
		if bytes.Contains(canonical, []byte(name)) {
			return bytes.ReplaceAll(canonical, []byte(name), []byte("eve"))
		}
	}
	return bytes.Replace(canonical, []byte(`"at":"2026-03-20T`), []byte(`"at":"2026-03-19T`), 1)
}

func prevOf(tx *bbolt.Tx, ch chain, seq uint64) (sum [32]byte) {
	sum, _, _ = splitEntry(tx.Bucket([]byte(ch.bucket)).Get([]byte(number(seq - 1))))
	return sum
}

func editOne(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	b, key := tx.Bucket([]byte(ch.bucket)), anyKey(tx, rng, ch.bucket)
	_, canonical, err := splitEntry(b.Get([]byte(key)))
	if err != nil {
		return false, err
	}
	now := altered(canonical)
	var seq uint64
	fmt.Sscan(strings.TrimLeft(key, "0"), &seq)
	sum := linkHash(prevOf(tx, ch, seq), now)
	return !bytes.Equal(now, canonical), b.Put([]byte(key), slices.Concat([]byte(hex.EncodeToString(sum[:])+" "), now))
}

// relink writes the chain anew from a list of canonical bytes: numbers, links, hashes
// and the head all fit.
func relink(tx *bbolt.Tx, ch chain, all [][]byte) error {
	b := tx.Bucket([]byte(ch.bucket))
	for _, k := range keysOf(tx, ch.bucket) {
		if err := b.Delete([]byte(k)); err != nil {
			return err
		}
	}
	var last head
	for _, canonical := range all {
		now, err := renumbered(canonical, ch, last)
		if err != nil {
			return err
		}
		last = head{last.seq + 1, linkHash(last.hash, now)}
		if err := b.Put([]byte(number(last.seq)), fmt.Appendf(nil, "%x %s", last.hash, now)); err != nil {
			return err
		}
	}
	return metaPut(tx, ch.meta, fmt.Sprintf("%d %x", last.seq, last.hash))
}

func renumbered(canonical []byte, ch chain, last head) ([]byte, error) {
	if ch.bucket == accessBucket {
		var a cases.Access
		err := json.Unmarshal(canonical, &a)
		a.Seq = last.seq + 1
		b, merr := json.Marshal(a)
		return b, errors.Join(err, merr)
	}
	var e cases.Entry
	err := json.Unmarshal(canonical, &e)
	e.Seq, e.Prev = last.seq+1, hex.EncodeToString(last.hash[:])
	b, merr := json.Marshal(e)
	return b, errors.Join(err, merr)
}

func bodies(tx *bbolt.Tx, ch chain) (all [][]byte) {
	for _, k := range keysOf(tx, ch.bucket) {
		_, canonical, _ := splitEntry(tx.Bucket([]byte(ch.bucket)).Get([]byte(k)))
		all = append(all, bytes.Clone(canonical))
	}
	return all
}

// refit makes the indexes of a chain fit its entries, as somebody with time would.
func refit(tx *bbolt.Tx, ch chain) error {
	want := map[string]map[string]bool{}
	buckets := []string{auditByCase, auditByTime}
	if ch.bucket == accessBucket {
		buckets = []string{accessByTime, accessByPerson, accessByInfant, accessByList, accessWaiting}
	}
	for _, b := range buckets {
		want[b] = map[string]bool{}
	}
	lists := map[string]bool{}
	for _, body := range bodies(tx, ch) {
		if ch.bucket == auditBucket {
			var e cases.Entry
			if err := json.Unmarshal(body, &e); err != nil {
				return err
			}
			want[auditByTime][e.At.UTC().Format(timeKey)+number(e.Seq)] = true
			if e.Case != "" {
				want[auditByCase][string(e.Case)+number(e.Seq)] = true
			}
			continue
		}
		var a cases.Access
		if err := json.Unmarshal(body, &a); err != nil {
			return err
		}
		for _, k := range accessKeys(&a) {
			want[k.bucket][k.key] = true
		}
		lists[a.Set] = true
		switch a.Act {
		case cases.ActBreakGlass:
			want[accessWaiting][number(a.Seq)] = true
		case cases.ActReview:
			delete(want[accessWaiting], number(a.Of))
		}
	}
	if ch.bucket == accessBucket {
		if err := dropLists(tx, lists); err != nil {
			return err
		}
	}
	for bucket, keys := range want {
		b := tx.Bucket([]byte(bucket))
		for _, k := range keysOf(tx, bucket) {
			if !keys[k] {
				if err := b.Delete([]byte(k)); err != nil {
					return err
				}
			}
		}
		for k := range keys {
			if err := b.Put([]byte(k), nil); err != nil {
				return err
			}
		}
	}
	return nil
}

func dropLists(tx *bbolt.Tx, named map[string]bool) error {
	b, m := tx.Bucket([]byte(accessLists)), tx.Bucket([]byte(accessMembers))
	for _, list := range keysOf(tx, accessLists) {
		if named[list] {
			continue
		}
		for _, ref := range strings.Split(string(b.Get([]byte(list))), "\n") {
			if err := m.Delete([]byte(closed(ref) + list)); err != nil {
				return err
			}
		}
		if err := b.Delete([]byte(list)); err != nil {
			return err
		}
	}
	return nil
}

func rewriteFrom(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	all := bodies(tx, ch)
	i := rng.IntN(len(all))
	now := altered(all[i])
	changed := !bytes.Equal(now, all[i])
	all[i] = now
	return changed, errors.Join(relink(tx, ch, all), refit(tx, ch))
}

func deleteOne(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	return true, tx.Bucket([]byte(ch.bucket)).Delete([]byte(anyKey(tx, rng, ch.bucket)))
}

func closeGap(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	all := bodies(tx, ch)
	i := rng.IntN(len(all))
	return true, errors.Join(relink(tx, ch, slices.Delete(all, i, i+1)), refit(tx, ch))
}

func swapTwo(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	b := tx.Bucket([]byte(ch.bucket))
	x, y := []byte(anyKey(tx, rng, ch.bucket)), []byte(anyKey(tx, rng, ch.bucket))
	vx, vy := bytes.Clone(b.Get(x)), bytes.Clone(b.Get(y))
	return !bytes.Equal(x, y), errors.Join(b.Put(x, vy), b.Put(y, vx))
}

func cutEnd(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	keys := keysOf(tx, ch.bucket)
	for _, k := range keys[len(keys)-1-rng.IntN(len(keys)-1):] {
		if err := tx.Bucket([]byte(ch.bucket)).Delete([]byte(k)); err != nil {
			return false, err
		}
	}
	return true, nil
}

func cutClean(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	all := bodies(tx, ch)
	return true, errors.Join(relink(tx, ch, all[:1+rng.IntN(len(all)-1)]), refit(tx, ch))
}

func dropKey(tx *bbolt.Tx, rng *rand.Rand, ch chain) (bool, error) {
	buckets := []string{auditByCase, auditByTime}
	if ch.bucket == accessBucket {
		buckets = accessBuckets[1:]
	}
	bucket := buckets[rng.IntN(len(buckets))]
	return true, tx.Bucket([]byte(bucket)).Delete([]byte(anyKey(tx, rng, bucket)))
}

func TestHeadsReadBack(t *testing.T) {
	db := openTest(t)
	fill(t, db)
	logged(t, db, 3)
	heads, err := db.Heads(ctx)
	if err != nil || len(heads) != 2 || heads[0].Seq == 0 || heads[1].Seq == 0 {
		t.Fatal(heads, err)
	}
	for _, h := range heads {
		got, err := ParseHead(h.String())
		if err != nil || got.String() != h.String() {
			t.Errorf("%s reads back as %s (%v)", h, got, err)
		}
	}
	if p, err := db.CheckHeads(ctx, heads); err != nil || len(p) > 0 {
		t.Error(p, err)
	}
	for _, line := range []string{"", "x", "2026-03-05T06:00:04Z audit 12", "2026-03-05T06:00:04Z audit 12 abc", heads[0].String() + " more", strings.Replace(heads[0].String(), "audit", "other", 1)} {
		if _, err := ParseHead(line); err == nil {
			t.Errorf("%q was read", line)
		}
	}
}
