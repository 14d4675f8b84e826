package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"strconv"
)

// A stored record is one line of text: format number, revision, SHA-256 and
// JSON, separated by spaces. The hash covers the other three and the bucket and
// key, so a flipped byte is found and a record cannot pass for another.
//
//	1 7 <43 characters of base64> {"document":...}

// recordFormat is the number written before every record today.
const recordFormat = 1

// hashWidth is the length of a SHA-256 in unpadded base64.
const hashWidth = 43

var errDamaged = errors.New("the record does not match its checksum")

// seal makes the stored form of a record.
func seal(bucket, key string, rev uint64, body []byte) []byte {
	out := make([]byte, 0, len(body)+hashWidth+16)
	out = strconv.AppendInt(out, recordFormat, 10)
	out = append(out, ' ')
	out = strconv.AppendUint(out, rev, 10)
	out = append(out, ' ')
	sum := recordHash(bucket, key, out, body)
	out = base64.RawURLEncoding.AppendEncode(out, sum[:])
	out = append(out, ' ')
	return append(out, body...)
}

// unseal checks a stored record and gives its revision and JSON. The JSON is a
// part of value and dies with the transaction.
func unseal(bucket, key string, value []byte) (rev uint64, body []byte, err error) {
	f := bytes.IndexByte(value, ' ')
	if f < 0 {
		return 0, nil, errDamaged
	}
	r := bytes.IndexByte(value[f+1:], ' ')
	head := f + 1 + r + 1
	if r < 0 || len(value) < head+hashWidth+1 {
		return 0, nil, errDamaged
	}
	body = value[head+hashWidth+1:]
	sum := recordHash(bucket, key, value[:head], body)
	var text [hashWidth]byte
	base64.RawURLEncoding.Encode(text[:], sum[:])
	if !bytes.Equal(text[:], value[head:head+hashWidth]) || value[head+hashWidth] != ' ' {
		return 0, nil, errDamaged
	}
	if string(value[:f]) != strconv.Itoa(recordFormat) {
		return 0, nil, errors.New("the record has format " + string(value[:f]) + ", which this release does not read")
	}
	rev, err = strconv.ParseUint(string(value[f+1:f+1+r]), 10, 64)
	return rev, body, err
}

func recordHash(bucket, key string, head, body []byte) [sha256.Size]byte {
	h := sha256.New()
	var small [128]byte
	b := append(small[:0], bucket...)
	b = append(b, 0)
	b = append(b, key...)
	b = append(b, 0)
	b = append(b, head...)
	h.Write(b)
	h.Write(body)
	var sum [sha256.Size]byte
	h.Sum(sum[:0])
	return sum
}

// revisionOf reads the revision of a stored record without checking it.
func revisionOf(value []byte) (uint64, bool) {
	_, rest, ok := bytes.Cut(value, []byte{' '})
	text, _, ok2 := bytes.Cut(rest, []byte{' '})
	rev, err := strconv.ParseUint(string(text), 10, 64)
	return rev, ok && ok2 && err == nil
}
