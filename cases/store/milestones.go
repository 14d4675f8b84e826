package store

import (
	"bytes"
	"iter"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// Milestones gives the milestones of the cases referred on from to to, both
// included, in order of referral. They were written with the case; no case is read.
func (r *reader) Milestones(from, to cases.Day) iter.Seq2[cases.Milestones, error] {
	return func(yield func(cases.Milestones, error) bool) {
		from, to = max(from, 1), min(to, lastDay)
		if to < from {
			return
		}
		c := r.tx.Bucket([]byte(r.db.cases.name + ".milestones")).Cursor()
		d := newMarkReader()
		start, end := []byte(from.String()), []byte((to + 1).String())
		var batch markBatch
		for start != nil {
			start = batch.fill(c, start, end)
			// The cursor is not used while the caller has the values: it may write.
			text := string(batch.text)
			at := 0
			for _, n := range batch.lengths {
				m, err := d.read(text[at : at+n])
				at += n
				if !yield(m, err) {
					return
				}
			}
		}
	}
}

const marksAtOnce = 1024

// markBatch holds some keys one after the other.
type markBatch struct {
	text    []byte
	lengths []int
}

// fill takes the keys from start on, and says where the next ones start: nil after
// the last.
func (b *markBatch) fill(c *bbolt.Cursor, start, end []byte) []byte {
	b.text, b.lengths = b.text[:0], b.lengths[:0]
	k, _ := c.Seek(start)
	for ; k != nil && bytes.Compare(k, end) < 0; k, _ = c.Next() {
		if len(b.lengths) == marksAtOnce {
			return bytes.Clone(k)
		}
		b.text = append(b.text, k...)
		b.lengths = append(b.lengths, len(k))
	}
	return nil
}
