package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"dunlin/cases/store"
	"dunlin/reminders/jobs"
)

// headsJob is the name of the job that notes the ends of both chains outside the store.
const headsJob = "heads"

// noteHeads is the job that appends the ends of audit trail and access log to a file
// outside the store, on another machine at best: with it, a cut tail can be found.
func (s *site) noteHeads() jobs.Job {
	return jobs.Job{Name: headsJob, Spec: s.cfg.Daily, Run: func(ctx context.Context, _ time.Time) (string, error) {
		heads, err := s.db.Heads(ctx)
		if err != nil {
			return "", err
		}
		var b strings.Builder
		words := make([]string, len(heads))
		for i, h := range heads {
			fmt.Fprintln(&b, h)
			words[i] = fmt.Sprintf("%s %d", h.Chain, h.Seq)
		}
		return "noted " + strings.Join(words, ", "), appendSynced(s.cfg.HeadsFile, b.String())
	}}
}

// appendSynced adds text at the end of a file, which is made when missing, and waits
// until it is on the disk.
func appendSynced(path, text string) (err error) {
	f, err := os.OpenFile(filepath.Clean(path), os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteString(text); err != nil {
		return err
	}
	return f.Sync()
}

// readHeads reads the lines of a file of heads.
func readHeads(text string) (heads []store.Head, err error) {
	for i, line := range strings.Split(text, "\n") {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		h, err := store.ParseHead(line)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", i+1, err)
		}
		heads = append(heads, h)
	}
	if len(heads) == 0 {
		return nil, errors.New("it holds no head of a chain; name the file that heads_file names")
	}
	return heads, nil
}
