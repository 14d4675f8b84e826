package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"syscall"
	"testing"
	"time"

	"dunlin/cases"
)

// Some tests need another process: the test binary starts itself with the name
// of a job and the path of a store in its environment.

const (
	childJob  = "DUNLIN_TEST_CHILD"
	childPath = "DUNLIN_TEST_PATH"
)

var childJobs = map[string]func(path string) error{
	"hold": childHolds, "write": childWrites, "fill": childFills, "open without rights": childOpens,
}

func childOf(job, path string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childJob+"="+job, childPath+"="+path)
	return cmd
}

func TestMain(m *testing.M) {
	if job := childJobs[os.Getenv(childJob)]; job != nil {
		if err := job(os.Getenv(childPath)); err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	code := m.Run()
	if bigDir != "" {
		os.RemoveAll(bigDir)
	}
	os.Exit(code)
}

// childHolds keeps the store open until its input ends.
func childHolds(path string) error {
	db, err := Open(path, testOptions())
	if err != nil {
		return err
	}
	fmt.Print("ready")
	io.Copy(io.Discard, os.Stdin)
	return db.Close()
}

// childOpens opens the store as a user without rights on it.
func childOpens(path string) error {
	if os.Geteuid() == 0 {
		if err := syscall.Setuid(65534); err != nil {
			return err
		}
	}
	_, err := Open(path, testOptions())
	if !errors.Is(err, ErrReadOnly) {
		return fmt.Errorf("not refused: %v", err)
	}
	fmt.Println("refused:", err)
	return nil
}

// childWrites saves cases until it is killed, and says how many are saved.
func childWrites(path string) error {
	db, err := Open(path, Options{})
	if err != nil {
		return err
	}
	n, err := countCases(db)
	if err != nil {
		return err
	}
	today := cases.DayOf(time.Now())
	for {
		c := cases.Case{Infant: cases.Infant{Family: "Wren" + strconv.Itoa(n), Born: today - 20}, Referral: cases.Referral{On: today - 10, Route: "screen"}}
		if err := saveCase(db, c); err != nil {
			return err
		}
		n++
		fmt.Println(n)
	}
}

func saveCase(db *DB, c cases.Case) error {
	return db.Update(ctx, clerk, func(w cases.Writer) error {
		_, err := w.PutCase(c, cases.Event{Kind: "opened"})
		return err
	})
}

func countCases(db *DB) (n int, err error) {
	err = db.View(ctx, func(r cases.Reader) error {
		for _, err := range r.All() {
			if err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n, err
}

// childFills writes against a limit of the file size, then lifts the limit and
// goes on.
func childFills(path string) error {
	signal.Ignore(syscall.SIGXFSZ)
	db, err := Open(path, testOptions())
	if err != nil {
		return err
	}
	defer db.Close()
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		return err
	}
	small := old
	small.Cur = 512 << 10
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &small); err != nil {
		return err
	}
	saved, full := 0, error(nil)
	for i := 0; i < 5000 && full == nil; i++ {
		if full = saveCase(db, newCase(20+i%50, "Ben", "Wren")); full == nil {
			saved++
		}
	}
	if !errors.Is(full, ErrFull) {
		return fmt.Errorf("full was not noticed: %v", full)
	}
	if n, err := countCases(db); n != saved || err != nil {
		return fmt.Errorf("%d cases, %d were saved: %v", n, saved, err)
	}
	if p, err := db.Check(ctx); len(p) > 0 || err != nil {
		return fmt.Errorf("check: %v %v", p, err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		return err
	}
	if err := saveCase(db, newCase(19, "Cy", "Wren")); err != nil {
		return fmt.Errorf("after space was freed: %w", err)
	}
	fmt.Printf("full was noticed after %d cases\n", saved)
	return nil
}
