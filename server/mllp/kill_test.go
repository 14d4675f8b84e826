package mllp_test

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/store"
	"dunlin/server/mllp"
)

// childStore names the store that this test program serves when it is run again as a
// child.
const childStore = "DUNLIN_MLLP_CHILD"

func TestMain(m *testing.M) {
	if path := os.Getenv(childStore); path != "" {
		fmt.Println(serveChild(path))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// serveChild serves until it is killed, or its parent is gone.
func serveChild(path string) error {
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin) // ends with the parent
		os.Exit(2)
	}()
	db, err := store.Open(path, store.Options{Now: func() time.Time { return today }})
	if err != nil {
		return err
	}
	q := intake.NewQueue(intake.New(db, nil, intake.Settings{}, hl7.Format{}), intake.QueueLimits{})
	s, err := mllp.New(mllp.Options{Addr: "127.0.0.1:0", Receive: func(ctx context.Context, d intake.Document) (intake.Result, error) {
		return q.Receive(ctx, sender, d)
	}})
	if err != nil {
		return err
	}
	fmt.Println(s.Addr())
	return s.Serve(context.Background())
}

// TestKilled: the server is killed while senders send. Whatever was acknowledged is in
// the store with its outcome; what was not is sent again, and in the end each message
// is there once.
func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "test.db")
	all := messages(t, 240)
	acked := make([]bool, len(all))
	for round := 0; ; round++ {
		n := sendUntilKilled(t, path, all, acked, 40+20*round)
		checkAcknowledged(t, path, all, acked)
		if n == 0 {
			break
		}
		if round > 20 {
			t.Fatal("no progress")
		}
	}
	db, err := store.Open(path, store.Options{Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.View(context.Background(), func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		if counts["opened"] != 24 || counts["no-case"] != 216 || counts["review"] != 0 {
			t.Errorf("%v", counts)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// sendUntilKilled starts a server, sends what is not acknowledged over four
// connections, and kills the server after some answers; 0 when nothing is left.
func sendUntilKilled(t *testing.T, path string, all [][]byte, acked []bool, after int) (left int) {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), childStore+"="+path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	kill := sync.OnceFunc(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // killed: always an error
	})
	defer kill()
	addr, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	work := make(chan int, len(all))
	for i, done := range acked {
		if !done {
			work <- i
		}
	}
	close(work)
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			c, err := net.Dial("tcp", strings.TrimSpace(addr))
			if err != nil {
				return
			}
			defer c.Close()
			r := bufio.NewReader(c)
			for i := range work {
				if _, err := c.Write(all[i]); err != nil {
					return
				}
				ack, err := r.ReadString(0x1C)
				if err != nil {
					return
				}
				mu.Lock()
				acked[i] = strings.Contains(ack, "\rMSA|AA|")
				after--
				now := after == 0
				mu.Unlock()
				if now {
					kill()
				}
			}
		})
	}
	wg.Wait()
	for _, done := range acked {
		if !done {
			left++
		}
	}
	return left
}

func checkAcknowledged(t *testing.T, path string, all [][]byte, acked []bool) {
	t.Helper()
	db, err := store.Open(path, store.Options{Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.View(context.Background(), func(r cases.Reader) error {
		for i, raw := range all {
			if !acked[i] {
				continue
			}
			sum := sha256.Sum256(raw[1 : len(raw)-2])
			items, err := r.ItemsOf(hex.EncodeToString(sum[:]))
			if err != nil || len(items) == 0 {
				t.Errorf("message %d was acknowledged and has %d items, %v", i, len(items), err)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
