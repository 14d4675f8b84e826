package mailbox

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"encoding/pem"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
)

// program is the built program with settings that lead to the server.
type program struct {
	testing.TB
	bin, config, db string
}

func newProgram(d *dovecot) *program {
	d.Helper()
	dir := d.TempDir()
	p := &program{TB: d.TB, bin: filepath.Join(dir, "dunlin"), config: filepath.Join(dir, "dunlin.json"), db: filepath.Join(dir, "program.db")}
	if out, err := exec.Command("go", "build", "-o", p.bin, "dunlin/server").CombinedOutput(); err != nil {
		d.Fatalf("the program cannot be built: %v\n%s", err, out)
	}
	put := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			d.Fatal(err)
		}
		return path
	}
	settings := map[string]any{"store": p.db, "listen": "127.0.0.1:0", "mailbox": map[string]any{
		"address": d.addr(), "security": "tls", "user": account, "password_file": put("password", []byte(secret+"\n")),
		"ca_file": put("ca.pem", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: d.ca.cert.Raw})),
		"folder":  "INBOX", "handled": "Handled", "trouble": "Trouble", "every": "@every 60m", "max_mb": 25}}
	text, err := json.Marshal(settings)
	if err != nil {
		d.Fatal(err)
	}
	put("dunlin.json", text)
	return p
}

// serve starts the program and waits until it serves.
func (p *program) serve() *exec.Cmd {
	p.Helper()
	cmd := exec.Command(p.bin, "serve", "--config", p.config)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		p.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if strings.Contains(lines.Text(), " serves ") {
			go func() {
				for lines.Scan() {
				}
			}()
			return cmd
		}
	}
	p.Fatalf("the program does not serve: %s", errs.String())
	return nil
}

// run runs a command of the program.
func (p *program) run(args ...string) (string, error) {
	out, err := exec.Command(p.bin, append(args, "--config", p.config)...).CombinedOutput()
	return string(out), err
}

// TestProgramKilledWhileReading kills the whole program at random moments while it
// reads the mailbox, starts it again, and goes on until all is read: every message is
// there once, opened once, and moved once.
func TestProgramKilledWhileReading(t *testing.T) {
	const messages, kills = 240, 12
	d := newDovecot(t)
	d.create("Handled", "Trouble")
	var raws [][]byte
	for n := range messages {
		raws = append(raws, referral(n))
	}
	raws = append(raws, referral(3), referral(4)) // two come twice
	d.deliver(raws...)
	p := newProgram(d)
	killed := 0
	for last := ""; !strings.Contains(last, "no new mail"); {
		cmd := p.serve()
		done := make(chan string, 1)
		go func() {
			out, _ := p.run("import", "--mailbox")
			done <- out
		}()
		if killed < kills {
			time.Sleep(time.Duration(20+rand.IntN(180)) * time.Millisecond)
			killed++
			if err := cmd.Process.Kill(); err != nil {
				t.Fatal(err)
			}
			<-done
			cmd.Wait()
			continue
		}
		last = <-done
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("the program did not stop in order: %v", err)
		}
		if !strings.Contains(last, "found") && !strings.Contains(last, "no new mail") {
			t.Fatalf("reading says %q", last)
		}
	}
	if out, err := p.run("check"); err != nil {
		t.Errorf("check: %s", out)
	}
	p.everythingOnce(messages)
	inbox, _ := d.count("INBOX")
	handled, unseen := d.count("Handled")
	trouble, _ := d.count("Trouble")
	if inbox != 0 || int(handled) != len(raws) || unseen != 0 || trouble != 0 {
		t.Errorf("the folders hold %d, %d (%d unseen) and %d messages", inbox, handled, unseen, trouble)
	}
}

// everythingOnce looks into the store: one case for each infant, and nothing but what
// opened one or came twice.
func (p *program) everythingOnce(infants int) {
	p.Helper()
	db, err := store.Open(p.db, store.Options{Now: time.Now, MustExist: true})
	if err != nil {
		p.Fatal(err)
	}
	defer db.Close()
	err = db.View(context.Background(), func(r cases.Reader) error {
		seen := map[string]int{}
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			seen[c.Referral.Screen.CardSerial]++
		}
		for card, n := range seen {
			if n != 1 {
				p.Errorf("infant %s has %d cases", card, n)
			}
		}
		if len(seen) != infants {
			p.Errorf("%d infants, want %d", len(seen), infants)
		}
		byOutcome := map[string]int{}
		for i, err := range r.ItemsSince(0) {
			if err != nil {
				return err
			}
			byOutcome[i.Outcome]++
		}
		if byOutcome["opened"] != infants || len(byOutcome) != 2 || byOutcome["duplicate"] == 0 {
			p.Errorf("items %v", byOutcome)
		}
		return nil
	})
	if err != nil {
		p.Fatal(err)
	}
}
