package main

import (
	"bufio"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func silentLog() *log.Logger { return log.New(io.Discard, "", 0) }

// servedShortly serves with short limits, so that a test need not wait for the real ones.
func servedShortly(t *testing.T, header, read time.Duration) (address string) {
	t.Helper()
	was := pageLimits
	pageLimits.header, pageLimits.read = header, read
	dir := t.TempDir()
	file := filepath.Join(dir, "dunlin.json")
	text := fmt.Sprintf(`{"store":%q,"listen":%q}`, filepath.Join(dir, "d.db"), freeAddress(t))
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	url, stop := serveFor(t, file)
	t.Cleanup(func() {
		stop()
		pageLimits = was
	})
	return strings.TrimPrefix(url, "http://")
}

// cutOff waits until the server ends a connection and gives what it said.
func cutOff(c net.Conn, within time.Duration) (said string, err error) {
	if err := c.SetReadDeadline(time.Now().Add(within)); err != nil {
		return "", err
	}
	b, err := io.ReadAll(c)
	if ne, ok := err.(net.Error); ok && ne.Timeout() {
		return string(b), err
	}
	return string(b), nil
}

// Clients that send their headers or bodies drop by drop are cut off, and others are
// served meanwhile.
//
//asvs:15.2.2
func TestSlowClientsAreCutOff(t *testing.T) {
	address := servedShortly(t, 300*time.Millisecond, 600*time.Millisecond)
	var slow []net.Conn
	for i := range 60 {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if i%2 == 0 {
			fmt.Fprintf(c, "GET /health HTTP/1.1\r\nHost: %s\r\nX-Slow: ", address)
		} else {
			fmt.Fprintf(c, "POST /sign-in HTTP/1.1\r\nHost: %s\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 50000\r\n\r\ncsrf=", address)
		}
		slow = append(slow, c)
	}
	begun := time.Now()
	res, err := http.Get("http://" + address + "/health")
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("others are not served: %v", err)
	}
	res.Body.Close()
	served := time.Since(begun)
	for i, c := range slow {
		if said, err := cutOff(c, 20*time.Second); err != nil {
			t.Errorf("connection %d is still open after 20 s, said %q", i, said)
		}
	}
	t.Logf("60 slow clients cut off %.1f s after the first; others served in %d ms meanwhile", time.Since(begun).Seconds(), served.Milliseconds())
}

// The test above sees a server that waits.
func TestAServerWithoutLimitsIsSeen(t *testing.T) {
	address := servedShortly(t, time.Minute, time.Minute)
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET /health HTTP/1.1\r\nHost: %s\r\nX-Slow: ", address)
	if said, err := cutOff(c, time.Second); err == nil {
		t.Errorf("cut off, with %q", said)
	}
}

// What is no good request is refused in a few words, and the server goes on.
//
//asvs:15.2.2
func TestOddRequestsAreRefused(t *testing.T) {
	address := servedShortly(t, 300*time.Millisecond, 600*time.Millisecond)
	host := "Host: " + address + "\r\n"
	for name, c := range map[string]struct{ send, want string }{
		"headers too large":        {"GET /sign-in HTTP/1.1\r\n" + host + "X-A: " + strings.Repeat("a", 80<<10) + "\r\n\r\n", " 431 "},
		"many headers":             {"GET /sign-in HTTP/1.1\r\n" + host + strings.Repeat("X-A: b\r\n", 20_000) + "\r\n", " 431 "},
		"address too long":         {"GET /" + strings.Repeat("a", 100<<10) + " HTTP/1.1\r\n" + host + "\r\n", " 431 "},
		"no host":                  {"GET /sign-in HTTP/1.1\r\n\r\n", " 400 "},
		"two hosts":                {"GET /sign-in HTTP/1.1\r\n" + host + "Host: elsewhere.example\r\n\r\n", " 400 "},
		"a line end in a header":   {"GET /sign-in HTTP/1.1\r\n" + host + "X-A: b\rSet-Cookie: c\r\n\r\n", " 400 "},
		"NUL in a header":          {"GET /sign-in HTTP/1.1\r\n" + host + "X-A: b\x00c\r\n\r\n", " 400 "},
		"two lengths":              {"POST /sign-in HTTP/1.1\r\n" + host + "Content-Length: 3\r\nContent-Length: 30\r\n\r\nabc", " 400 "},
		"a length below nothing":   {"POST /sign-in HTTP/1.1\r\n" + host + "Content-Length: -3\r\n\r\nabc", " 400 "},
		"unknown encoding":         {"POST /sign-in HTTP/1.1\r\n" + host + "Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n", " 501 "},
		"a method of signs":        {"G@T / HTTP/1.1\r\n" + host + "\r\n", " 400 "},
		"HTTP 3 over plain text":   {"GET / HTTP/3.0\r\n" + host + "\r\n", " 505 "},
		"a body said to be huge":   {"POST /sign-in HTTP/1.1\r\n" + host + "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 9999999999\r\n\r\ncsrf=a", " 413 "},
		"no HTTP at all":           {"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + strings.Repeat("z", 300) + "\r\n\r\n", " 400 "},
		"a whole address of other": {"GET http://elsewhere.example/overdue HTTP/1.1\r\n" + host + "\r\n", " 303 "},
	} {
		t.Run(name, func(t *testing.T) {
			conn, err := net.Dial("tcp", address)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			go func() { _, _ = io.WriteString(conn, c.send) }() // refused before all is sent
			if err := conn.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
				t.Fatal(err)
			}
			line, _ := bufio.NewReader(conn).ReadString('\n')
			if !strings.Contains(line, c.want) {
				t.Errorf("answered %q, want %s", line, c.want)
			}
		})
	}
	res, err := http.Get("http://" + address + "/health")
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("the server does not go on: %v", err)
	}
	res.Body.Close()
}
