package store

import (
	"bytes"
	"iter"
	"runtime"
	"runtime/debug"
	"sync"

	"go.etcd.io/bbolt"
)

// Reading many records: keys are collected first, so that a caller may write
// while it iterates, then records are read and decoded some at a time on all
// processors and handed out in order.

const (
	firstBatch = 16
	fullBatch  = 512
)

// keysBetween collects the primary keys of index entries from <= key < to; an
// empty to means to the end. Primary keys of scanned indexes have fixed width.
func (t *table[T]) keysBetween(tx *bbolt.Tx, ix, from, to string) []string {
	return scanKeys(tx.Bucket([]byte(t.name+"."+ix)), from, to, t.fixed)
}

// keysWith collects the primary keys of index entries that start with prefix.
func (t *table[T]) keysWith(tx *bbolt.Tx, ix, prefix string) []string {
	return t.keysBetween(tx, ix, prefix, after(prefix))
}

// firstWith collects up to n primary keys of index entries that start with prefix.
func (t *table[T]) firstWith(tx *bbolt.Tx, ix, prefix string, n int) []string {
	return firstKeys(tx.Bucket([]byte(t.name+"."+ix)), prefix, after(prefix), t.fixed, n)
}

// after gives the first key that does not start with prefix.
func after(prefix string) string {
	b := []byte(prefix)
	for i := len(b) - 1; i >= 0; i-- {
		if b[i] != 0xff {
			b[i]++
			return string(b[:i+1])
		}
	}
	return ""
}

func scanKeys(b *bbolt.Bucket, from, to string, width int) []string {
	return firstKeys(b, from, to, width, -1)
}

// firstKeys collects up to n keys from <= key < to; n < 0 means all.
func firstKeys(b *bbolt.Bucket, from, to string, width, n int) []string {
	var out []string
	c := b.Cursor()
	end := []byte(to)
	for k, _ := c.Seek([]byte(from)); k != nil && len(out) != n; k, _ = c.Next() {
		if len(end) > 0 && bytes.Compare(k, end) >= 0 {
			break
		}
		if width > 0 && len(k) > width {
			k = k[len(k)-width:]
		}
		out = append(out, string(k))
	}
	return out
}

// lastKeys collects up to n keys before to, newest first; n < 0 means all.
func lastKeys(b *bbolt.Bucket, from, to string, width, n int) []string {
	var out []string
	c := b.Cursor()
	k, _ := c.Last()
	if to != "" {
		if k, _ = c.Seek([]byte(to)); k != nil {
			k, _ = c.Prev()
		} else {
			k, _ = c.Last()
		}
	}
	for ; k != nil && string(k) >= from && n != 0; k, _ = c.Prev() {
		key := k
		if width > 0 && len(k) > width {
			key = k[len(k)-width:]
		}
		out = append(out, string(key))
		n--
	}
	return out
}

// all collects every primary key.
func (t *table[T]) all(tx *bbolt.Tx) []string {
	return scanKeys(tx.Bucket([]byte(t.name)), "", "", 0)
}

// list reads the records of keys; it stops at the first that cannot be read.
func (t *table[T]) list(tx *bbolt.Tx, keys []string) ([]T, error) {
	out := make([]T, 0, len(keys))
	for r, err := range t.each(tx, keys) {
		if err != nil {
			return nil, err
		}
		out = append(out, *r)
	}
	return out, nil
}

// each reads the records of keys in order. A record that cannot be read is
// given as an error and the next follows. A key whose record is gone, because
// the caller deleted it meanwhile, is left out.
func (t *table[T]) each(tx *bbolt.Tx, keys []string) iter.Seq2[*T, error] {
	return func(yield func(*T, error) bool) {
		size := firstBatch
		for start := 0; start < len(keys); {
			batch := keys[start:min(start+size, len(keys))]
			start += len(batch)
			size = min(size*4, fullBatch)
			for _, d := range t.batch(tx, batch) {
				if d.err == errNoRecord {
					continue
				}
				if !yield(d.rec, d.err) {
					return
				}
			}
		}
	}
}

// values gives records themselves in place of pointers.
func values[T any](seq iter.Seq2[*T, error]) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		for p, err := range seq {
			if p == nil {
				p = &none
			}
			if !yield(*p, err) {
				return
			}
		}
	}
}

type decoded[T any] struct {
	value []byte
	rec   *T
	err   error
}

// batch reads the stored values in this goroutine, since a transaction belongs
// to one, and decodes them on all processors.
func (t *table[T]) batch(tx *bbolt.Tx, keys []string) []decoded[T] {
	out := make([]decoded[T], len(keys))
	b := tx.Bucket([]byte(t.name))
	for i, k := range keys {
		out[i].value = b.Get([]byte(k))
	}
	spread(len(keys), func(i int) {
		d := &out[i]
		if d.value == nil {
			d.err = errNoRecord
			return
		}
		d.rec, d.err = t.decode(keys[i], d.value)
		d.value = nil
	}, func(i int, err error) { out[i].err = err })
	return out
}

// spread calls work for 0..n-1 on all processors, in runs of neighbors. A
// memory fault in a damaged file is reported by failed; any other panic is raised
// again in the caller's goroutine.
func spread(n int, work func(int), failed func(int, error)) {
	run := func(from, to int) {
		i := from
		defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
		for i < to {
			if err := caught(func() {
				for ; i < to; i++ {
					work(i)
				}
			}); err != nil {
				failed(i, err)
				i++
			}
		}
	}
	workers := min(runtime.GOMAXPROCS(0), n/8+1)
	if workers < 2 {
		run(0, n)
		return
	}
	var wg sync.WaitGroup
	panics := make([]any, workers)
	for w := range workers {
		wg.Go(func() {
			defer func() { panics[w] = recover() }()
			run(w*n/workers, (w+1)*n/workers)
		})
	}
	wg.Wait()
	for _, p := range panics {
		if p != nil {
			panic(p)
		}
	}
}
