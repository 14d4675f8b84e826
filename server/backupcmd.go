package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"path/filepath"
	"text/tabwriter"
	"time"

	"dunlin/server/safekeeping"
)

// backupAsk is what a back-up is to be; empty fields come from the settings.
type backupAsk struct {
	Folder      string `json:"folder,omitempty"`
	Recipients  string `json:"recipients,omitempty"`
	Unencrypted bool   `json:"unencrypted,omitempty"`
}

func backupCommand() command {
	return command{name: "backup", args: "[flags] [FILE]", short: "make a verified back-up, also while serving",
		long: `Makes a back-up in the folder of the settings, or in that of --to: a consistent
snapshot, checked in full, encrypted to the public keys, read back and compared. It
works while the program serves. With FILE and --unencrypted it writes one plain
verified copy instead, which opens like any store.

  dunlin backup --new-key FILE   make a private key; keep it off this machine
  dunlin backup --list           what lies in the folder`,
		run: runBackup}
}

func runBackup(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "store", "zone", "code")
	to := fs.String("to", "", "`folder` to write to (default: backup.folder of the settings)")
	recipients := fs.String("recipients", "", "`file` of public keys (default: backup.recipients of the settings)")
	plain := fs.Bool("unencrypted", false, "do not encrypt: anybody who gets the file reads every case")
	newKey := fs.String("new-key", "", "make a private key in this `file`, print its public key, and do nothing else")
	list := fs.Bool("list", false, "list the back-ups of the folder, and do nothing else")
	if code, done := parse(std, fs, args); done {
		return code
	}
	if *newKey != "" {
		public, err := safekeeping.NewKey(*newKey)
		if err != nil {
			return fail(std, "backup", err)
		}
		fmt.Fprintf(std.out, "%s\nThat is the public key: put it into the file that backup.recipients names.\n%s is the private key. Without it no back-up can be opened: keep two copies, neither on this machine.\n", public, *newKey)
		return exitOK
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin backup: %s\n", people(err))
		return exitUsage
	}
	if *list {
		return listBackups(std, cfg, *to)
	}
	o, err := askBackup(fs, *to, *recipients, *plain)
	if err != nil {
		return wrongUse(std, fs, "%v", err)
	}
	return doOp(ctx, std, cfg, o, true)
}

func askBackup(fs *flag.FlagSet, to, recipients string, plain bool) (*op, error) {
	o := &op{Command: "backup", Backup: backupAsk{Unencrypted: plain}}
	var errs []error
	whole := func(p string) string {
		if p == "" {
			return ""
		}
		abs, err := filepath.Abs(p)
		errs = append(errs, err)
		return abs
	}
	o.Path, o.Backup.Folder, o.Backup.Recipients = whole(fs.Arg(0)), whole(to), whole(recipients)
	switch {
	case fs.NArg() > 1:
		return nil, errors.New("name one file, or none")
	case o.Path != "" && to != "":
		return nil, errors.New("name a file or a folder, not both")
	case o.Path != "" && !plain:
		return nil, errors.New("a single FILE is a plain copy, and anybody who gets it reads every case: add --unencrypted if it is to be so, or write an encrypted back-up with --to FOLDER")
	case plain && recipients != "":
		return nil, errors.New("--recipients and --unencrypted contradict each other")
	}
	return o, errors.Join(errs...)
}

func listBackups(std stdio, cfg *config, folder string) int {
	if folder == "" {
		folder = cfg.Backup.Folder
	}
	if folder == "" {
		return fail(std, "backup", errNoFolder)
	}
	list, err := safekeeping.List(folder)
	if err != nil {
		return fail(std, "backup", err)
	}
	w := tabwriter.NewWriter(std.out, 0, 4, 2, ' ', 0)
	fmt.Fprint(w, "MADE\tFILE\tSIZE\tCASES\tAUDIT\tVERIFIED\n")
	code := exitOK
	for _, h := range list {
		verified := h.Verified.In(cfg.zone).Format("2006-01-02 15:04")
		if h.Trouble != "" {
			verified, code = h.Trouble, exitFailed
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%d\t%s\n", h.At.In(cfg.zone).Format("2006-01-02 15:04:05"), h.File, safekeeping.Megabytes(h.Bytes), h.Counts["cases"], h.AuditSeq, verified)
	}
	if err := w.Flush(); err != nil {
		return exitFailed
	}
	return code
}

var errNoFolder = errors.New("no folder of back-ups is set. Name one with --to FOLDER, or set backup.folder in the settings")

func (o *op) backup(ctx context.Context, s *site, out io.Writer) (int, error) {
	if o.Path != "" {
		sum, err := s.db.Backup(ctx, o.Path)
		if err != nil {
			return exitFailed, err
		}
		fmt.Fprintf(out, "%s: a verified copy of %d bytes, schema %d, %d cases. Audit trail: %d entries, head %s.\n",
			sum.Path, sum.Bytes, sum.Schema, sum.Counts["cases"], sum.Seq, sum.Hash)
		return exitOK, nil
	}
	k, err := s.keeperFor(o.Backup)
	if err != nil {
		return exitFailed, err
	}
	m, dropped, err := s.makeBackup(ctx, k, o.Who)
	if err != nil {
		return exitFailed, err
	}
	how := "not encrypted"
	if m.Encrypted() {
		how = fmt.Sprintf("encrypted to %d key(s)", len(m.Recipients))
	}
	fmt.Fprintf(out, "%s: verified, %s, %s, %d cases, in %.1f s. Audit trail: %d entries, head %s.\n",
		filepath.Join(k.Folder(), m.File), safekeeping.Megabytes(m.Bytes), how, m.Counts["cases"], m.Seconds, m.AuditSeq, m.AuditHash)
	if dropped > 0 {
		fmt.Fprintf(out, "%d older back-up(s) were dropped by the rule of the settings.\n", dropped)
	}
	return exitOK, nil
}

// keeperFor makes the keeper that was asked for: that of the settings where nothing else
// was, or one of another folder, where every back-up stays.
func (s *site) keeperFor(ask backupAsk) (*safekeeping.Keeper, error) {
	if ask == (backupAsk{}) {
		if s.keeper == nil {
			return nil, errNoFolder
		}
		return s.keeper, nil
	}
	b := s.cfg.Backup
	if ask.Folder != "" && ask.Folder != b.Folder {
		b.Folder, b.Keep = ask.Folder, safekeeping.Keep{}
	}
	switch {
	case b.Folder == "":
		return nil, errNoFolder
	case ask.Recipients != "":
		b.Recipients, b.Unencrypted = ask.Recipients, false
	case ask.Unencrypted:
		b.Recipients, b.Unencrypted = "", true
	}
	return s.newKeeper(b)
}

// newKeeper makes a keeper of the store's back-ups.
func (s *site) newKeeper(b backupConfig) (*safekeeping.Keeper, error) {
	return safekeeping.New(safekeeping.Options{
		Folder: b.Folder, Source: s.db, Examine: s.cfg.examine, Now: s.clock, Recipients: b.Recipients, Unencrypted: b.Unencrypted,
		Keep: b.Keep, Journal: s.cfg.Store + ".sent", Release: release,
	})
}

// clock is the time in the program's zone.
func (s *site) clock() time.Time {
	if s.now != nil {
		return s.now().In(s.cfg.zone)
	}
	return time.Now().In(s.cfg.zone)
}
