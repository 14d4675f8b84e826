package store

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"

	json2 "github.com/go-json-experiment/json"
	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// accessLine is one line of the access log being checked.
type accessLine struct {
	key, value []byte
	prev       [sha256.Size]byte // as the line before carries it
	sum        [sha256.Size]byte
	line       cases.Access
	fault      string
	by         uint64            // of a stub: the audit entry that says so
	sums       map[string]uint64 // of its index entries, by bucket
}

// accessTrail is what the check remembers of the log so far.
type accessTrail struct {
	last    head
	sums    map[string]uint64
	waiting map[string]bool // break-glass lines without a review
	lists   map[string]bool // long lists that lines name
}

// access follows the log from its first line, as audit does the trail, and compares
// its indexes, its long lists and what waits for review with the lines.
func (c *checker) access(tx *bbolt.Tx) {
	t := &accessTrail{sums: map[string]uint64{}, waiting: map[string]bool{}, lists: map[string]bool{}}
	batch := make([]accessLine, 0, fullBatch)
	flush := func() bool {
		spread(len(batch), func(i int) { batch[i].read() }, func(i int, err error) { batch[i].fault = err.Error() })
		for i := range batch {
			if !c.followAccess(t, &batch[i]) {
				return false
			}
		}
		batch = batch[:0]
		return true
	}
	var before [sha256.Size]byte
	cur := tx.Bucket([]byte(accessBucket)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		batch = append(batch, accessLine{key: k, value: v, prev: before})
		before, _, _ = splitEntry(v) // what cannot be read is found by read
		if len(batch) == cap(batch) {
			if c.ctx.Err() != nil || !flush() {
				return
			}
		}
	}
	if !flush() {
		return
	}
	c.counts[accessBucket] = int(t.last.seq)
	h, err := readHeadOf(tx, metaAccess)
	switch {
	case err != nil:
		c.add(metaBucket, "The head of the access log cannot be read.")
	case h != t.last:
		c.add(accessBucket, "The access log ends at line %d, but %d were written.", t.last.seq, h.seq)
	}
	c.looks.compare(func(seq uint64, text string) {
		c.add(accessBucket, "The access log and what was erased of it do not fit together: %d %s.", seq, text)
	})
	c.accessIndexes(tx, t)
	c.accessLists(tx, t)
}

// read decodes a line and computes its hash from the one before.
func (l *accessLine) read() {
	sum, canonical, err := splitEntry(l.value)
	if err == nil {
		err = json2.Unmarshal(canonical, &l.line, readOptions)
	}
	if err != nil {
		l.fault = "cannot be read"
		return
	}
	if l.by = stubOf(canonical); l.by > 0 {
		l.sum = sum // the audit entry that erased it says the same
		return
	}
	if l.sum = linkHash(l.prev, canonical); l.sum != sum {
		l.fault = "was altered, or does not follow from the one before"
		return
	}
	l.sums = map[string]uint64{}
	for _, k := range accessKeys(&l.line) {
		l.sums[k.bucket] += entrySum([]byte(k.key), "")
	}
}

// followAccess takes one line; false ends the walk, since nothing after a break can be
// trusted.
func (c *checker) followAccess(t *accessTrail, l *accessLine) bool {
	where := accessBucket + " " + string(l.key)
	seq := t.last.seq + 1
	switch {
	case string(l.key) != number(seq):
		c.add(where, "The access log has a gap: line %d is missing.", seq)
		return false
	case l.fault == "" && l.line.Seq != seq:
		c.add(where, "Line %d of the access log carries another number.", seq)
		return false
	case l.fault != "":
		c.add(where, "Line %d of the access log %s.", seq, l.fault)
		return false
	}
	t.last = head{seq: seq, hash: l.sum}
	if l.by > 0 {
		c.looks.add(seq, l.by, l.sum)
		return true
	}
	for bucket, sum := range l.sums {
		t.sums[bucket] += sum
	}
	if l.line.Set != "" {
		t.lists[l.line.Set] = true
	}
	switch l.line.Act {
	case cases.ActBreakGlass:
		t.waiting[number(seq)] = true
	case cases.ActReview:
		delete(t.waiting, number(l.line.Of))
	}
	return true
}

func (c *checker) accessIndexes(tx *bbolt.Tx, t *accessTrail) {
	for key := range t.waiting {
		t.sums[accessWaiting] += entrySum([]byte(key), "")
	}
	for _, name := range []string{accessByTime, accessByPerson, accessByInfant, accessByList, accessWaiting} {
		if _, sum := bucketSum(tx.Bucket([]byte(name))); sum != t.sums[name] {
			c.add(name, "An index of the access log does not fit its lines.")
		}
	}
}

// accessLists compares each long list with its hash, with the lines that name it, and
// with the index of its infants.
func (c *checker) accessLists(tx *bbolt.Tx, t *accessTrail) {
	var want uint64
	cur := tx.Bucket([]byte(accessLists)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		refs := strings.Split(string(v), "\n")
		if hashOf(v) != string(k) || !slices.IsSorted(refs) {
			c.add(accessLists+" "+string(k), "A list of infants of the access log is damaged.")
			continue
		}
		if !t.lists[string(k)] {
			c.add(accessLists+" "+string(k), "A list of infants is named by no line of the access log.")
		}
		delete(t.lists, string(k))
		for _, ref := range refs {
			want += entrySum([]byte(closed(ref)+string(k)), "")
		}
	}
	for list := range t.lists {
		c.add(fmt.Sprintf("%s %s", accessLists, list), "A list of infants that the access log names is missing.")
	}
	if _, sum := bucketSum(tx.Bucket([]byte(accessMembers))); sum != want {
		c.add(accessMembers, "An index of the access log does not fit its lists.")
	}
}
