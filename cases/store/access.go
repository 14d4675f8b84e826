package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// The access log is a chain of its own beside the audit trail. There are many more
// looks than changes, so a change's history stays short to read and to verify, and the
// two may be kept for different times. A line is stored under its number as
//
//	<hash, 64 hex digits> <canonical bytes>
//
// with hash = SHA-256(0x00 || hash before || canonical bytes); the hash before is that
// of the line before, and zero bytes for the first. A long list of infants is kept
// once, under the SHA-256 of its references, and lines name that: the same overdue list
// seen a hundred times costs its infants once.

const (
	accessBucket   = "access"
	accessByTime   = "access.time"
	accessByPerson = "access.person"
	accessByInfant = "access.infant"
	accessLists    = "access.lists"  // <hash of list> -> references, one a line
	accessMembers  = "access.member" // <reference>\0<hash of list>
	accessByList   = "access.list"   // <hash of list><time><number>
	accessWaiting  = "access.waiting"

	metaAccess = "access head"

	// longList is from how many infants on a list is kept once.
	longList = 9

	listWidth = 2 * sha256.Size
	tailWidth = len(timeKey) + seqWidth
)

var accessBuckets = []string{accessBucket, accessByTime, accessByPerson, accessByInfant, accessLists, accessMembers, accessByList, accessWaiting}

var errAccess = errors.New("the access log does not fit together")

// accessKey is one entry of an index of the access log.
type accessKey struct{ bucket, key string }

// accessKeys are the index entries that a line must have.
func accessKeys(a *cases.Access) []accessKey {
	tail := a.At.UTC().Format(timeKey) + number(a.Seq)
	keys := []accessKey{{accessByTime, tail}, {accessByPerson, closed(a.By) + tail}}
	for _, ref := range a.Infants {
		keys = append(keys, accessKey{accessByInfant, closed(ref) + tail})
	}
	if a.Set != "" {
		keys = append(keys, accessKey{accessByList, a.Set + tail})
	}
	return keys
}

// LogAccess appends a line to the access log in the caller's transaction.
func (w *writer) LogAccess(a cases.Access) error {
	last, err := readHeadOf(w.tx, metaAccess)
	if err != nil {
		return err
	}
	a.Seq, a.At, a.Hash, a.Set = last.seq+1, w.now.UTC(), "", ""
	if err := w.takeList(&a); err != nil {
		return err
	}
	for what, text := range map[string]string{"sign-in name": a.By, "act": string(a.Act)} {
		if text == "" || checkField(what, text) != nil {
			return fmt.Errorf("access log: the %s %q cannot be kept", what, clip(text))
		}
	}
	canonical, err := json.Marshal(a)
	if err != nil {
		return fmt.Errorf("access log: %w", err)
	}
	sum := linkHash(last.hash, canonical)
	text := hex.EncodeToString(sum[:])
	if err := putFilled(w.tx, accessBucket, number(a.Seq), text+" "+string(canonical)); err != nil {
		return err
	}
	for _, k := range accessKeys(&a) {
		if err := putFilled(w.tx, k.bucket, k.key, ""); err != nil {
			return err
		}
	}
	if err := w.markReview(&a); err != nil {
		return err
	}
	return metaPut(w.tx, metaAccess, strconv.FormatUint(a.Seq, 10)+" "+text)
}

// putFilled writes a key. Those of the log itself come in order, so pages may be filled.
func putFilled(tx *bbolt.Tx, bucket, key, value string) error {
	b := tx.Bucket([]byte(bucket))
	if bucket == accessBucket || bucket == accessByTime {
		b.FillPercent = appendFill
	}
	return b.Put([]byte(key), []byte(value))
}

// takeList puts the references of a line in order, each once, and moves a long list to
// where lists are kept.
func (w *writer) takeList(a *cases.Access) error {
	refs := slices.Clone(a.Infants)
	slices.Sort(refs)
	refs = slices.Compact(refs)
	for _, ref := range refs {
		if ref == "" || strings.ContainsAny(ref, "\x00\n") || len(ref) > maxKeyText {
			return fmt.Errorf("access log: %q cannot be a reference", clip(ref))
		}
	}
	a.Rows = max(a.Rows, len(refs))
	if a.Infants = refs; len(refs) < longList {
		return nil
	}
	text := strings.Join(refs, "\n")
	a.Infants, a.Set = nil, hashOf([]byte(text))
	lists := w.tx.Bucket([]byte(accessLists))
	if lists.Get([]byte(a.Set)) != nil {
		return nil
	}
	if err := lists.Put([]byte(a.Set), []byte(text)); err != nil {
		return err
	}
	members := w.tx.Bucket([]byte(accessMembers))
	for _, ref := range refs {
		if err := members.Put([]byte(closed(ref)+a.Set), nil); err != nil {
			return err
		}
	}
	return nil
}

// markReview keeps which break-glass lines nobody has reviewed yet.
func (w *writer) markReview(a *cases.Access) error {
	b := w.tx.Bucket([]byte(accessWaiting))
	switch a.Act {
	case cases.ActBreakGlass:
		return b.Put([]byte(number(a.Seq)), nil)
	case cases.ActReview:
		key := []byte(number(a.Of))
		if b.Get(key) == nil {
			return cases.Errorf(cases.Refused, "This look was reviewed before.")
		}
		return b.Delete(key)
	}
	return nil
}

func decodeAccess(value []byte) (cases.Access, error) {
	var a cases.Access
	sum, canonical, err := splitEntry(value)
	if err != nil {
		return a, errAccess
	}
	if err := json.Unmarshal(canonical, &a); err != nil {
		return a, fmt.Errorf("access log: %w", err)
	}
	a.Hash = hex.EncodeToString(sum[:])
	return a, nil
}

func (r *reader) access(seq []byte) (cases.Access, error) {
	v := r.tx.Bucket([]byte(accessBucket)).Get(seq)
	if v == nil {
		return cases.Access{}, fmt.Errorf("%w: line %s is missing", errAccess, seq)
	}
	return decodeAccess(v)
}

// AccessUnreviewed gives each break-glass that nobody reviewed, oldest first.
func (r *reader) AccessUnreviewed() (out []cases.Access, err error) {
	for _, key := range scanKeys(r.tx.Bucket([]byte(accessWaiting)), "", "", 0) {
		a, err := r.access([]byte(key))
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

// AccessInfants gives the references that a line is about.
func (r *reader) AccessInfants(a cases.Access) ([]string, error) {
	if a.Set == "" {
		return a.Infants, nil
	}
	text := r.tx.Bucket([]byte(accessLists)).Get([]byte(a.Set))
	if hashOf(text) != a.Set {
		return nil, fmt.Errorf("%w: list %s", errAccess, a.Set)
	}
	return strings.Split(string(text), "\n"), nil
}

// AccessHead gives the number and hash of the last line of the access log, to be kept
// outside the store as AuditHead is.
func (db *DB) AccessHead() (seq uint64, hash string, err error) {
	err = db.bolt.View(func(tx *bbolt.Tx) error {
		h, err := readHeadOf(tx, metaAccess)
		seq, hash = h.seq, hex.EncodeToString(h.hash[:])
		return err
	})
	return seq, hash, err
}

// Accesses gives lines of the access log, newest first, and where the next page begins.
func (r *reader) Accesses(q cases.AccessQuery) (out []cases.Access, next string, err error) {
	take := func(tail []byte) (bool, error) {
		a, err := r.access(tail[len(timeKey):])
		if err != nil || !q.Fits(&a) {
			return true, err
		}
		if q.Limit > 0 && len(out) == q.Limit {
			last := &out[len(out)-1]
			next = last.At.UTC().Format(timeKey) + number(last.Seq)
			return false, nil
		}
		out = append(out, a)
		return true, nil
	}
	from, to := "", ""
	if !q.From.IsZero() {
		from = q.From.UTC().Format(timeKey)
	}
	if !q.To.IsZero() {
		to = q.To.UTC().Format(timeKey)
	}
	if q.Before != "" && (to == "" || q.Before < to) {
		to = q.Before
	}
	switch {
	case q.Infant != "":
		err = r.tailsOf(q.Infant, from, to, take)
	case q.Person != "":
		err = backwards(r.tx.Bucket([]byte(accessByPerson)), closed(q.Person), from, to, take)
	default:
		err = backwards(r.tx.Bucket([]byte(accessByTime)), "", from, to, take)
	}
	return out, next, err
}

// tailsOf walks the lines about an infant, alone and in long lists, newest first.
func (r *reader) tailsOf(ref, from, to string, take func([]byte) (bool, error)) error {
	var tails [][]byte
	gather := func(tail []byte) (bool, error) {
		tails = append(tails, bytes.Clone(tail))
		return true, nil
	}
	if err := backwards(r.tx.Bucket([]byte(accessByInfant)), closed(ref), from, to, gather); err != nil {
		return err
	}
	for _, list := range scanKeys(r.tx.Bucket([]byte(accessMembers)), closed(ref), after(closed(ref)), listWidth) {
		if err := backwards(r.tx.Bucket([]byte(accessByList)), list, from, to, gather); err != nil {
			return err
		}
	}
	slices.SortFunc(tails, func(a, b []byte) int { return bytes.Compare(b, a) })
	for _, tail := range tails {
		if more, err := take(tail); err != nil || !more {
			return err
		}
	}
	return nil
}

// backwards hands out the time and number at the end of each key of a prefix with
// from <= it < to, the last first, until take has enough.
func backwards(b *bbolt.Bucket, prefix, from, to string, take func([]byte) (bool, error)) error {
	cur := b.Cursor()
	end := prefix + to
	if to == "" {
		end = after(prefix)
	}
	var k []byte
	if end == "" {
		k, _ = cur.Last()
	} else if k, _ = cur.Seek([]byte(end)); k == nil {
		k, _ = cur.Last()
	} else {
		k, _ = cur.Prev()
	}
	for ; k != nil && len(k) == len(prefix)+tailWidth && string(k) >= prefix+from; k, _ = cur.Prev() {
		if more, err := take(k[len(prefix):]); err != nil || !more {
			return err
		}
	}
	return nil
}
