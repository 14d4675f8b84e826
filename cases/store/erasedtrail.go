package store

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"go.etcd.io/bbolt"
)

// An erased entry of the audit trail keeps its number and its hash; its content is
// replaced by a stub that names the entry by which it was erased. That entry comes
// later in the chain and holds the numbers of all it erased with the sum of their
// hashes. So a stub that no later entry names, and a hash that was changed, are found.

// stub is what stands in place of an erased entry's content.
func stub(seq, by uint64) string { return fmt.Sprintf(`{"seq":%d,"erased_by":%d}`, seq, by) }

// sumErased is over numbers and hashes of erased entries, in order.
func sumErased(list []head) string {
	h := sha256.New()
	for _, e := range list {
		fmt.Fprintf(h, "%d %x\n", e.seq, e.hash)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// eraseEntry takes the content of an audit entry away and gives its number and hash; the
// caller names both in the entry by.
func eraseEntry(tx *bbolt.Tx, key string, by uint64) (head, error) {
	b := tx.Bucket([]byte(auditBucket))
	e, err := decodeEntry(b.Get([]byte(key)))
	if err != nil {
		return head{}, err
	}
	sum, err := hex.DecodeString(e.Hash)
	if err != nil {
		return head{}, errChain
	}
	if err := b.Put([]byte(key), []byte(e.Hash+" "+stub(e.Seq, by))); err != nil {
		return head{}, err
	}
	if err := tx.Bucket([]byte(auditByTime)).Delete([]byte(e.At.UTC().Format(timeKey) + key)); err != nil {
		return head{}, err
	}
	if e.Case != "" {
		if err := tx.Bucket([]byte(auditByCase)).Delete([]byte(string(e.Case) + key)); err != nil {
			return head{}, err
		}
	}
	return head{seq: e.Seq, hash: [sha256.Size]byte(sum)}, nil
}

// erasedChain gathers, while a chain is followed, which entries are stubs and which
// were said to be erased.
type erasedChain struct {
	stubs map[uint64][]head // by the entry that they name
	said  []saidErased
}

type saidErased struct {
	seq     uint64
	entries []uint64
	sum     string
}

func (g *erasedChain) add(seq, by uint64, sum [sha256.Size]byte) {
	if g.stubs == nil {
		g.stubs = map[uint64][]head{}
	}
	g.stubs[by] = append(g.stubs[by], head{seq: seq, hash: sum})
}

func (g *erasedChain) say(seq uint64, entries []uint64, sum string) {
	g.said = append(g.said, saidErased{seq, entries, sum})
}

// compare reports stubs that nothing accounts for, and entries said to be erased that
// are there.
func (g *erasedChain) compare(report func(seq uint64, text string)) {
	for _, s := range g.said {
		stubs := g.stubs[s.seq]
		delete(g.stubs, s.seq)
		numbers := make([]uint64, len(stubs))
		for i, e := range stubs {
			numbers[i] = e.seq
		}
		switch {
		case !slices.Equal(numbers, s.entries):
			report(s.seq, "does not name the entries that were erased by it")
		case len(stubs) > 0 && sumErased(stubs) != s.sum:
			report(s.seq, "erased entries whose hashes are not those it names")
		}
	}
	for _, stubs := range g.stubs {
		for _, e := range stubs {
			report(e.seq, "was emptied, and no entry says by whom")
		}
	}
}
