package main

import (
	"context"
	"io"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/export"
)

// BenchmarkLineList writes the line list of 100,000 cases of a store and watches the
// heap: it must not grow with the rows.
func BenchmarkLineList(b *testing.B) {
	d := newBenchSite(b)
	l := export.Lines{Which: export.OpenCases}
	for _, format := range []string{export.CSV, export.XLSX} {
		b.Run(format, func(b *testing.B) {
			for b.Loop() {
				most := watchHeap(func() {
					err := d.s.db.View(context.Background(), func(r cases.Reader) error {
						book := export.RowsBook(export.Made{AsOf: r.Today()}, func(f func(*cases.Case, *cases.Assessment) error) error { return l.Each(r, d.s.cfg.protocol, f) })
						n, err := book.Write(io.Discard, format, "")
						if n != benchOpen {
							b.Errorf("%d rows", n)
						}
						return err
					})
					if err != nil {
						b.Fatal(err)
					}
				})
				b.ReportMetric(float64(most)/1e6, "MB-heap")
			}
		})
	}
}

// watchHeap gives by how much the live heap grew at most while f ran.
func watchHeap(f func()) int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before, most := int64(m.HeapAlloc), atomic.Int64{}
	stop, done := make(chan bool), make(chan bool)
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most.Store(max(most.Load(), int64(m.HeapAlloc)-before))
			}
		}
	}()
	f()
	close(stop)
	<-done
	return most.Load()
}
