package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"time"

	"dunlin/cases/store"
	"dunlin/server/safekeeping"
)

// A damaged file can end the process that reads it, whatever guards it has, or keep it
// busy for ever. So files are looked at by a process of their own: this program, started
// with this word and a question on its input. It is no command for people.
const examineName = "examine-file"

// examineAsk is the question.
type examineAsk struct {
	Path     string          `json:"path"`
	Zone     string          `json:"zone"`
	Code     string          `json:"code"`
	Protocol json.RawMessage `json:"protocol,omitempty"`
	Short    bool            `json:"short,omitempty"` // pages only, not every record
}

// examineAnswer says what was found; Kind is empty for a sound file.
type examineAnswer struct {
	Summary store.Summary `json:"summary"`
	Kind    string        `json:"kind,omitempty"`
	Text    string        `json:"text,omitempty"`
}

// kinds names the faults that keep their meaning from one process to the other.
var kinds = []struct {
	name string
	why  error
}{
	{"damaged", store.ErrDamaged}, {"indexes", store.ErrIndexes}, {"locked", store.ErrLocked}, {"not a store", store.ErrNotStore}, {"newer", store.ErrNewer},
	{"older", store.ErrOlder}, {"read only", store.ErrReadOnly}, {"missing", store.ErrMissing}, {"full", store.ErrFull},
}

// examineFile is the other process.
func examineFile(ctx context.Context, std stdio) int {
	var ask examineAsk
	c := defaultConfig()
	err := json.NewDecoder(std.in).Decode(&ask)
	if err == nil {
		c.Zone, c.Code, c.Protocol = ask.Zone, ask.Code, ask.Protocol
		err = c.settle()
	}
	if err != nil {
		fmt.Fprintf(std.err, "dunlin: the question cannot be read: %v\n", err)
		return exitUsage
	}
	var a examineAnswer
	o := store.Options{Zone: c.zone, Protocol: c.protocol, Program: c.Code, Release: release, Wait: shortWait}
	if ask.Short {
		err = store.Look(ctx, ask.Path, o)
	} else {
		a.Summary, err = store.Examine(ctx, ask.Path, o)
	}
	if err != nil {
		a.Kind, a.Text = "error", err.Error()
		for _, k := range kinds {
			if errors.Is(err, k.why) {
				a.Kind = k.name
				break
			}
		}
	}
	if err := json.NewEncoder(std.out).Encode(&a); err != nil {
		return exitFailed
	}
	return exitOK
}

// errNoCheck is a check that could not be started, which says nothing of the file.
var errNoCheck = errors.New("the check could not be started")

// examineLimit is how long a check may take: far longer than it does on a slow disk.
func examineLimit(bytes int64) time.Duration {
	return time.Minute + time.Duration(bytes/(2<<20))*time.Second
}

// examine checks a file in full in another process.
func (c *config) examine(ctx context.Context, path string) (store.Summary, error) {
	return c.ask(ctx, path, false)
}

func (c *config) ask(ctx context.Context, path string, short bool) (store.Summary, error) {
	info, err := os.Stat(path)
	if err != nil {
		return store.Summary{}, err
	}
	question, err := json.Marshal(examineAsk{Path: path, Zone: c.Zone, Code: c.Code, Protocol: c.Protocol, Short: short})
	if err != nil {
		return store.Summary{}, err
	}
	self, err := os.Executable()
	if err != nil {
		return store.Summary{}, errors.Join(errNoCheck, err)
	}
	limited, cancel := context.WithTimeout(ctx, examineLimit(info.Size()))
	defer cancel()
	cmd := exec.CommandContext(limited, self, examineName)
	cmd.Stdin = bytes.NewReader(question)
	var out bytes.Buffer
	cmd.Stdout = &out
	if err := cmd.Start(); err != nil {
		return store.Summary{}, errors.Join(errNoCheck, err)
	}
	err = cmd.Wait()
	if ctx.Err() != nil {
		return store.Summary{}, ctx.Err()
	}
	var a examineAnswer
	switch derr := json.Unmarshal(out.Bytes(), &a); {
	case limited.Err() != nil:
		return a.Summary, broken(path, fmt.Sprintf("the check of it did not end in %s", examineLimit(info.Size()).Round(time.Second)))
	case err != nil || derr != nil:
		return a.Summary, broken(path, "the check of it broke off")
	}
	if a.Kind == "" {
		return a.Summary, nil
	}
	for _, k := range kinds {
		if k.name == a.Kind {
			return a.Summary, &store.Fault{Why: k.why, Path: path, Text: a.Text}
		}
	}
	return a.Summary, errors.New(a.Text)
}

// broken is a file at which the other process failed.
func broken(path, what string) error {
	return &store.Fault{Why: store.ErrDamaged, Path: path, Text: fmt.Sprintf("%s is damaged: %s. Keep this file as it is, and restore the newest verified backup in its place.", path, what)}
}

// lookFirst looks at the store in another process before this one opens it: in full
// after an unclean stop, else at its pages. sound tells that the full check was passed.
// What is no damage is left to be said by the opening itself.
func (c *config) lookFirst(ctx context.Context, log *slog.Logger) (sound bool, err error) {
	info, err := os.Stat(c.Store)
	if err != nil || info.Size() == 0 || !info.Mode().IsRegular() || c.served() {
		return false, nil
	}
	unclean := store.Unclean(c.Store)
	_, err = c.ask(ctx, c.Store, !unclean)
	switch {
	case errors.Is(err, store.ErrDamaged):
		return false, c.wayBack(err)
	case errors.Is(err, errNoCheck) && log != nil:
		log.Warn("the store could not be looked at before it was opened", "err", err)
	}
	return unclean && err == nil, nil
}

// served tells whether a program listens at the socket beside the store.
func (c *config) served() bool {
	conn, err := net.DialTimeout("unix", c.socket(), shortWait)
	if err != nil {
		return false
	}
	conn.Close()
	return true
}

// wayBack adds to an error of a damaged store which back-up to take, and how.
func (c *config) wayBack(err error) error {
	if !errors.Is(err, store.ErrDamaged) {
		return err
	}
	text := "\nNo folder of back-ups is set (backup.folder), so none can be named here."
	if c.Backup.Folder != "" {
		text = fmt.Sprintf("\n%s holds no verified back-up. Ask who else may have one.", c.Backup.Folder)
		if h, ok := safekeeping.Newest(c.Backup.Folder); ok {
			text = fmt.Sprintf("\nThe newest verified back-up is of %s: %d cases. To go back to it:\n  mv %s %s\n  %s\nWhat was recorded after that time is not in it.",
				h.At.In(c.zone).Format("2 January 2006, 15:04"), h.Counts["cases"], safekeeping.Quoted(c.Store), safekeeping.Quoted(c.Store+".damaged"), safekeeping.Command(h, c.Store))
		}
	}
	return &store.Fault{Why: store.ErrDamaged, Path: c.Store, Text: err.Error() + text, Err: err}
}
