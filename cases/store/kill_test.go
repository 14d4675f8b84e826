package store

import (
	"bufio"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// TestKillDuringWrites kills a writing process 30 times without warning. What
// it had been told was saved must be there, and the store must be sound.
func TestKillDuringWrites(t *testing.T) {
	path := filepath.Join(t.TempDir(), "dunlin.db")
	rng := rand.New(rand.NewPCG(7, 7))
	acknowledged, unclean := 0, 0
	for round := range 30 {
		cmd := childOf("write", path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		if !lines.Scan() {
			t.Fatalf("round %d: the child said nothing", round)
		}
		time.AfterFunc(time.Duration(5+rng.IntN(60))*time.Millisecond, func() { cmd.Process.Kill() })
		for ok := true; ok; ok = lines.Scan() {
			n, err := strconv.Atoi(lines.Text())
			if err != nil {
				t.Fatalf("round %d: child says %q", round, lines.Text())
			}
			acknowledged = n
		}
		cmd.Wait()
		o := testOptions()
		o.Now = nil
		db, err := Open(path, o) // checks everything after an unclean stop
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if !db.CleanStart() {
			unclean++
		}
		if n := count(t, db, cases.Reader.All); n < acknowledged || n > acknowledged+1 {
			t.Fatalf("round %d: %d cases, %d were acknowledged", round, n, acknowledged)
		}
		if seq, _, err := db.AuditHead(); err != nil || seq < uint64(acknowledged) {
			t.Fatalf("round %d: audit trail ends at %d: %v", round, seq, err)
		}
		acknowledged = count(t, db, cases.Reader.All)
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("30 kills, %d saved cases, none lost", acknowledged)
	if unclean != 30 {
		t.Errorf("%d of 30 stops were noticed as unclean", unclean)
	}
}

// TestFullDisk lets a child write against a limit of the file size, which
// fails the same calls as a full disk, and then lifts it.
func TestFullDisk(t *testing.T) {
	out, err := childOf("fill", filepath.Join(t.TempDir(), "dunlin.db")).CombinedOutput()
	if err != nil || !strings.Contains(string(out), "full was noticed") {
		t.Fatalf("child: %v\n%s", err, out)
	}
}
