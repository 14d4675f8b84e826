package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestServeStopsWhileAClientIsSlow: a request that never ends does not keep
// the program from stopping, and stopping is no failure.
func TestServeStopsWhileAClientIsSlow(t *testing.T) {
	was := stopLimit
	stopLimit = 500 * time.Millisecond
	defer func() { stopLimit = was }()
	dir := t.TempDir()
	file := filepath.Join(dir, "dunlin.json")
	text := fmt.Sprintf(`{"store":%q,"listen":%q}`, filepath.Join(dir, "d.db"), freeAddress(t))
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address, stop := serveFor(t, file)
	pages := strings.TrimPrefix(address, "http://")
	c, err := net.Dial("tcp", pages)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := fmt.Fprintf(c, "POST /sign-in HTTP/1.1\r\nHost: %s\r\nContent-Length: 1000\r\n\r\nab", pages); err != nil {
		t.Fatal(err)
	}
	time.Sleep(100 * time.Millisecond) // until it is under way
	stop()
}
