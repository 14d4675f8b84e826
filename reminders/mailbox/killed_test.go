package mailbox

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
)

// The test that kills the program starts the test binary again, with the address of
// the server, the store and the authority in its environment.
const (
	childAddr  = "DUNLIN_TEST_MAIL_SERVER"
	childStore = "DUNLIN_TEST_PATH"
	childCA    = "DUNLIN_TEST_AUTHORITY"
)

func TestMain(m *testing.M) {
	if addr := os.Getenv(childAddr); addr != "" {
		if err := childPolls(addr); err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// childPolls is a program that polls once.
func childPolls(addr string) error {
	pem, err := os.ReadFile(os.Getenv(childCA))
	if err != nil {
		return err
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(pem)
	db, err := store.Open(os.Getenv(childStore), store.Options{Now: func() time.Time { return today }})
	if err != nil {
		return err
	}
	box, err := New(Options{Addr: addr, User: account, Handled: "Handled", Trouble: "Trouble", RootCAs: pool, Batch: 10,
		Password: func() (string, error) { return secret, nil }, Now: func() time.Time { return today }},
		db, intake.New(db, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{}).OpenMail(mail.Reader{}))
	if err != nil {
		return err
	}
	tally, err := box.Poll(context.Background())
	fmt.Println(tally)
	return errors.Join(err, db.Close())
}

// TestProgramKilled kills the program again and again while it takes mail in. In the
// end every message is in the store once, marked and moved.
func TestProgramKilled(t *testing.T) {
	d := newDovecot(t)
	d.create("Handled", "Trouble")
	const n = 300
	for i := range n {
		d.deliver(referral(i))
	}
	path, ca := filepath.Join(t.TempDir(), "killed.db"), filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(ca, d.ca.pem(), 0o600); err != nil {
		t.Fatal(err)
	}
	program := func() *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childAddr+"="+d.addr(), childStore+"="+path, childCA+"="+ca)
		return cmd
	}
	killed := 0
	for i := range 12 {
		cmd := program()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		kill := time.AfterFunc(time.Duration(80+37*i)*time.Millisecond, func() { _ = cmd.Process.Kill() })
		_ = cmd.Wait()
		if kill.Stop(); cmd.ProcessState.ExitCode() == -1 {
			killed++
		} else if !cmd.ProcessState.Success() {
			t.Errorf("a program failed: %s", cmd.ProcessState)
		}
	}
	out, err := program().CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	t.Logf("killed %d times; the last poll: %s", killed, strings.TrimSpace(string(out)))
	if killed == 0 {
		t.Error("no program was killed")
	}
	db, err := store.Open(path, store.Options{Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	b := &bench{TB: t, db: db}
	docs := b.received()
	entries, found := 0, 0
	for uid, e := range b.entries(account+"/INBOX", d.validity()) {
		// Killed between the move and its record, an entry does not know of the move.
		if entries++; !stored(e.Outcome) || docs[e.Hash].Hash == "" {
			t.Errorf("message %d: %+v", uid, e)
		}
	}
	for _, it := range b.items() {
		if it.Outcome == "opened" || it.Kind == "possible same infant" {
			found++
		}
	}
	if handled, unseen := d.count("Handled"); handled != n || unseen != 0 || entries != n || len(docs) != n || found != n {
		t.Errorf("%d moved, %d unseen, %d entries, %d documents, %d cases of %d", handled, unseen, entries, len(docs), found, n)
	}
}
