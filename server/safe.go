package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/reminders/jobs"
	"dunlin/server/safekeeping"
	"dunlin/server/web"
)

// Names of the jobs that keep the store safe.
const (
	backupJob = "backup"
	scrubJob  = "scrub"
)

// backUp is the job that makes back-ups.
func (s *site) backUp() jobs.Job {
	return jobs.Job{Name: backupJob, Spec: s.cfg.Backup.Every, Run: func(ctx context.Context, _ time.Time) (string, error) {
		m, dropped, err := s.makeBackup(ctx, s.keeper, "schedule")
		if errors.Is(err, safekeeping.ErrBusy) { // somebody asked for one just now
			return "one was being made already", nil
		}
		if err != nil {
			return "", err
		}
		return fmt.Sprintf("%s, %d cases, %d older dropped", safekeeping.Megabytes(m.Bytes), m.Counts["cases"], dropped), nil
	}}
}

// makeBackup makes a back-up. Where only indexes do not fit the records, they are built
// anew and it is tried once more: no back-up at all would be worse.
func (s *site) makeBackup(ctx context.Context, k *safekeeping.Keeper, by string) (safekeeping.Manifest, int, error) {
	m, dropped, err := k.Make(ctx, by)
	if !errors.Is(err, store.ErrIndexes) {
		return m, dropped, err
	}
	if err := s.db.Reindex(ctx); err != nil {
		return m, 0, err
	}
	return k.Make(ctx, by)
}

// scrub is the job that reads the store and all back-ups again, so that what time does
// to a disk is found while there is a sound copy.
func (s *site) scrub() jobs.Job {
	return jobs.Job{Name: scrubJob, Spec: s.cfg.Backup.Scrub, Run: func(ctx context.Context, _ time.Time) (string, error) {
		note, err := safekeeping.Scrub(ctx, s.db, s.cfg.examine, s.cfg.Backup.Folder)
		if errors.Is(err, store.ErrIndexes) { // said all the same: a disk did this
			err = errors.Join(fmt.Errorf("indexes were built anew; let somebody look at the disk (%w)", err), s.db.Reindex(ctx))
		}
		return note, err
	}}
}

// beginSafely clears what a killed program left half made, and writes down a restore.
func (s *site) beginSafely(ctx context.Context, log *slog.Logger) error {
	if s.keeper != nil {
		if err := s.keeper.Clear(); err != nil {
			log.Warn("what a back-up left half made could not be cleared", "err", err)
		}
	}
	return s.takeWord(ctx)
}

// Safe tells how the back-ups stand.
func (w *working) Safe(context.Context) (web.Safe, error) {
	b := w.site.cfg.Backup
	out := web.Safe{Every: b.Every, Move: "mv " + safekeeping.Quoted(w.site.cfg.Store) + " " + safekeeping.Quoted(w.site.cfg.Store+".before"), Keep: [4]int{b.Keep.Hourly, b.Keep.Daily, b.Keep.Weekly, b.Keep.Monthly}}
	out.Busy, out.Failed = w.hand.state()
	k := w.site.keeper
	if k == nil {
		return out, nil
	}
	out.SetUp, out.Folder, out.Encrypted = true, k.Folder(), k.Encrypts()
	if out.Encrypted {
		if keys, err := safekeeping.ReadRecipients(b.Recipients); err != nil {
			out.Trouble = err.Error()
		} else {
			out.Keys = keys.Names
		}
	}
	list, err := safekeeping.List(k.Folder())
	if err != nil {
		out.Trouble = err.Error()
		return out, nil
	}
	for _, h := range list {
		out.Made = append(out.Made, web.Backup{File: h.File, At: h.At, By: h.By, Bytes: h.Bytes, Encrypted: h.Encrypted(), Cases: h.Counts["cases"], Entries: h.AuditSeq, Head: h.AuditHash,
			Verified: h.Verified, Seconds: h.Seconds, Trouble: h.Trouble, Command: safekeeping.Command(h, w.site.cfg.Store)})
	}
	return out, nil
}

// BackUp begins a back-up that a person asked for. The audit trail says who.
func (w *working) BackUp(ctx context.Context, a cases.Actor) error {
	k := w.site.keeper
	if busy, _ := w.hand.state(); busy {
		return cases.Errorf(cases.Refused, "A back-up is being made already. Update this page to see how it ended.")
	}
	if k == nil {
		return cases.Errorf(cases.Refused, "No folder of back-ups is set, so none can be made. Set backup.folder in the settings.")
	}
	if err := w.site.db.Update(ctx, a, func(tx cases.Writer) error {
		return tx.Note(cases.Event{Kind: "backup-asked", Text: "Asked for a back-up"})
	}); err != nil {
		return err
	}
	w.hand.begin(func(ctx context.Context) error {
		_, _, err := w.site.makeBackup(ctx, k, a.Name)
		return err
	}, w.log)
	return nil
}

// hand runs what people ask for beside the jobs, and stops with the program.
type hand struct {
	mu      sync.Mutex
	running sync.WaitGroup
	cancel  context.CancelFunc
	busy    bool
	failed  string // why the last one failed; "" when it went well
}

func (h *hand) begin(f func(context.Context) error, log *slog.Logger) {
	h.mu.Lock()
	defer h.mu.Unlock()
	ctx, cancel := context.WithCancel(context.Background())
	h.cancel, h.busy, h.failed = cancel, true, ""
	h.running.Go(func() {
		err := f(ctx)
		h.mu.Lock()
		defer h.mu.Unlock()
		if h.busy = false; err != nil {
			h.failed = err.Error()
			log.Error("back-up asked for by hand", "err", err)
		}
	})
}

func (h *hand) state() (busy bool, failed string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.busy, h.failed
}

func (h *hand) stop() {
	h.mu.Lock()
	if h.cancel != nil {
		h.cancel()
	}
	h.mu.Unlock()
	h.running.Wait()
}

// addSafeJobs adds the scrub, and back-ups where a folder is set.
func (s *site) addSafeJobs(add func(jobs.Job) error) error {
	if s.keeper != nil {
		if err := add(s.backUp()); err != nil {
			return err
		}
	}
	return add(s.scrub())
}
