package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"time"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// step moves a store from schema number-1 to number. The list is only ever
// appended to; schema 1 is what create makes.
type step struct {
	number int
	name   string
	run    func(tx *bbolt.Tx) error
}

// steps of the schema so far. New buckets are made after the steps have run, so a
// step that only adds one has nothing else to do.
var steps = []step{
	{2, "messages of the mailbox that were dealt with", func(*bbolt.Tx) error { return nil }},
	{3, "messages by e-mail and text on their way out", func(*bbolt.Tx) error { return nil }},
	// A release before would lose the second factor of an account that it writes.
	{4, "accounts with test sites, links, second factors and known devices", func(*bbolt.Tx) error { return nil }},
	{5, "the access log", func(*bbolt.Tx) error { return nil }},
}

const firstSchema = 1

// Keys of the meta bucket; values are plain text.
const (
	metaBucket   = "meta"
	metaSchema   = "schema"
	metaCreated  = "created"
	metaRelease  = "release" // the release that wrote this schema first
	metaIndexes  = "indexes"
	metaProtocol = "protocol"
	metaHead     = "audit head"
)

func latestSchema(list []step) int {
	if len(list) == 0 {
		return firstSchema
	}
	return list[len(list)-1].number
}

func metaGet(tx *bbolt.Tx, key string) string {
	b := tx.Bucket([]byte(metaBucket))
	if b == nil {
		return ""
	}
	return string(b.Get([]byte(key)))
}

func metaPut(tx *bbolt.Tx, key, value string) error {
	return tx.Bucket([]byte(metaBucket)).Put([]byte(key), []byte(value))
}

// schemaOf reads the schema number; 0 is a file without anything in it.
func schemaOf(tx *bbolt.Tx, path string) (int, error) {
	text := metaGet(tx, metaSchema)
	if n, err := strconv.Atoi(text); err == nil && n > 0 {
		return n, nil
	}
	if k, _ := tx.Cursor().First(); k != nil {
		return 0, fault(ErrNotStore, path, nil, "%s is a file of the same kind but not a Dunlin store. Check the path; nothing was changed in that file.", path)
	}
	return 0, nil
}

// bringUp makes the schema of a new file, or runs the steps that are missing.
func (db *DB) bringUp() error {
	var have int
	err := db.bolt.View(func(tx *bbolt.Tx) (err error) {
		if have, err = schemaOf(tx, db.path); err != nil {
			return err
		}
		if latest := latestSchema(db.steps); have > latest {
			return fault(ErrNewer, db.path, nil,
				"%s was written by a newer release (%s): its schema is %d, this release reads up to %d. Start that release or a later one; nothing was changed.",
				db.path, orUnknown(metaGet(tx, metaRelease)), have, latest)
		}
		return nil
	})
	if err != nil {
		return err
	}
	switch latest := latestSchema(db.steps); {
	case have == latest:
		return nil
	case db.opt.ReadOnly:
		if have == 0 {
			return fault(ErrNotStore, db.path, nil, "%s is empty and not yet a store.", db.path)
		}
		return fault(ErrOlder, db.path, nil, "%s has schema %d and must be brought to %d. Start this release on it once.", db.path, have, latest)
	case have == 0:
		return db.bolt.Update(func(tx *bbolt.Tx) error { return db.create(tx) })
	default:
		return db.migrate(have)
	}
}

func orUnknown(s string) string {
	if s == "" {
		return "unknown"
	}
	return s
}

func (db *DB) create(tx *bbolt.Tx) error {
	if err := makeBuckets(tx, db.bucketNames()); err != nil {
		return err
	}
	for k, v := range map[string]string{
		metaSchema:  strconv.Itoa(latestSchema(db.steps)),
		metaCreated: db.now().UTC().Format(time.RFC3339),
		metaRelease: db.opt.Release,
	} {
		if err := metaPut(tx, k, v); err != nil {
			return err
		}
	}
	return db.setFingerprints(tx)
}

func makeBuckets(tx *bbolt.Tx, names []string) error {
	for _, name := range names {
		if _, err := tx.CreateBucketIfNotExists([]byte(name)); err != nil {
			return fmt.Errorf("make bucket %s: %w", name, err)
		}
	}
	return nil
}

// migrate copies the file to <name>.before-<n>, then runs all pending steps in
// one transaction. A copy that is there already is kept: it is older.
func (db *DB) migrate(have int) error {
	latest := latestSchema(db.steps)
	aside := fmt.Sprintf("%s.before-%d", db.path, latest)
	if _, err := os.Stat(aside); err != nil {
		err := db.bolt.View(func(tx *bbolt.Tx) error { return copyTo(tx, aside+".part", nil) })
		if err == nil {
			err = os.Rename(aside+".part", aside)
		}
		if err == nil {
			err = syncFolder(aside)
		}
		if err != nil {
			return fmt.Errorf("copy the store to %s before changing it: %w", aside, err)
		}
	}
	return db.bolt.Update(func(tx *bbolt.Tx) error {
		for _, s := range db.steps {
			if s.number <= have {
				continue
			}
			if err := s.run(tx); err != nil {
				return fmt.Errorf("bring the store to schema %d (%s): %w", s.number, s.name, err)
			}
		}
		if err := makeBuckets(tx, db.bucketNames()); err != nil {
			return err
		}
		if err := metaPut(tx, metaRelease, db.opt.Release); err != nil {
			return err
		}
		return metaPut(tx, metaSchema, strconv.Itoa(latest))
	})
}

// fingerprint is a short hash of anything that JSON can hold.
func fingerprint(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // only our own declarations come here
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:16])
}

func protocolPrint(p *cases.Protocol) string { return fingerprint(p) }

func (db *DB) setFingerprints(tx *bbolt.Tx) error {
	if err := metaPut(tx, metaIndexes, db.indexPrint()); err != nil {
		return err
	}
	return metaPut(tx, metaProtocol, protocolPrint(db.protocol()))
}

// freshen builds indexes anew when their declarations or the protocol differ
// from those they were built with.
func (db *DB) freshen() error {
	var indexes, protocol string
	err := db.bolt.View(func(tx *bbolt.Tx) error {
		indexes, protocol = metaGet(tx, metaIndexes), metaGet(tx, metaProtocol)
		return nil
	})
	if err != nil || db.opt.ReadOnly {
		return err
	}
	switch {
	case indexes != db.indexPrint():
		return db.bolt.Update(func(tx *bbolt.Tx) error { return db.rebuild(tx, nil) })
	case protocol != protocolPrint(db.protocol()):
		return db.bolt.Update(func(tx *bbolt.Tx) error { return db.rebuild(tx, protocolIndexes) })
	}
	return nil
}
