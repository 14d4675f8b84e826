package store

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// TestCompactGivesSpaceBack rewrites one case many times over beside a reader, which
// makes the file grow, and compacts it: smaller, and the same in it.
func TestCompactGivesSpaceBack(t *testing.T) {
	path := closedStore(t, 200)
	o := testOptions()
	o.Scratch = true
	db, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	held, err := db.bolt.Begin(false)
	if err != nil {
		t.Fatal(err)
	}
	c := put(t, db, newCase(19, "Zoe", "Wren"), "opened")
	for i := range 300 {
		c.Owner = "owner " + strconv.Itoa(i)
		c = put(t, db, c, "owner-set")
	}
	if err := errors.Join(held.Rollback(), db.Close()); err != nil {
		t.Fatal(err)
	}
	before, after, err := Compact(ctx, path, testOptions())
	if err != nil || after.Bytes >= before.Bytes/2 || after.Counts["cases"] != 201 || before.Hash != after.Hash {
		t.Errorf("%v: %d bytes before, %d after, %d cases", err, before.Bytes, after.Bytes, after.Counts["cases"])
	}
	again := openAt(t, path, testOptions())
	if n := count(t, again, cases.Reader.All); n != 201 || !again.CleanStart() {
		t.Errorf("%d cases, clean %v", n, again.CleanStart())
	}
	if _, _, err := Compact(ctx, path, testOptions()); !errors.Is(err, ErrLocked) {
		t.Errorf("a store in use: %v", err)
	}
}

func TestCompactLeavesADamagedStoreAlone(t *testing.T) {
	path := closedStore(t, 20)
	db, err := Open(path, testOptions())
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.bolt.Update(func(tx *bbolt.Tx) error { return flip(tx, "cases") }), db.Close()); err != nil {
		t.Fatal(err)
	}
	was, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := Compact(ctx, path, testOptions()); !errors.Is(err, ErrDamaged) {
		t.Errorf("says %v", err)
	}
	now, _ := os.ReadFile(path)
	left, _ := filepath.Glob(path + ".*")
	if string(now) != string(was) || len(left) > 0 {
		t.Errorf("the file was changed, or %v was left", left)
	}
}

// TestExamineChangesNothing: also of another protocol, whose indexes are built anew when
// the store is opened for use.
func TestExamineChangesNothing(t *testing.T) {
	path := closedStore(t, 20)
	was, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	o := testOptions()
	p := *cases.DefaultProtocol()
	p.SmallNumberBelow++
	o.Protocol = &p
	for name, opt := range map[string]Options{"its own": testOptions(), "another": o} {
		s, err := Examine(ctx, path, opt)
		if err != nil || s.Counts["cases"] != 20 || s.Seq != 20 {
			t.Errorf("%s protocol: %v, %+v", name, err, s)
		}
		if err := Look(ctx, path, opt); err != nil {
			t.Errorf("%s protocol: %v", name, err)
		}
	}
	if now, _ := os.ReadFile(path); string(now) != string(was) {
		t.Error("the file was changed")
	}
}

// TestRestoredEndsSessions: nobody stays signed in over a restore.
func TestRestoredEndsSessions(t *testing.T) {
	db := openTest(t)
	s := db.Sessions(db.opt.Now)
	if err := s.CommitCtx(ctx, "token", []byte("data"), db.now().AddDate(0, 0, 1)); err != nil {
		t.Fatal(err)
	}
	if err := db.Restored(ctx, clerk, "Restored from a back-up."); err != nil {
		t.Fatal(err)
	}
	if _, found, err := s.FindCtx(ctx, "token"); found || err != nil {
		t.Errorf("the session is still there: %v", err)
	}
}
