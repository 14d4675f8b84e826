package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"dunlin/cases"
)

// rawBucket keeps documents as they arrived, under the SHA-256 that also
// proves them. Only erasing the last infant that one names removes it.
const rawBucket = "received.raw"

func receivedTable() *table[cases.Received] {
	return &table[cases.Received]{
		name: "received", fixed: 2 * sha256.Size,
		key: func(d *cases.Received) string { return d.Hash },
		indexes: []index[cases.Received]{
			{name: "time", version: 1, keys: func(d *cases.Received) []string { return []string{d.At.UTC().Format(timeKey)} }},
		},
	}
}

// Received reads one document with its raw bytes, by the hex SHA-256 of them;
// NotFound when it never arrived.
func (r *reader) Received(hash string) (cases.Received, error) {
	d, err := r.ReceivedRecord(hash)
	if err != nil {
		return d, err
	}
	d.Raw = bytes.Clone(r.tx.Bucket([]byte(rawBucket)).Get([]byte(hash)))
	if hashOf(d.Raw) != hash {
		return d, fmt.Errorf("%s %s: %w", rawBucket, hash, errDamaged)
	}
	return d, nil
}

// ReceivedRecord reads what is kept about one document, without its raw bytes.
func (r *reader) ReceivedRecord(hash string) (cases.Received, error) {
	return r.db.received.one(r.tx, hash, "This document is not in the store.")
}

// ReceivedLast lists the n documents that arrived last, newest first, without
// their raw bytes.
func (r *reader) ReceivedLast(n int) ([]cases.Received, error) {
	b := r.tx.Bucket(r.db.received.bucketOf(&r.db.received.indexes[0]))
	return r.db.received.list(r.tx, lastKeys(b, "", "", 2*sha256.Size, n))
}

// PutReceived writes what became of a document. Its raw bytes are written once
// and kept; later writes may leave them out.
func (w *writer) PutReceived(d cases.Received) error {
	raw := w.tx.Bucket([]byte(rawBucket))
	switch {
	case d.Raw != nil:
		if d.Hash == "" {
			d.Hash = hashOf(d.Raw)
		}
		if d.Hash != hashOf(d.Raw) {
			return cases.Errorf(cases.Invalid, "The document does not match its checksum %s.", clip(d.Hash))
		}
		if raw.Get([]byte(d.Hash)) == nil {
			if err := raw.Put([]byte(d.Hash), d.Raw); err != nil {
				return err
			}
		}
	case raw.Get([]byte(d.Hash)) == nil:
		return cases.Errorf(cases.Invalid, "The document %s was given without its bytes.", clip(d.Hash))
	}
	_, err := w.db.received.put(w.tx, &d)
	return err
}

func hashOf(raw []byte) string {
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:])
}
