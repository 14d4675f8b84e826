package store

import (
	"context"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"go.etcd.io/bbolt"
)

// Head is the end of a chain as it was noted outside of the store: with it, a cut tail
// is found even where the file itself was made to fit.
type Head struct {
	At    time.Time
	Chain string // "audit" or "access"
	Seq   uint64
	Hash  string // hex SHA-256
}

// String gives the line of a file of heads:
//
//	2026-03-05T06:00:04Z audit 1234 <64 hex digits>
func (h Head) String() string {
	return fmt.Sprintf("%s %s %d %s", h.At.UTC().Format(time.RFC3339), h.Chain, h.Seq, h.Hash)
}

// ParseHead reads what String gave.
func ParseHead(line string) (Head, error) {
	var h Head
	var at, rest string
	n, err := fmt.Sscanf(line, "%s %s %d %s%s", &at, &h.Chain, &h.Seq, &h.Hash, &rest)
	if err != nil && n == 4 {
		err = nil // rest is what must not be there
	}
	if err == nil {
		h.At, err = time.Parse(time.RFC3339, at)
	}
	sum, herr := hex.DecodeString(h.Hash)
	if err != nil || herr != nil || len(sum) != 32 || rest != "" || chains[h.Chain].bucket == "" {
		return Head{}, fmt.Errorf("%q is no line of a file of heads: a line is a time, audit or access, a number and a hash", clip(line))
	}
	return h, nil
}

// chain says where a chain is kept, and its name in sentences.
type chain struct{ bucket, meta, words, entry string }

var chains = map[string]chain{
	"audit":  {auditBucket, metaHead, "audit trail", "entry"},
	"access": {accessBucket, metaAccess, "access log", "line"},
}

// Heads gives the ends of both chains as they are now.
func (db *DB) Heads(ctx context.Context) (out []Head, err error) {
	err = db.view(ctx, func(r *reader) error {
		for _, name := range []string{"audit", "access"} {
			h, err := readHeadOf(r.tx, chains[name].meta)
			if err != nil {
				return err
			}
			out = append(out, Head{At: r.now.UTC(), Chain: name, Seq: h.seq, Hash: hex.EncodeToString(h.hash[:])})
		}
		return nil
	})
	return out, err
}

// CheckHeads compares heads noted outside of the store with its chains. A chain whose
// noted entry is not there, or not the same, was cut or written anew, or the store was
// restored from a back-up made before. The chains themselves are checked by Check.
func (db *DB) CheckHeads(ctx context.Context, noted []Head) (problems []Problem, err error) {
	err = db.view(ctx, func(r *reader) error {
		problems = againstHeads(r.tx, noted)
		return ctx.Err()
	})
	return problems, err
}

func againstHeads(tx *bbolt.Tx, noted []Head) (problems []Problem) {
	for _, h := range noted {
		ch := chains[h.Chain]
		if h.Seq == 0 {
			continue
		}
		where := ch.bucket + " " + number(h.Seq)
		v := tx.Bucket([]byte(ch.bucket)).Get([]byte(number(h.Seq)))
		sum, _, err := splitEntry(v)
		switch {
		case v == nil:
			problems = append(problems, Problem{Where: where, Text: fmt.Sprintf(
				"On %s the %s reached %s %d, which is not there now: its end was cut off, or the store was restored from an earlier back-up.",
				h.At.Format("2 January 2006 15:04 UTC"), ch.words, ch.entry, h.Seq)})
		case err != nil || hex.EncodeToString(sum[:]) != strings.ToLower(h.Hash):
			problems = append(problems, Problem{Where: where, Text: fmt.Sprintf(
				"%s %d of the %s is not the one noted on %s: the %s was written anew.",
				strings.ToUpper(ch.entry[:1])+ch.entry[1:], h.Seq, ch.words, h.At.Format("2 January 2006 15:04 UTC"), ch.words)})
		}
	}
	return problems
}
