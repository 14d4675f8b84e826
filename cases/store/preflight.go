package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"os"
)

// The file is read through a memory map, where a page past the end of a cut
// file would stop the process. So the two header pages are read first, the plain
// way, and compared with the size of the file. This is safe while another process
// writes: a header is checksummed, the other one stays, and the file grows before
// a header says so.

const (
	boltMagic    = 0xED0CDAED
	boltVersion  = 2
	pageHeader   = 16 // id, flags, count, overflow
	metaSum      = 56 // offset of the checksum within a header page's data
	noFreelist   = ^uint64(0)
	branchPage   = 0x01
	leafPage     = 0x02
	freelistPage = 0x10
)

// header is what a bbolt file says of itself in one of its two first pages.
type header struct {
	pageSize, root, freelist, pages, tx uint64
}

// preflight refuses what is not a store and what was cut short, without
// changing anything. A missing or empty file passes; it is made anew.
func preflight(path string) error {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return openFault(path, err)
	}
	if !info.Mode().IsRegular() {
		return fault(ErrNotStore, path, nil, "%s is not a file. Name the store file itself, such as dunlin.db.", path)
	}
	if info.Size() == 0 {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return openFault(path, err)
	}
	defer f.Close()
	h, seen := newestHeader(f, info.Size())
	if h == nil {
		if seen {
			return damaged(path, errors.New("neither of its two header pages can be read"))
		}
		return fault(ErrNotStore, path, nil, "%s is not a Dunlin store. Check the path; nothing was changed in that file.", path)
	}
	if want := int64(h.pages * h.pageSize); info.Size() < want {
		return damaged(path, fmt.Errorf("it was cut short: %d bytes of %d are there", info.Size(), want))
	}
	if err := checkPage(f, h, h.root, branchPage|leafPage); err != nil {
		return damaged(path, err)
	}
	if h.freelist != noFreelist {
		if err := checkPage(f, h, h.freelist, freelistPage); err != nil {
			return damaged(path, err)
		}
	}
	return nil
}

// newestHeader finds the valid header of the latest transaction. seen tells
// that the file at least looks like one of bbolt.
func newestHeader(f *os.File, size int64) (best *header, seen bool) {
	for _, at := range headerOffsets(size) {
		h, magic := readHeader(f, at)
		seen = seen || magic
		if h != nil && (best == nil || h.tx > best.tx) {
			best = h
		}
	}
	return best, seen
}

// headerOffsets: the first page, and the second for every page size in use.
func headerOffsets(size int64) []int64 {
	at := []int64{0}
	for ps := int64(1024); ps <= 64<<10 && ps < size; ps *= 2 {
		at = append(at, ps)
	}
	return at
}

func readHeader(f *os.File, at int64) (h *header, magic bool) {
	var b [pageHeader + metaSum + 8]byte
	if _, err := f.ReadAt(b[:], at); err != nil {
		return nil, false
	}
	n, m := binary.NativeEndian, b[pageHeader:]
	if n.Uint32(m) != boltMagic || n.Uint32(m[4:]) != boltVersion {
		return nil, false
	}
	sum := fnv.New64a()
	sum.Write(m[:metaSum])
	if sum.Sum64() != n.Uint64(m[metaSum:]) {
		return nil, true
	}
	return &header{
		pageSize: uint64(n.Uint32(m[8:])), root: n.Uint64(m[16:]), freelist: n.Uint64(m[32:]),
		pages: n.Uint64(m[40:]), tx: n.Uint64(m[48:]),
	}, true
}

// checkPage reads one page's own header: its number and kind must fit.
func checkPage(f *os.File, h *header, page uint64, kinds uint16) error {
	var b [pageHeader]byte
	if page >= h.pages {
		return fmt.Errorf("page %d lies past its end", page)
	}
	if _, err := f.ReadAt(b[:], int64(page*h.pageSize)); err != nil {
		return fmt.Errorf("page %d: %w", page, err)
	}
	if id := binary.NativeEndian.Uint64(b[:]); id != page {
		return fmt.Errorf("page %d is overwritten", page)
	}
	if kind := binary.NativeEndian.Uint16(b[8:]); kind&kinds == 0 {
		return fmt.Errorf("page %d is of the wrong kind", page)
	}
	return nil
}
