package web

import (
	"bytes"
	"context"
	"errors"
	"testing"
)

// TestFilesEndWithTheRequest: nothing more is written once a request's time is over.
//
//asvs:15.2.2
func TestFilesEndWithTheRequest(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var out bytes.Buffer
	w := inTime{ctx, &out}
	if _, err := w.Write([]byte("a")); err != nil {
		t.Fatal(err)
	}
	cancel()
	if _, err := w.Write([]byte("b")); !errors.Is(err, errTooLong) || out.String() != "a" {
		t.Errorf("%q, %v", out.String(), err)
	}
}
