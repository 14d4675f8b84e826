package store

import (
	"bytes"
	"slices"
)

// documents removes documents of which no item is left, with the mails around them.
func (x *eraser) documents(hashes []string) error {
	if len(hashes) == 0 {
		return nil
	}
	within, err := x.family(hashes)
	if err != nil {
		return err
	}
	for _, family := range within {
		if left := x.itemsLeft(family); left {
			x.e.Shared++
			continue
		}
		for _, hash := range family {
			left, err := x.w.ItemsOf(hash) // about nobody in the store
			if err != nil {
				return err
			}
			for i := range left {
				x.needles = append(x.needles, []byte(left[i].ID))
				x.e.Items++
				if err := x.w.db.items.delete(x.w.tx, left[i].ID); err != nil {
					return err
				}
			}
			x.needles = append(x.needles, []byte(hash))
			if err := x.w.db.received.delete(x.w.tx, hash); err != nil {
				return err
			}
			if err := x.w.tx.Bucket([]byte(rawBucket)).Delete([]byte(hash)); err != nil {
				return err
			}
			x.e.Documents++
		}
	}
	return nil
}

// family gives, for each mail or single document around some documents, its hash and
// those of all that came inside of it.
func (x *eraser) family(hashes []string) ([][]string, error) {
	root, parent := map[string]string{}, map[string]string{}
	cur := x.w.tx.Bucket([]byte(x.w.db.received.name)).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if bytes.Contains(v, []byte(`"within":"`)) {
			d, err := x.w.db.received.decode(string(k), v)
			if err != nil {
				return nil, err
			}
			parent[d.Hash] = d.Within
		}
	}
	top := func(hash string) string {
		for range 10 {
			up, ok := parent[hash]
			if !ok {
				break
			}
			hash = up
		}
		return hash
	}
	var tops []string
	for _, h := range hashes {
		if h != "" {
			tops = appendNew(tops, top(h))
		}
	}
	members := map[string][]string{}
	for hash := range parent {
		root[hash] = top(hash)
		members[root[hash]] = append(members[root[hash]], hash)
	}
	out := make([][]string, len(tops))
	for i, t := range tops {
		slices.Sort(members[t])
		out[i] = append([]string{t}, members[t]...)
	}
	return out, nil
}

// itemsLeft tells whether an item of some documents belongs to another case, or waits for
// a person.
func (x *eraser) itemsLeft(hashes []string) bool {
	for _, h := range hashes {
		items, err := x.w.ItemsOf(h)
		if err != nil {
			return true
		}
		for i := range items {
			if items[i].Case != "" || items[i].Outcome == inReview && items[i].Decided == nil {
				return true
			}
		}
	}
	return false
}
