package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"
)

// While a store is open for writing a small file lies beside it, named
// <store>.open, with the process number and the time. Finding one at start means
// that the last stop was not clean, and the store is checked before it is used.

func markerPath(path string) string { return path + ".open" }

// mark leaves the marker and tells whether one was there.
func mark(path string, now time.Time) (unclean bool, err error) {
	_, err = os.Stat(markerPath(path))
	switch {
	case err == nil:
		unclean = true
	case !errors.Is(err, fs.ErrNotExist):
		return false, err
	}
	text := fmt.Sprintf("%d\n%s\n", os.Getpid(), now.UTC().Format(time.RFC3339))
	return unclean, os.WriteFile(markerPath(path), []byte(text), 0o600)
}

func unmark(path string) error {
	err := os.Remove(markerPath(path))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// holder names the process that left the marker, for messages.
func holder(path string) string {
	b, err := os.ReadFile(markerPath(path))
	if err != nil {
		return ""
	}
	lines := strings.Split(string(b), "\n")
	if len(lines) < 2 || lines[0] == "" {
		return ""
	}
	return " (process " + lines[0] + ", since " + lines[1] + ")"
}
