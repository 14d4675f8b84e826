package safekeeping

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"dunlin/cases/store"
)

// smallDisk mounts a disk of so many bytes in memory.
func smallDisk(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatalf("a small disk cannot be mounted, and is needed in CI: %v", err)
		}
		t.Skipf("a small disk cannot be mounted here (%v): what a full disk does is not tried", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// A real full disk, which nobody foresaw: said, nothing left, the earlier back-up whole.
func TestAFullDisk(t *testing.T) {
	f := newFixture(t, func(o *Options) { o.Free = func(string) (uint64, bool) { return 0, false } })
	f.add(400)
	f.opt.Folder = smallDisk(t, "6m")
	var err error
	if f.keeper, err = New(f.opt); err != nil {
		t.Fatal(err)
	}
	var last Manifest
	made := 0
	for made < 100 {
		m, _, merr := f.keeper.Make(ctx, "schedule")
		f.now = f.now.Add(60 * 1e9)
		if err = merr; err != nil {
			break
		}
		last = m
		made++
	}
	if err == nil || made == 0 || !strings.Contains(err.Error(), "there is no space left in "+f.opt.Folder) || !strings.Contains(err.Error(), "earlier back-ups are as they were") {
		t.Fatalf("after %d back-ups: %v", made, err)
	}
	parts, _ := filepath.Glob(filepath.Join(f.opt.Folder, "*.part"))
	if h, ok := Newest(f.opt.Folder); !ok || h.File != last.File || len(parts) > 0 {
		t.Errorf("newest %s, want %s; left %v", h.File, last.File, parts)
	}
	if problems, err := f.db.Check(ctx); err != nil || len(problems) > 0 {
		t.Errorf("the store: %v, %v", problems, err)
	}
	f.add(1) // the store's own disk is another one and goes on
	// Restoring onto the full disk.
	to := filepath.Join(f.opt.Folder, "again.db")
	_, err = Restore(ctx, Restoring{From: filepath.Join(f.opt.Folder, last.File), To: to, Keys: f.keys(f.key), Free: f.opt.Free,
		Examine: func(c context.Context, p string) (store.Summary, error) { return check(c, p) }})
	if left, _ := filepath.Glob(to + "*"); err == nil || !strings.Contains(err.Error(), "there is no space left for") || len(left) > 0 {
		t.Errorf("restore on the full disk: %v, left %v", err, left)
	}
}
