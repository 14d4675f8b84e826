package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"dunlin/server/safekeeping"
)

// BenchmarkBackupAndRestore measures with 20,000 cases what a back-up takes, from
// snapshot to manifest, which together with the time between two of them is how much can
// be lost; and what a restore takes, from the encrypted file to a store that was checked
// in full. The target of the project is an hour and two minutes.
func BenchmarkBackupAndRestore(b *testing.B) {
	dir := b.TempDir()
	cfg := defaultConfig()
	cfg.Store = filepath.Join(dir, "program.db")
	key, folder := filepath.Join(dir, "key.txt"), filepath.Join(dir, "back-ups")
	public, err := safekeeping.NewKey(key)
	if err != nil {
		b.Fatal(err)
	}
	keys := filepath.Join(dir, "keys.txt")
	if err := os.WriteFile(keys, []byte(public), 0o600); err != nil {
		b.Fatal(err)
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		b.Fatal(err)
	}
	cfg.Backup.Folder, cfg.Backup.Recipients = folder, keys
	if err := cfg.settle(); err != nil {
		b.Fatal(err)
	}
	manyCases(b, &cfg, 20_000)
	began := time.Now()
	s, err := openSite(&cfg, true, longWait, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("opened after a look at its pages in %.2f s", time.Since(began).Seconds())
	defer s.close()
	var made, back, scrubbed time.Duration
	for i := 0; b.Loop(); i++ {
		began := time.Now()
		m, _, err := s.keeper.Make(context.Background(), "benchmark")
		if err != nil {
			b.Fatal(err)
		}
		made += time.Since(began)
		in, err := os.Open(key)
		if err != nil {
			b.Fatal(err)
		}
		id, err := safekeeping.ReadIdentities(in, key)
		in.Close()
		if err != nil {
			b.Fatal(err)
		}
		to := filepath.Join(dir, m.SHA256[:8]+".db")
		began = time.Now()
		if _, err := safekeeping.Restore(context.Background(), safekeeping.Restoring{From: folder, To: to, Keys: id, Examine: cfg.examineForUse}); err != nil {
			b.Fatal(err)
		}
		back += time.Since(began)
		began = time.Now()
		if _, err := safekeeping.Scrub(context.Background(), s.db, cfg.examine, folder); err != nil {
			b.Fatal(err)
		}
		scrubbed += time.Since(began)
		if i == 0 {
			b.Logf("store %s, back-up %s", safekeeping.Megabytes(m.StoreBytes), safekeeping.Megabytes(m.Bytes))
		}
		os.Remove(to)
		time.Sleep(time.Second) // names of back-ups are by the second
	}
	n := float64(b.N)
	b.ReportMetric(made.Seconds()/n, "s/back-up")
	b.ReportMetric(back.Seconds()/n, "s/restore")
	b.ReportMetric(scrubbed.Seconds()/n, "s/scrub")
}
