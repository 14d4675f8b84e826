package store

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
)

// A damaged file shows itself as a panic inside bbolt or as a memory fault when
// the map reaches past the end of the file. Both are turned into errors here, so
// that a broken file stops one request and not the process. A panic of our own
// code is passed on.

// caught runs f and gives a panic that the file caused as an error.
func caught(f func()) (err error) {
	defer func() {
		if r := recover(); r != nil {
			if !fromFile(r) {
				panic(r)
			}
			err = fmt.Errorf("a page cannot be read (%v)", r)
		}
	}()
	f()
	return nil
}

// guarded is caught with memory faults turned into panics first.
func guarded(f func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	if bad := caught(func() { err = f() }); bad != nil {
		return bad
	}
	return err
}

// fromFile tells whether a panic comes from the file: a memory fault at an
// address, or a panic raised inside bbolt.
func fromFile(r any) bool {
	if _, ok := r.(interface{ Addr() uintptr }); ok {
		return true
	}
	pc := make([]uintptr, 32)
	frames := runtime.CallersFrames(pc[:runtime.Callers(3, pc)])
	for {
		f, more := frames.Next()
		if !strings.HasPrefix(f.Function, "runtime.") {
			return strings.HasPrefix(f.Function, "go.etcd.io/bbolt")
		}
		if !more {
			return false
		}
	}
}
