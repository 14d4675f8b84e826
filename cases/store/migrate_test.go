package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

var writeFixture = flag.Bool("write-fixture", false, "write testdata/schema<n>.db and .json of the present schema; only just before a step is added")

const fixture = "testdata/schema1.db"

// TestWriteFixture makes the small store that later schema steps are tested on.
func TestWriteFixture(t *testing.T) {
	if !*writeFixture {
		t.Skip("only with -write-fixture")
	}
	name := fmt.Sprintf("testdata/schema%d", latestSchema(steps))
	path := filepath.Join(t.TempDir(), "dunlin.db")
	db := openAt(t, path, testOptions())
	fill(t, db)
	update(t, db, func(w cases.Writer) error {
		return errors.Join(
			w.PutSetting("program", json.RawMessage(`{"name":"Alder Bay"}`)),
			w.PutAccount(cases.Account{ID: "ina", Name: "Ina Reed", Role: cases.Coordinator, Hash: "x"}),
			w.PutDayList(cases.DayList{On: w.Today(), Made: w.Now(), Rows: json.RawMessage(`[]`)}),
			w.PutMailEntry(cases.MailEntry{Box: "referrals@alderbay.example/INBOX", Validity: 7, UID: 3, Outcome: "taken in"}),
		)
	})
	if err := os.WriteFile(name+".json", dump(t, db), 0o644); err != nil {
		t.Fatal(err)
	}
	os.Remove(name + ".db")
	small, err := bbolt.Open(name+".db", 0o600, &bbolt.Options{PageSize: 4096})
	if err != nil {
		t.Fatal(err)
	}
	defer small.Close()
	if err := bbolt.Compact(small, db.bolt, 0); err != nil {
		t.Fatal(err)
	}
}

// dump gives the records that a schema step must carry over, as JSON.
func dump(t *testing.T, db *DB) []byte {
	t.Helper()
	var all struct {
		Cases    []cases.Case
		Letters  []cases.Letter
		Received []cases.Received
		Items    []cases.Item
		Accounts []cases.Account
		Days     []cases.Day
		Setting  json.RawMessage
		Entries  []cases.Entry
		Mail     []cases.MailEntry `json:",omitempty"` // since schema 2
	}
	view(t, db, func(r cases.Reader) (err error) {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			all.Cases = append(all.Cases, c)
		}
		for l, err := range r.Letters("") {
			if err != nil {
				return err
			}
			all.Letters = append(all.Letters, l)
		}
		for e, err := range r.EntriesSince(noon) {
			if err != nil {
				return err
			}
			all.Entries = append(all.Entries, e)
		}
		for m, err := range r.MailEntries("referrals@alderbay.example/INBOX", 7) {
			if err != nil {
				return err
			}
			all.Mail = append(all.Mail, m)
		}
		var errs [5]error
		all.Received, errs[0] = r.ReceivedLast(10)
		all.Items, errs[1] = r.Items("", 10)
		all.Accounts, errs[2] = r.Accounts()
		all.Days, errs[3] = r.DayLists(10)
		all.Setting, _, errs[4] = r.Setting("program")
		return errors.Join(errs[:]...)
	})
	b, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return append(b, '\n')
}

func copyFixture(t *testing.T) string { return copyOf(t, fixture) }

func copyOf(t *testing.T, fixture string) string {
	t.Helper()
	b, err := os.ReadFile(fixture)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "dunlin.db")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestOlderSchemasOpenAsWritten opens a file of each schema that a release before wrote.
func TestOlderSchemasOpenAsWritten(t *testing.T) {
	for n := firstSchema; n < latestSchema(steps); n++ {
		name := fmt.Sprintf("testdata/schema%d", n)
		want, err := os.ReadFile(name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		path := copyOf(t, name+".db")
		db := openAt(t, path, testOptions())
		if got := dump(t, db); !bytes.Equal(got, want) {
			t.Errorf("the records differ from %s.json:\n%s", name, got)
		}
		if _, err := os.Stat(fmt.Sprintf("%s.before-%d", path, latestSchema(steps))); err != nil {
			t.Errorf("schema %d: no copy was kept before the step: %v", n, err)
		}
		view(t, db, func(r cases.Reader) error {
			for _, err := range r.Outgoings("") {
				t.Errorf("schema %d has a message on its way (%v)", n, err)
			}
			return nil
		})
	}
}

func TestStepsRunOnceInOneTransaction(t *testing.T) {
	path := copyFixture(t)
	runs := 0
	last := latestSchema(steps) + 1
	list := []step{
		{number: 2, name: "nickname", run: func(tx *bbolt.Tx) error {
			runs++
			_, err := tx.CreateBucket([]byte("nicknames"))
			return err
		}},
		{number: last, name: "filled", run: func(tx *bbolt.Tx) error {
			runs++
			return tx.Bucket([]byte("nicknames")).Put([]byte("a"), []byte("b"))
		}},
	}
	broken := append(list[:1:1], step{number: last, name: "broken", run: func(*bbolt.Tx) error { return errors.New("no") }})
	if _, err := openWith(path, testOptions(), broken); err == nil {
		t.Fatal("a failing step was not noticed")
	}
	for range 2 {
		db, err := openWith(path, testOptions(), list)
		if err != nil {
			t.Fatal(err)
		}
		checkSound(t, db)
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if runs != 3 { // once in vain, then both
		t.Errorf("%d runs", runs)
	}
	// The copy made before the steps is the old schema, and opens with no steps.
	old := openAt(t, fmt.Sprintf("%s.before-%d", path, last), testOptions())
	want, _ := os.ReadFile("testdata/schema1.json")
	if got := dump(t, old); !bytes.Equal(got, want) {
		t.Error("the copy made before the steps differs")
	}
	_, err := Open(path, testOptions())
	wantFault(t, err, ErrNewer)
}

func TestOlderSchemaIsNotOpenedForReadingOnly(t *testing.T) {
	o := testOptions()
	o.ReadOnly = true
	_, err := openWith(copyFixture(t), o, []step{{number: 2, run: func(*bbolt.Tx) error { return nil }}})
	wantFault(t, err, ErrOlder)
}

func TestIndexesAreBuiltAnewWhenTheirPrintDiffers(t *testing.T) {
	path := closedStore(t, 5)
	rawly(t, path, func(tx *bbolt.Tx) error {
		if err := tx.DeleteBucket([]byte("cases.given")); err != nil {
			return err
		}
		return metaPut(tx, metaIndexes, "an older release")
	})
	openAt(t, path, testOptions()) // its clean-up compares every index
}

func TestDueIndexFollowsTheProtocol(t *testing.T) {
	path := closedStore(t, 30)
	o := testOptions()
	o.Protocol = cases.DefaultProtocol()
	o.Protocol.ReachFamilyWorkingDays, o.Protocol.TellPrimaryCareWorkingDays = 60, 60
	before := dueKeys(t, path, testOptions())
	after := dueKeys(t, path, o)
	if bytes.Equal(before, after) {
		t.Error("the due index did not change with the protocol")
	}
	db := openAt(t, path, testOptions())
	if err := db.SetProtocol(ctx, o.Protocol); err != nil {
		t.Fatal(err)
	}
	checkSound(t, db)
	db.Close()
	if again := dueKeys(t, path, o); !bytes.Equal(after, again) {
		t.Error("SetProtocol and Open build different indexes")
	}
}

func dueKeys(t *testing.T, path string, o Options) (all []byte) {
	t.Helper()
	db, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	checkSound(t, db)
	db.bolt.View(func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("cases.due")).ForEach(func(k, _ []byte) error { all = append(all, k...); return nil })
	})
	return all
}
