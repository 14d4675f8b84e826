package safekeeping

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// spare is what must stay free besides what is written, in bytes.
const spare = 32 << 20

// freeSpace asks the system for the bytes that this user may still write.
func freeSpace(folder string) (uint64, bool) {
	var s syscall.Statfs_t
	if syscall.Statfs(folder, &s) != nil {
		return 0, false
	}
	return uint64(s.Bavail) * uint64(s.Bsize), true
}

// room refuses to begin what would not fit, so that a full disk never stops the
// program that saves cases: the snapshot beside the store, and its copy in the folder.
func (k *Keeper) room() error {
	if info, err := os.Stat(k.o.Folder); err != nil {
		return k.folderFault(err)
	} else if !info.IsDir() {
		return fmt.Errorf("%s is not a folder", k.o.Folder)
	}
	info, err := os.Stat(k.o.Source.Path())
	if err != nil {
		return err
	}
	need := uint64(info.Size())
	beside := filepath.Dir(k.o.Source.Path())
	total := need
	if sameDisk(beside, k.o.Folder) {
		total = 2 * need
	} else if err := k.roomIn(k.o.Folder, need); err != nil {
		return err
	}
	return k.roomIn(beside, total)
}

func (k *Keeper) roomIn(folder string, need uint64) error {
	free, known := k.o.Free(folder)
	if !known || free >= need+spare {
		return nil
	}
	return fmt.Errorf("there is not enough space in %s: a back-up needs %s and %s are free. None was begun; the store and earlier back-ups are as they were. Free some space, or keep fewer back-ups",
		folder, Megabytes(int64(need+spare)), Megabytes(int64(free)))
}

// Room refuses where the folder of a file has no space for a second one of its size.
func Room(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	free, known := freeSpace(filepath.Dir(path))
	if need := uint64(info.Size()) + spare; known && free < need {
		return fmt.Errorf("there is not enough space in %s: %s are needed and %s are free. Nothing was begun", filepath.Dir(path), Megabytes(int64(need)), Megabytes(int64(free)))
	}
	return nil
}

func sameDisk(a, b string) bool {
	var x, y syscall.Stat_t
	return syscall.Stat(a, &x) == nil && syscall.Stat(b, &y) == nil && x.Dev == y.Dev
}

// Megabytes says a size for people: "43.2 MB", of a million bytes.
func Megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }
