package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"

	"go.etcd.io/bbolt"
)

// stubOf gives the entry that a stub names; 0 for anything else.
func stubOf(canonical []byte) uint64 {
	var s struct {
		Seq      uint64 `json:"seq"`
		ErasedBy uint64 `json:"erased_by"`
	}
	if len(canonical) > 80 || json.Unmarshal(canonical, &s) != nil || string(canonical) != stub(s.Seq, s.ErasedBy) {
		return 0
	}
	return s.ErasedBy
}

// looks empties the lines of the access log that are about the erased cases alone. Lines
// about several infants keep the reference, under which nothing is found any more: they
// tell who saw the others.
func (x *eraser) looks(by uint64) error {
	tx := x.w.tx
	var seqs []string
	for _, ref := range x.refs {
		for _, k := range scanKeys(tx.Bucket([]byte(accessByInfant)), closed(ref), after(closed(ref)), seqWidth) {
			a, err := x.w.access([]byte(k))
			if err != nil {
				return err
			}
			if !slices.ContainsFunc(a.Infants, func(r string) bool { return !slices.Contains(x.refs, r) }) {
				seqs = append(seqs, k)
			}
		}
	}
	slices.Sort(seqs)
	var list []head
	for _, k := range slices.Compact(seqs) {
		h, err := eraseLook(tx, k, by)
		if err != nil {
			return err
		}
		list = append(list, h)
		x.e.Lines = append(x.e.Lines, h.seq)
	}
	if len(list) > 0 {
		x.e.LinesSum = sumErased(list)
	}
	return nil
}

func eraseLook(tx *bbolt.Tx, key string, by uint64) (head, error) {
	b := tx.Bucket([]byte(accessBucket))
	a, err := decodeAccess(b.Get([]byte(key)))
	if err != nil {
		return head{}, err
	}
	sum, err := hex.DecodeString(a.Hash)
	if err != nil {
		return head{}, errAccess
	}
	for _, k := range accessKeys(&a) {
		if err := tx.Bucket([]byte(k.bucket)).Delete([]byte(k.key)); err != nil {
			return head{}, err
		}
	}
	if err := tx.Bucket([]byte(accessWaiting)).Delete([]byte(key)); err != nil {
		return head{}, err
	}
	return head{a.Seq, [sha256.Size]byte(sum)}, b.Put([]byte(key), []byte(a.Hash+" "+stub(a.Seq, by)))
}
