package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/server/safekeeping"
)

func restoreCommand() command {
	return command{name: "restore", args: "[flags] FILE|FOLDER", short: "make a store out of a back-up",
		long: `Makes the store named by --to out of a back-up, or of the newest verified one of a
folder. The back-up is compared with its manifest, decrypted, and checked in full
before the store takes its name; nothing is ever written over. With --drill it goes
through all of that and leaves nothing behind.

  dunlin restore FOLDER --identity KEYFILE --to program.db
  ssh key-holder cat KEYFILE | dunlin restore FILE --identity - --to program.db`,
		run: runRestore}
}

func runRestore(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "zone", "code")
	to := fs.String("to", "", "the store `file` to make; it must not exist")
	identity := fs.String("identity", "", "`file` with the private key, or - to read it from the input")
	drill := fs.Bool("drill", false, "try the whole of it and leave nothing behind")
	from, args := leading(args)
	if code, done := parse(std, fs, args); done {
		return code
	}
	if from == "" {
		from = fs.Arg(0)
	} else if fs.NArg() > 0 {
		return wrongUse(std, fs, "name one back-up")
	}
	if from == "" || fs.NArg() > 1 {
		return wrongUse(std, fs, "name one back-up, or the folder of back-ups")
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin restore: %s\n", people(err))
		return exitUsage
	}
	switch {
	case *to == "" && *drill:
		*to = filepath.Join(os.TempDir(), fmt.Sprintf("dunlin-drill-%d.db", os.Getpid()))
	case *to == "":
		return wrongUse(std, fs, "name the store to make: --to FILE")
	}
	keys, err := readKeys(std, *identity)
	if err != nil {
		return fail(std, "restore", err)
	}
	cfg.Store = *to
	if !*drill && cfg.served() {
		return fail(std, "restore", fmt.Errorf("a program still serves %s. Stop it first", *to))
	}
	done, err := safekeeping.Restore(ctx, safekeeping.Restoring{From: from, To: *to, Keys: keys, Drill: *drill, Examine: cfg.examineForUse})
	if err != nil {
		return fail(std, "restore", err)
	}
	if !*drill {
		if err := leaveWord(*to, &done); err != nil {
			return fail(std, "restore", fmt.Errorf("the store is restored, but that could not be noted beside it: %w", err))
		}
	}
	sayRestored(std.out, cfg, &done, *drill)
	return exitOK
}

// leading takes a back-up that stands before the flags.
func leading(args []string) (first string, rest []string) {
	if len(args) > 0 && args[0] != "" && args[0][0] != '-' {
		return args[0], args[1:]
	}
	return "", args
}

func readKeys(std stdio, file string) (safekeeping.Identities, error) {
	switch file {
	case "":
		return safekeeping.Identities{}, nil
	case "-":
		return safekeeping.ReadIdentities(std.in, "the input")
	}
	f, err := os.Open(file)
	if err != nil {
		return safekeeping.Identities{}, fmt.Errorf("the private key: %w", err)
	}
	defer f.Close()
	return safekeeping.ReadIdentities(f, file)
}

// examineForUse checks a file that was unpacked. One of an older release cannot be read
// as it is: a copy of it is brought up to date and checked, and it stays as it was.
func (c *config) examineForUse(ctx context.Context, path string) (store.Summary, error) {
	sum, err := c.examine(ctx, path)
	if !errors.Is(err, store.ErrOlder) {
		return sum, err
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".dunlin-trial-") // for all that opening leaves beside a store
	if err != nil {
		return sum, err
	}
	defer os.RemoveAll(dir)
	trial := filepath.Join(dir, "trial.db")
	if err := copyFile(path, trial); err != nil {
		return sum, err
	}
	db, err := store.Open(trial, store.Options{Zone: c.zone, Protocol: c.protocol, Program: c.Code, Release: release, MustExist: true})
	if err != nil {
		return sum, err
	}
	if err := db.Close(); err != nil {
		return sum, err
	}
	return c.examine(ctx, trial)
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

func sayRestored(out io.Writer, cfg *config, d *safekeeping.Restored, drill bool) {
	sum := &d.Summary
	at := "an unknown time"
	if d.Manifest != nil {
		at = d.Manifest.At.In(cfg.zone).Format("2 January 2006, 15:04 MST")
	}
	if d.Note != "" {
		fmt.Fprintf(out, "Note: %s It was checked in full all the same.\n", d.Note)
	}
	if drill {
		fmt.Fprintf(out, "%s can be restored: %d cases, as of %s, in %.1f s. Audit trail: %d entries, head %s. Nothing was kept.\n", d.From, sum.Counts["cases"], at, d.Took.Seconds(), sum.Seq, sum.Hash)
		return
	}
	fmt.Fprintf(out, `%s is restored from %s: %d cases, as of %s, in %.1f s. It was checked in full. Audit trail: %d entries, head %s.

Before people work with it:
- What was recorded after that time is not in it. Enter it again from paper and mail.
- Letters that were printed after that time are made again by the next daily job where they
  are still owed. Compare with what went out before you mail them.
- Messages by e-mail and text: the journal beside the store (%s.sent, %d line(s) added from the
  back-ups) says what went out. A message it knows is not sent again; a person is asked.
- Accounts are as they were at that time. Look through them. Everybody must sign in again.
`, sum.Path, d.From, sum.Counts["cases"], at, d.Took.Seconds(), sum.Seq, sum.Hash, sum.Path, d.Journal)
}

// restoredWord lies beside a restored store until the program is next served, and then
// becomes an entry of its audit trail. The store itself stays byte for byte what was
// backed up.
type restoredWord struct {
	From   string    `json:"from"` // name of the file
	As     time.Time `json:"as_of"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	AtHead string    `json:"audit_hash"`
}

func wordPath(store string) string { return store + ".restored" }

func leaveWord(path string, d *safekeeping.Restored) error {
	w := restoredWord{From: filepath.Base(d.From), At: time.Now().UTC().Truncate(time.Second), By: osUser(), AtHead: d.Summary.Hash}
	if d.Manifest != nil {
		w.As = d.Manifest.At
	}
	text, err := json.Marshal(w)
	if err != nil {
		return err
	}
	return os.WriteFile(wordPath(path), text, 0o600)
}

// takeWord writes down that the store was restored, once, and ends all sessions.
func (s *site) takeWord(ctx context.Context) error {
	path := wordPath(s.cfg.Store)
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var w restoredWord
	as := "an unknown time"
	if err := json.Unmarshal(text, &w); err == nil && !w.As.IsZero() {
		as = w.As.In(s.cfg.zone).Format("2 January 2006, 15:04")
	}
	words := fmt.Sprintf("Restored on %s by %s from the back-up %s, as of %s. What was recorded after that time is not in it.", w.At.In(s.cfg.zone).Format("2 January 2006, 15:04"), w.By, w.From, as)
	a := cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "start"}
	if err := s.db.Restored(ctx, a, words); err != nil {
		return err
	}
	return os.Remove(path)
}
