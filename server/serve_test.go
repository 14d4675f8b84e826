package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// freeAddress gives an address on loopback that nobody listens on.
func freeAddress(t *testing.T) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}

// sharedText is a buffer that a serving program writes and a test reads.
type sharedText struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *sharedText) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *sharedText) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

var servesAt = regexp.MustCompile(`serves (http://\S+)`)

// serveFor runs the serve command with a settings file until stop is called, and gives
// the address of the pages.
func serveFor(t *testing.T, config string) (address string, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var out, errs sharedText
	done := make(chan int, 1)
	go func() {
		done <- run(ctx, stdio{strings.NewReader(""), &out, &errs}, []string{"serve", "--config", config})
	}()
	stop = func() {
		cancel()
		select {
		case code := <-done:
			if code != exitOK {
				t.Errorf("serve ended with %d: %s", code, errs.String())
			}
		case <-time.After(20 * time.Second):
			t.Error("serve does not stop")
		}
	}
	for range 400 {
		if g := servesAt.FindStringSubmatch(out.String()); g != nil {
			return g[1], stop
		}
		select {
		case code := <-done:
			t.Fatalf("serve ended with %d: %s", code, errs.String())
		case <-time.After(25 * time.Millisecond):
		}
	}
	cancel()
	t.Fatalf("serve does not begin: %s", errs.String())
	return "", nil
}

// sayHL7 sends one message in a frame and gives the answer.
func sayHL7(t *testing.T, address string, message []byte) string {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetDeadline(time.Now().Add(20 * time.Second))
	if _, err := fmt.Fprintf(c, "\x0b%s\x1c\r", message); err != nil {
		t.Fatal(err)
	}
	answer, err := bufio.NewReader(c).ReadString('\x1c')
	if err != nil {
		t.Fatalf("no answer: %v", err)
	}
	return strings.Trim(answer, "\x0b\x1c\r")
}

// TestServeWithAnInterface: a message sent to the listener is answered after it is
// stored, is there after a restart, and commands work meanwhile over the socket.
func TestServeWithAnInterface(t *testing.T) {
	dir := t.TempDir()
	hl7 := freeAddress(t)
	file := filepath.Join(dir, "dunlin.json")
	text := fmt.Sprintf(`{"store":%q,"listen":"127.0.0.1:0","interface":{"listen":%q}}`, filepath.Join(dir, "program.db"), hl7)
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	message, err := os.ReadFile("../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7")
	if err != nil {
		t.Fatal(err)
	}
	address, stop := serveFor(t, file)
	resp, err := http.Get(address + "/health")
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(resp.Body)
	resp.Body.Close()
	if string(body) != "ok\n" {
		t.Errorf("health says %q", body)
	}
	if answer := sayHL7(t, hl7, message); !strings.Contains(answer, "MSA|AA|D01-0001") {
		t.Errorf("answer %q", answer)
	}
	order := bytes.Replace(message, []byte("ORU^R01^ORU_R01"), []byte("ORM^O01^ORM_O01"), 1)
	if answer := sayHL7(t, hl7, order); !strings.Contains(answer, "MSA|AR|") || !strings.Contains(answer, "ERR|") {
		t.Errorf("answer to an order %q", answer)
	}
	if code, out, errs := call(t, "", "overdue", "--config", file); code != exitOK || !strings.Contains(out, "1 on the list") {
		t.Errorf("overdue while serving: %d %s %s", code, out, errs)
	}
	stop()
	_, stop = serveFor(t, file)
	if answer := sayHL7(t, hl7, message); !strings.Contains(answer, "MSA|AA|") {
		t.Errorf("answer to the same message after a restart %q", answer)
	}
	stop()
	if code, out, errs := call(t, "", "check", "--config", file); code != exitOK {
		t.Errorf("check: %s %s", out, errs)
	}
	if code, out, _ := call(t, "", "overdue", "--config", file); code != exitOK || !strings.Contains(out, "1 on the list") {
		t.Errorf("the message made more than one case: %s", out)
	}
}

// TestServeSaysWhyItCannotListen: a taken address is said, and nothing stays open.
func TestServeSaysWhyItCannotListen(t *testing.T) {
	dir := t.TempDir()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	code, _, errs := call(t, "", "serve", "--store", filepath.Join(dir, "program.db"), "--listen", ln.Addr().String())
	if code != exitFailed || !strings.Contains(errs, "the pages cannot be served") {
		t.Errorf("code %d, says %q", code, errs)
	}
	if code, out, errs := call(t, "", "check", "--store", filepath.Join(dir, "program.db")); code != exitOK {
		t.Errorf("the store was not let go: %s %s", out, errs)
	}
}

var shownKey = regexp.MustCompile(`key, shown only now: (\S+)`)

// TestServeTakesDocumentsByKey: a key made while the program serves opens the web
// service, and ends with its disabling.
func TestServeTakesDocumentsByKey(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "dunlin.json")
	if err := os.WriteFile(file, fmt.Appendf(nil, `{"store":%q,"listen":"127.0.0.1:0"}`, filepath.Join(dir, "program.db")), 0o600); err != nil {
		t.Fatal(err)
	}
	message, err := os.ReadFile("../cases/intake/hl7/testdata/messages/d01-nbs-cf-two-variants.hl7")
	if err != nil {
		t.Fatal(err)
	}
	address, stop := serveFor(t, file)
	defer stop()
	code, out, errs := call(t, "", "account", "add-key", "--config", file, "--name", "East laboratory")
	g := shownKey.FindStringSubmatch(out)
	if code != exitOK || g == nil {
		t.Fatalf("add-key: %d %s %s", code, out, errs)
	}
	hand := func(key string) (int, string) {
		t.Helper()
		req, err := http.NewRequest(http.MethodPost, address+"/intake/documents", bytes.NewReader(message))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+key)
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		body, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, string(body)
	}
	if status, _ := hand("wrong"); status != http.StatusUnauthorized {
		t.Errorf("a wrong key gives %d", status)
	}
	if status, body := hand(g[1]); status != http.StatusOK || !strings.Contains(body, `"opened"`) {
		t.Errorf("%d %s", status, body)
	}
	if code, out, _ := call(t, "", "account", "keys", "--config", file); code != exitOK || !strings.Contains(out, "East laboratory") || strings.Contains(out, g[1]) {
		t.Errorf("keys: %s", out)
	}
	if code, _, errs := call(t, "", "account", "disable-key", "--config", file, "--name", "east laboratory"); code != exitOK {
		t.Errorf("disable-key: %s", errs)
	}
	if status, _ := hand(g[1]); status != http.StatusUnauthorized {
		t.Errorf("a disabled key gives %d", status)
	}
}
