package store

import (
	"crypto/sha256"
	"encoding/hex"
	"time"

	json2 "github.com/go-json-experiment/json"
	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// raw compares every received document with the hash it is kept under.
func (c *checker) raw(tx *bbolt.Tx) {
	cur := tx.Bucket([]byte(rawBucket)).Cursor()
	n := 0
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		n++
		if hashOf(v) != string(k) {
			c.add(rawBucket+" "+string(k), "A received document is damaged.")
		}
		if tx.Bucket([]byte(c.db.received.name)).Get(k) == nil {
			c.add(rawBucket+" "+string(k), "A received document has no record of what became of it.")
		}
	}
	if n < c.counts[c.db.received.name] {
		c.add(rawBucket, "%d received document(s) are gone.", c.counts[c.db.received.name]-n)
	}
}

// owners looks for letters and messages whose case is gone.
func (c *checker) owners(tx *bbolt.Tx) {
	all := tx.Bucket([]byte(c.db.cases.name))
	cur := tx.Bucket([]byte(c.db.letters.name + ".once")).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		id, _, _ := cutKey(k)
		if id != "" && all.Get([]byte(id)) == nil { // a list of the day is of no case
			c.add("letters.once "+id, "A letter belongs to a case that is not there.")
		}
	}
	cur = tx.Bucket([]byte(c.db.outgoing.name + ".case")).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		if id, _, _ := cutKey(k); all.Get([]byte(id)) == nil {
			c.add("outgoing.case "+id, "A message belongs to a case that is not there.")
		}
	}
}

// link is one audit entry being checked.
type link struct {
	key, value []byte
	sum        [sha256.Size]byte
	prev       [sha256.Size]byte // as the entry says
	entry      linkEntry
	fault      string
}

// linkEntry is what the check needs of an entry; the rest is only hashed.
type linkEntry struct {
	Seq   uint64    `json:"seq"`
	At    time.Time `json:"at"`
	Case  string    `json:"case"`
	ToRev cases.Rev `json:"to_rev"`
	Prev  string    `json:"prev"`

	Erased   *cases.Erasure `json:"erased"`
	ErasedBy uint64         `json:"erased_by"` // of a stub: the entry that says so
}

// trail is what the check remembers of the chain so far.
type trail struct {
	last head
	revs map[string]cases.Rev // latest revision the trail knows, by case
	sums [2]uint64            // of the entries that its two indexes must have
	gone erasedChain
}

// audit follows the chain from its first entry, and compares its end with the
// head kept in meta, its indexes with its entries, and the last revision it knows
// of each case with the case.
func (c *checker) audit(tx *bbolt.Tx) {
	t := &trail{revs: map[string]cases.Rev{}}
	batch := make([]link, 0, fullBatch)
	flush := func() bool {
		spread(len(batch), func(i int) { batch[i].read() }, func(i int, err error) { batch[i].fault = err.Error() })
		for i := range batch {
			if !c.follow(t, &batch[i]) {
				return false
			}
		}
		batch = batch[:0]
		return true
	}
	cur := tx.Bucket([]byte(auditBucket)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if batch = append(batch, link{key: k, value: v}); len(batch) == cap(batch) {
			if c.ctx.Err() != nil || !flush() {
				return
			}
		}
	}
	if !flush() {
		return
	}
	c.counts[auditBucket] = int(t.last.seq)
	t.gone.compare(func(seq uint64, text string) {
		c.add(auditBucket+" "+number(seq), "Entry %d of the audit trail %s.", seq, text)
	})
	c.auditEnd(tx, t)
	for i, name := range []string{auditByCase, auditByTime} {
		if _, sum := bucketSum(tx.Bucket([]byte(name))); sum != t.sums[i] {
			c.add(name, "The index of the audit trail does not fit its entries.")
		}
	}
	c.revisions(tx, t)
}

// read decodes an entry and computes its hash from the hash before that it names.
func (l *link) read() {
	sum, canonical, err := splitEntry(l.value)
	if err == nil {
		err = json2.Unmarshal(canonical, &l.entry, readOptions)
	}
	if err != nil {
		l.fault = "cannot be read"
		return
	}
	if l.entry.ErasedBy > 0 && string(canonical) == stub(l.entry.Seq, l.entry.ErasedBy) {
		l.sum = sum // the entry after it, and the one that erased it, say the same
		return
	}
	prev, err := hex.DecodeString(l.entry.Prev)
	if err != nil || len(prev) != sha256.Size {
		l.fault = "does not name the entry before it"
		return
	}
	l.prev = [sha256.Size]byte(prev)
	if l.sum = linkHash(l.prev, canonical); l.sum != sum {
		l.fault = "was altered"
	}
}

// follow takes one link of the chain; false ends the walk, since nothing after
// a break can be trusted.
func (c *checker) follow(t *trail, l *link) bool {
	where := auditBucket + " " + string(l.key)
	seq := t.last.seq + 1
	switch {
	case string(l.key) != number(seq):
		c.add(where, "The audit trail has a gap: entry %d is missing.", seq)
		return false
	case l.fault != "":
		c.add(where, "Entry %d of the audit trail %s.", seq, l.fault)
		return false
	case l.entry.Seq != seq || l.entry.ErasedBy == 0 && l.prev != t.last.hash:
		c.add(where, "Entry %d of the audit trail does not follow from the one before.", seq)
		return false
	}
	t.last = head{seq: seq, hash: l.sum}
	if by := l.entry.ErasedBy; by > 0 {
		t.gone.add(seq, by, l.sum)
		return true
	}
	if e := l.entry.Erased; e != nil {
		t.gone.say(seq, e.Entries, e.Sum)
		c.looks.say(seq, e.Lines, e.LinesSum)
	}
	t.sums[1] += entrySum([]byte(l.entry.At.UTC().Format(timeKey)+number(seq)), "")
	if id := l.entry.Case; id != "" {
		t.sums[0] += entrySum([]byte(id+number(seq)), "")
		if l.entry.ToRev > 0 {
			t.revs[id] = l.entry.ToRev
		}
	}
	return true
}

func (c *checker) auditEnd(tx *bbolt.Tx, t *trail) {
	h, err := readHead(tx)
	switch {
	case err != nil:
		c.add(metaBucket, "The head of the audit trail cannot be read.")
	case h != t.last:
		c.add(auditBucket, "The audit trail ends at entry %d, but %d were written.", t.last.seq, h.seq)
	}
}

// revisions finds cases that changed, came or went without an audit entry.
func (c *checker) revisions(tx *bbolt.Tx, t *trail) {
	cur := tx.Bucket([]byte(c.db.cases.name)).Cursor()
	seen := 0
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		rev, ok := revisionOf(v)
		known, there := t.revs[string(k)]
		if there {
			seen++
		}
		if ok && cases.Rev(rev) != known {
			c.add(c.db.cases.name+" "+string(k), "A case is at revision %d, but the audit trail knows %d.", rev, known)
		}
	}
	if seen < len(t.revs) {
		c.add(c.db.cases.name, "%d case(s) of the audit trail are gone.", len(t.revs)-seen)
	}
}
