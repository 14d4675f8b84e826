package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

const servingChild = "DUNLIN_SERVING_CHILD"

var letterKills = flag.Int("letterkills", 20, "how often the serving program is killed while it makes letters")

// TestServingChild is the program that TestLettersOfAKilledProgram kills.
func TestServingChild(t *testing.T) {
	config := os.Getenv(servingChild)
	if config == "" {
		t.Skip("the child of TestLettersOfAKilledProgram")
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, stdio{os.Stdin, os.Stdout, os.Stderr}, []string{"serve", "--config", config}))
}

// killed is a program whose serving process is killed without warning.
type killed struct {
	*testing.T
	config, db, sent string
	rng              *rand.Rand
}

func newKilled(t *testing.T) *killed {
	dir := t.TempDir()
	k := &killed{T: t, config: filepath.Join(dir, "dunlin.json"), db: filepath.Join(dir, "p.db"), sent: filepath.Join(dir, "sent")}
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	k.rng = rand.New(rand.NewPCG(seed, 1))
	cfg, err := demoConfig(k.db)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(map[string]any{"store": k.db, "listen": "127.0.0.1:0", "zone": cfg.Zone, "letters": cfg.Letters,
		"daily": "* * * * *", "outgoing": map[string]any{"folder": k.sent, "doctors": true, "every": "@every 1m", "from": "00:00", "until": "23:59",
			"mail": map[string]any{"from": "followup@alderbay.example"}}})
	if err == nil {
		err = os.WriteFile(k.config, text, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// start starts the program and waits until it serves.
func (k *killed) start() *exec.Cmd {
	k.Helper()
	cmd := exec.Command(os.Args[0], "-test.run", "^TestServingChild$")
	cmd.Env = append(os.Environ(), servingChild+"="+k.config)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		k.Fatal(err)
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if strings.Contains(lines.Text(), " serves ") {
			return cmd
		}
	}
	_ = cmd.Wait()
	k.Fatalf("the program does not serve: %s", errs.String())
	return nil
}

// between opens the store while nobody serves.
func (k *killed) between(f func(*site)) {
	k.Helper()
	k.Setenv("DUNLIN_CONFIG", k.config)
	get := configFlags(flag.NewFlagSet("", flag.ContinueOnError))
	cfg, err := get()
	if err != nil {
		k.Fatal(err)
	}
	s, err := openSite(cfg, false, longWait, nil)
	if err != nil {
		k.Fatal(err)
	}
	defer func() {
		if err := s.close(); err != nil {
			k.Fatal(err)
		}
	}()
	f(s)
}

var alderBayClerk = cases.Actor{ID: "a", Name: "A. Tern", Role: cases.Coordinator}

// open opens infants of whom several letters and messages are due.
func (k *killed) open(s *site, from, n int) {
	today, err := s.today(k.Context())
	if err != nil {
		k.Fatal(err)
	}
	for i := from; i < from+n; i++ {
		street := &cases.Address{Lines: []string{fmt.Sprint(i+1, " Curlew Lane")}, City: "Alder Bay", Region: "AB", Postal: "00014"}
		c := cases.Case{
			Infant: cases.Infant{Given: "Ada", Family: fmt.Sprint("Wren", string(rune('a'+i%26))), Born: today - 20, Gestation: 39 * 7, BirthWeightG: 3200}, Referral: cases.Referral{On: today - 9, Route: "screen"},
			Family: &cases.Family{Language: []string{"en", "es"}[i%2], Consents: []cases.Consent{{Channel: "text", On: today - 8}},
				Guardians: []cases.Guardian{{Given: "Ruth", Family: "Wren", Letters: true, Address: street, Phones: []cases.Phone{{Number: fmt.Sprintf("555-555-%04d", i), Kind: "mobile"}}}}},
			PrimaryCare: &cases.PrimaryCare{Name: "Dr. Heron", Address: street, Email: "office@heron.example"},
			Contacts:    []cases.Contact{{On: today - 5, With: "family", By: "phone", Reached: i%3 > 0, Outcome: []string{"no answer", ""}[min(i%3, 1)]}, {On: today - 3, With: "family", By: "phone", Reached: i%3 > 0, Outcome: []string{"no answer", ""}[min(i%3, 1)]}},
		}
		if i%3 > 0 {
			c.Bookings = []cases.Booking{{On: today + cases.Day(1+i%11), At: "09:30", Site: "alder-bay", State: "booked", Changed: today - 2}}
		}
		if _, err := s.desk.Open(k.Context(), alderBayClerk, c, cases.Event{Kind: "opened"}); err != nil {
			k.Fatal(err)
		}
	}
}

// dueAgain writes the last runs of both jobs down as failed, so that the next start runs
// them at once; a run that was broken off begins again by itself.
func (k *killed) dueAgain(s *site) {
	ctx := k.Context()
	for _, name := range []string{"daily", outboxJob} {
		last, known, err := s.db.Last(ctx, name)
		if err == nil && !known {
			last.Slot = time.Now().Add(-5 * time.Minute).Truncate(time.Second)
			_, err = s.db.Begin(ctx, name, last.Slot, time.Hour)
			last.Ended = time.Now()
		}
		if err == nil && !last.Ended.IsZero() {
			err = s.db.End(ctx, name, last.Slot, "failed: to be run again")
		}
		if err != nil {
			k.Fatal(err)
		}
	}
}

// office moves some letters on and lets something happen to some infants.
func (k *killed) office(s *site) {
	var waiting []cases.Letter
	var open []cases.Case
	err := s.db.View(k.Context(), func(r cases.Reader) error {
		for l, err := range r.Letters("") {
			if err != nil {
				return err
			}
			if l.State == "to-print" || l.State == "printed" {
				waiting = append(waiting, l)
			}
		}
		for c, err := range r.Open() {
			if err != nil {
				return err
			}
			open = append(open, c)
		}
		return nil
	})
	if err != nil {
		k.Fatal(err)
	}
	c := open[k.rng.IntN(len(open))]
	switch k.rng.IntN(5) {
	case 0:
		_, err = s.desk.RecordDeath(k.Context(), alderBayClerk, c.ID, c.Rev, c.Referral.On+8, "the hospital")
	case 1:
		_, err = s.desk.SetFlag(k.Context(), alderBayClerk, c.ID, c.Rev, cases.Flag{Kind: "custody"})
	case 2:
		_, err = s.desk.Decline(k.Context(), alderBayClerk, c.ID, c.Rev, cases.Declined{ByWhom: "mother", ExplainedBy: "A. Tern"})
	case 3:
		if len(c.Bookings) > 0 && c.Bookings[0].State == "booked" {
			_, err = schedule.NewDesk(s.db, s.desk.Protocol()).Cancel(k.Context(), alderBayClerk, c.ID, c.Rev, 0, "the family asked")
		}
	}
	if err != nil {
		k.Fatal(err)
	}
	for range min(len(waiting), 5) {
		l := waiting[k.rng.IntN(len(waiting))]
		_ = s.desk.MarkLetters(k.Context(), alderBayClerk, []string{l.ID}, []string{"printed", "mailed"}[k.rng.IntN(2)], "", "run")
	}
}

// sound looks that every letter and message is there once, that case and store agree,
// that nothing stopped waits to go out, that what the store calls sent is in the folder
// and nothing went there twice, and that the store is sound.
func (k *killed) sound(s *site) (letters, messages int) {
	k.Helper()
	made, queued := map[string]string{}, map[string]int{}
	files := map[string]int{}
	err := filepath.WalkDir(k.sent, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasSuffix(path, ".part") {
			number, _, _ := strings.Cut(filepath.Base(path), ".")
			files[number]++
		}
		return nil
	})
	if err != nil {
		k.Fatal(err)
	}
	err = s.db.View(k.Context(), func(r cases.Reader) error {
		for l, err := range r.Letters("") {
			if err != nil {
				return err
			}
			key := fmt.Sprint(l.Case, "/", l.Kind, "/", l.Occasion)
			if made[key] != "" {
				k.Errorf("letter twice: %s", key)
			}
			made[key] = l.State
			letters++
		}
		for o, err := range r.Outgoings("") {
			if err != nil {
				return err
			}
			queued[fmt.Sprint(o.Case, "/", o.Kind, "/", o.Occasion, "/", o.By)]++
			messages++
			switch n := files[o.Number]; {
			case n > 1, n == 1 && o.State != cases.OutSent && o.State != cases.OutSending && o.State != cases.OutUncertain, n == 0 && o.State == cases.OutSent:
				k.Errorf("message %s is %s and was written %d times", o.Number, o.State, n)
			}
		}
		for key, n := range queued {
			if n > 1 {
				k.Errorf("message twice: %s", key)
			}
		}
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			for _, l := range c.Letters {
				key := fmt.Sprint(c.ID, "/", l.Kind, "/", l.Occasion)
				if made[key] != l.State {
					k.Errorf("%s: case says %s, store %q", key, l.State, made[key])
				}
				delete(made, key)
				if why := s.cfg.protocol.LetterStop(&c, l.Kind, l.Occasion, r.Today()); why != "" && l.State == "to-print" {
					k.Errorf("%s waits to be printed although %s", key, why)
				}
			}
			for _, m := range c.Messages {
				if queued[fmt.Sprint(c.ID, "/", m.Kind, "/", m.Occasion, "/", m.By)] != 1 {
					k.Errorf("message %s %s of %s is on the case only", m.Kind, m.Occasion, c.Reference)
				}
			}
		}
		for key := range made {
			if !strings.Contains(key, cases.LetterClinicDay) {
				k.Errorf("letter in the store only: %s", key)
			}
		}
		return nil
	})
	if err != nil {
		k.Fatal(err)
	}
	if problems, err := s.db.Check(k.Context()); err != nil || len(problems) > 0 {
		k.Errorf("the store: %v %v", problems, err)
	}
	return letters, messages
}

// TestLettersOfAKilledProgram kills the serving program at random moments while it makes
// letters and hands messages over, lets the office work in between, and starts it again:
// no letter is made twice, none is lost, and no message goes out twice.
func TestLettersOfAKilledProgram(t *testing.T) {
	k := newKilled(t)
	k.between(func(s *site) {
		k.open(s, 0, 30)
		k.dueAgain(s)
	})
	broken := 0
	if raceOn { // starting the program anew is what takes the detector long
		*letterKills = min(*letterKills, 4)
	}
	for round := range *letterKills {
		cmd := k.start()
		time.Sleep(time.Duration(k.rng.IntN([]int{40, 300}[round%2])) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait()
		k.between(func(s *site) {
			if run, known, err := s.db.Last(t.Context(), "daily"); err != nil {
				t.Fatal(err)
			} else if known && run.Ended.IsZero() {
				broken++
			}
			k.sound(s)
			k.office(s)
			k.open(s, 30+6*round, 6)
			k.dueAgain(s)
		})
		if t.Failed() {
			t.Fatalf("after kill %d", round+1)
		}
	}
	k.finish()
	k.between(func(s *site) {
		made, messages := k.sound(s)
		k.noneLost(s)
		t.Logf("%d kills, %d while letters were made; %d letters, %d messages", *letterKills, broken, made, messages)
	})
	if broken == 0 {
		t.Error("no kill came while letters were made")
	}
	if code, out, errs := call(t, "", "check", "--config", k.config); code != exitOK {
		t.Errorf("check: %d %s %s", code, out, errs)
	}
}

// finish serves until both jobs have run well. Meanwhile another program cannot serve
// from the same store.
func (k *killed) finish() {
	k.Helper()
	cmd := k.start()
	second := exec.Command(os.Args[0], "-test.run", "^TestServingChild$")
	second.Env = append(os.Environ(), servingChild+"="+k.config)
	if out, err := second.CombinedOutput(); err == nil || !strings.Contains(string(out), "is held by another process") {
		k.Errorf("a second program on the same store: %v %s", err, out)
	}
	for well := false; !well; {
		if cmd == nil {
			cmd = k.start()
		}
		time.Sleep(500 * time.Millisecond)
		if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
			k.Fatal(err)
		}
		_ = cmd.Wait()
		cmd = nil
		k.between(func(s *site) {
			well = true
			for _, name := range []string{"daily", outboxJob} {
				last, _, err := s.db.Last(k.Context(), name)
				well = well && err == nil && strings.HasPrefix(last.Outcome, "ok")
			}
		})
	}
}

// noneLost looks that nothing is owed but what was made.
func (k *killed) noneLost(s *site) {
	k.Helper()
	p, err := s.press(nil)
	if err != nil {
		k.Fatal(err)
	}
	today, err := s.today(k.Context())
	if err != nil {
		k.Fatal(err)
	}
	if tally, err := p.Run(k.Context(), today); err != nil || len(tally.Made)+tally.Queued+len(tally.SetAside) > 0 {
		k.Errorf("still owed after a run to the end: %v, %+v %v", tally, tally.SetAside, err)
	}
}
