package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

func importCommand() command {
	return command{name: "import", args: "[flags] FILE|FOLDER... | --mailbox", short: "take in referrals and results: HL7 v2 messages, batches, CSV line lists, e-mails",
		long: `Takes in newborn-screen and sweat-test results from files: HL7 v2 ORU^R01 (one message,
many, or a batch), CSV line lists, and e-mails that carry them. A folder is walked with
all that is in it. Every file is kept as it came. Prints what became of each item and the
counts, which add up to the items in. Exit 1 if a file could not be read, or an item was
refused and this is no dry run.

With --mailbox the mailbox of the settings is read once, now: the way to try new settings.

With --dry-run nothing is written: it prints one line for each message, saying whether it
would be read, set aside for a person or refused, with the place and the reason, as it
would be against the store as it is now (or an empty one, if there is none).`,
		run: runImport}
}

func runImport(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "store", "zone", "code")
	asJSON := fs.Bool("json", false, "print one JSON object a file")
	dry := fs.Bool("dry-run", false, "write nothing; print one line a message")
	mail := fs.Bool("mailbox", false, "read the mailbox of the settings now, in place of files")
	if code, done := parse(std, fs, args); done {
		return code
	}
	if fs.NArg() == 0 != *mail || *mail && (*dry || *asJSON) {
		return wrongUse(std, fs, "name at least one file or folder, or --mailbox alone")
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin import: %s\n", people(err))
		return exitUsage
	}
	if *mail {
		return doOp(ctx, std, cfg, &op{Command: "read-mail"}, false)
	}
	if *dry {
		tidy, err := cfg.scratchIfMissing()
		if err != nil {
			return fail(std, "import", err)
		}
		defer tidy()
	}
	files, code := filesOf(std, fs.Args())
	r := report{out: std.out, json: *asJSON, dry: *dry, total: map[intake.Outcome]int{}}
	for len(files) > 0 {
		var o *op
		var failed int
		o, files, failed = nextBatch(std, files)
		o.DryRun = *dry
		code = max(code, failed)
		if len(o.Files) == 0 {
			continue
		}
		var buf bytes.Buffer
		got := doOp(ctx, stdio{std.in, &buf, std.err}, cfg, o, false)
		code = max(code, got)
		if err := r.batch(&buf); err != nil {
			return fail(std, "import", err)
		}
		if got != exitOK && buf.Len() == 0 && r.files == 0 {
			return got // the store could not be opened
		}
	}
	r.close()
	return code
}

// scratchIfMissing gives a dry run an empty store of its own when there is none yet.
func (c *config) scratchIfMissing() (tidy func(), err error) {
	if _, err := os.Stat(c.Store); !errors.Is(err, os.ErrNotExist) {
		return func() {}, err
	}
	dir, err := os.MkdirTemp("", "dunlin-dry-run-")
	if err != nil {
		return nil, err
	}
	c.Store = filepath.Join(dir, "empty.db")
	return func() { os.RemoveAll(dir) }, nil
}

// Limits of one batch of files that goes to the store together.
const (
	batchBytes = 30 << 20
	batchFiles = 1000
	fileBytes  = 64 << 20
)

// found is a file to take in, and the name it is shown by.
type found struct{ path, name string }

// filesOf lists the files of the arguments, folders with all that is in them; hidden
// files and links are left out. A path that cannot be read is said, and the rest goes on.
func filesOf(std stdio, args []string) (out []found, code int) {
	say := func(err error) {
		fmt.Fprintf(std.err, "dunlin import: %v\n", err)
		code = exitFailed
	}
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			say(err)
			continue
		}
		if !info.IsDir() {
			out = append(out, found{arg, filepath.Base(arg)})
			continue
		}
		err = filepath.WalkDir(arg, func(path string, d os.DirEntry, err error) error {
			switch {
			case err != nil:
				say(err)
				return nil
			case path != arg && strings.HasPrefix(d.Name(), ".") && d.IsDir():
				return filepath.SkipDir
			case strings.HasPrefix(d.Name(), ".") || !d.Type().IsRegular():
				return nil
			}
			name, err := filepath.Rel(arg, path)
			if err != nil {
				name = path
			}
			out = append(out, found{path, filepath.ToSlash(name)})
			return nil
		})
		if err != nil {
			say(err)
		}
	}
	return out, code
}

// nextBatch reads files until a batch is full, and gives the rest.
func nextBatch(std stdio, files []found) (o *op, rest []found, code int) {
	o = &op{Command: "import"}
	size := int64(0)
	for i, f := range files {
		info, err := os.Stat(f.path)
		if err == nil && info.Size() > fileBytes {
			err = fmt.Errorf("%s is larger than %d MB and was not read; split it", f.path, fileBytes>>20)
		}
		if err == nil && len(o.Files) > 0 && (size+info.Size() > batchBytes || len(o.Files) == batchFiles) {
			return o, files[i:], code
		}
		var data []byte
		if err == nil {
			data, err = os.ReadFile(f.path)
		}
		if err != nil {
			fmt.Fprintf(std.err, "dunlin import: %v\n", err)
			code = exitFailed
			continue
		}
		size += int64(len(data))
		o.Files = append(o.Files, opFile{f.name, data})
	}
	return o, nil, code
}

// importFiles takes the files in and writes one result a line; the command prints them.
func (o *op) importFiles(ctx context.Context, s *site, out io.Writer) (int, error) {
	actor := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "import"}
	docs := make([]intake.Document, len(o.Files))
	for i, f := range o.Files {
		docs[i] = intake.Document{Source: "import", Name: f.Name, Raw: f.Data}
	}
	receive := s.intake.ReceiveAll
	if o.DryRun {
		receive = s.tryOut
	}
	results, err := receive(ctx, actor, docs) // the files share transactions
	if err != nil {
		return exitFailed, err
	}
	code := exitOK
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for _, res := range results {
		if res.Counts[intake.Refused] > 0 && !o.DryRun {
			code = exitFailed
		}
		if err := enc.Encode(res); err != nil {
			return exitFailed, err
		}
	}
	return code, nil
}

// readMail polls the mailbox once: with the reader of the serving program, so that
// two polls never meet, or with one of its own.
func (o *op) readMail(ctx context.Context, s *site, out io.Writer) (int, error) {
	box := s.box
	if box == nil {
		var err error
		if box, err = s.mailBox(time.Now, nil); err != nil {
			return exitFailed, err
		}
	}
	if box == nil {
		return exitFailed, errors.New("no mailbox is set up; the settings need mailbox.address, mailbox.user and mailbox.password_file")
	}
	tally, err := box.Poll(ctx)
	fmt.Fprintf(out, "%s: %s\n", box.Name(), tally)
	if err != nil {
		return exitFailed, err
	}
	return exitOK, nil
}

// errTried ends the transaction of a dry run, so that nothing of it stays.
var errTried = errors.New("only tried")

// trial is a store inside one transaction that is going to be given up.
type trial struct{ w cases.Writer }

func (t trial) View(_ context.Context, f func(cases.Reader) error) error { return f(t.w) }

func (t trial) Update(_ context.Context, _ cases.Actor, f func(cases.Writer) error) error {
	return f(t.w)
}

// tryOut takes documents in as ReceiveAll does, and leaves no trace.
func (s *site) tryOut(ctx context.Context, a cases.Actor, docs []intake.Document) (out []intake.Result, err error) {
	err = s.db.Update(ctx, a, func(w cases.Writer) error {
		if out, err = s.intake.Over(trial{w}).ReceiveAll(ctx, a, docs); err != nil {
			return err
		}
		return errTried
	})
	if errors.Is(err, errTried) {
		err = nil
	}
	return out, err
}
