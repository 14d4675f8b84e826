package store

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// logged writes n lines by three people about some infants: single looks, long lists,
// a break-glass now and then, and every second one reviewed.
func logged(t testing.TB, db *DB, n int) {
	t.Helper()
	for i := range n {
		update(t, db, func(w cases.Writer) error { return w.LogAccess(madeLine(i)) })
	}
	waiting := unreviewed(t, db)
	for i := 0; i+1 < len(waiting); i += 2 {
		update(t, db, func(w cases.Writer) error {
			return w.LogAccess(cases.Access{By: "mia@x.example", Role: cases.Manager, Act: cases.ActReview, Of: waiting[i].Seq, Why: "asked for by the clinic"})
		})
	}
}

func madeLine(i int) cases.Access {
	people := []string{"ina@x.example", "jo@x.example", "kim@x.example"}
	a := cases.Access{By: people[i%3], Role: cases.Coordinator, Act: cases.ActView, Route: "GET /infants/:ref", Status: 200,
		Infants: []string{fmt.Sprintf("AB-2026-%04d", i%7)}, From: "192.0.2.7", Session: "5f3a9c01", Request: "D-7F3K-2290"}
	switch {
	case i%5 == 4:
		a.Act, a.Route, a.Infants = cases.ActList, "GET /overdue", nil
		for k := range 12 {
			a.Infants = append(a.Infants, fmt.Sprintf("AB-2026-%04d", (k+i%2)%13))
		}
	case i%11 == 10:
		a.Act, a.Why = cases.ActBreakGlass, "Called by the emergency department at night"
	}
	return a
}

func unreviewed(t testing.TB, db *DB) (out []cases.Access) {
	t.Helper()
	view(t, db, func(r cases.Reader) (err error) { out, err = r.AccessUnreviewed(); return err })
	return out
}

func openLogged(t testing.TB, n int) *DB {
	t.Helper()
	db := openTest(t)
	logged(t, db, n)
	return db
}

// everyLine reads the whole log by number.
func everyLine(t testing.TB, db *DB) (out []cases.Access) {
	t.Helper()
	err := db.bolt.View(func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte(accessBucket)).ForEach(func(_, v []byte) error {
			a, err := decodeAccess(v)
			out = append(out, a)
			return err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestAccessesAreFound compares what the indexes find with a walk over all lines, page
// by page.
func TestAccessesAreFound(t *testing.T) {
	db := openLogged(t, 120)
	all := everyLine(t, db)
	if n := len(all); n < 120 {
		t.Fatalf("%d lines", n)
	}
	queries := []cases.AccessQuery{{}, {Person: "jo@x.example"}, {Infant: "AB-2026-0003"}, {Infant: "AB-2026-0012"}, {Infant: "AB-2026-0009", Person: "kim@x.example"},
		{Act: cases.ActBreakGlass}, {Infant: "AB-2026-0001", Act: cases.ActView, From: noon.Add(20 * time.Second), To: noon.Add(70 * time.Second)},
		{From: noon.Add(time.Minute)}, {To: noon.Add(time.Minute)}, {Infant: "AB-2099-0001"}, {Person: "nobody"}}
	for _, q := range queries {
		var want []uint64
		view(t, db, func(r cases.Reader) error {
			for _, a := range slices.Backward(all) {
				refs, err := r.AccessInfants(a)
				if err != nil {
					return err
				}
				if q.Fits(&a) && (q.Infant == "" || slices.Contains(refs, q.Infant)) {
					want = append(want, a.Seq)
				}
			}
			return nil
		})
		for _, limit := range []int{0, 1, 7} {
			var got []uint64
			page := q
			page.Limit = limit
			view(t, db, func(r cases.Reader) error {
				for {
					lines, next, err := r.Accesses(page)
					if err != nil {
						return err
					}
					for _, a := range lines {
						got = append(got, a.Seq)
					}
					if page.Before = next; next == "" {
						return nil
					}
				}
			})
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("%+v by %d: %s", q, limit, d)
			}
		}
	}
}

func TestLongListsAreKeptOnce(t *testing.T) {
	db := openLogged(t, 60)
	err := db.bolt.View(func(tx *bbolt.Tx) error {
		if n := tx.Bucket([]byte(accessLists)).Stats().KeyN; n != 2 {
			t.Errorf("%d lists are kept, want 2", n)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestReviewsEndWaiting(t *testing.T) {
	db := openLogged(t, 60)
	waiting := unreviewed(t, db)
	if len(waiting) == 0 {
		t.Fatal("nothing waits")
	}
	review := func() error {
		return db.Update(ctx, clerk, func(w cases.Writer) error {
			return w.LogAccess(cases.Access{By: "mia@x.example", Role: cases.Manager, Act: cases.ActReview, Of: waiting[0].Seq, Why: "known"})
		})
	}
	if err := review(); err != nil {
		t.Fatal(err)
	}
	if got := unreviewed(t, db); len(got) != len(waiting)-1 {
		t.Errorf("%d wait after the review, %d before", len(got), len(waiting))
	}
	wantKind(t, review(), cases.Refused)
}

func TestLinesThatCannotBeKeptAreRefused(t *testing.T) {
	db := openTest(t)
	for _, a := range []cases.Access{{}, {By: "ina"}, {Act: cases.ActView}, {By: "i\x00na", Act: cases.ActView},
		{By: "ina", Act: cases.ActView, Infants: []string{""}}, {By: "ina", Act: cases.ActView, Infants: []string{"A\nB"}}} {
		if err := db.Update(ctx, clerk, func(w cases.Writer) error { return w.LogAccess(a) }); err == nil {
			t.Errorf("%+v was kept", a)
		}
	}
	if seq, _, err := db.AccessHead(); seq != 0 || err != nil {
		t.Errorf("the head is %d (%v)", seq, err)
	}
}

// BenchmarkVerifyAccessLog follows a log of a million lines, as check does.
func BenchmarkVerifyAccessLog(b *testing.B) {
	const lines = 1_000_000
	o := testOptions()
	o.Scratch = true
	db, err := Open(b.TempDir()+"/dunlin.db", o)
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	for n := 0; n < lines; n += 20_000 {
		if err := db.Update(ctx, clerk, func(w cases.Writer) error {
			for i := range 20_000 {
				if err := w.LogAccess(madeLine(n + i)); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		c := &checker{ctx: ctx, db: db, counts: map[string]int{}}
		if err := db.bolt.View(func(tx *bbolt.Tx) error { c.access(tx); return nil }); err != nil || len(c.problems) > 0 {
			b.Fatal(err, c.problems)
		}
		if c.counts[accessBucket] != lines {
			b.Fatalf("%d lines verified", c.counts[accessBucket])
		}
	}
}

// BenchmarkLogAccess is one look written and synced by itself.
func BenchmarkLogAccess(b *testing.B) {
	db := openTest(b)
	i := 0
	for b.Loop() {
		i++
		if err := db.Update(ctx, clerk, func(w cases.Writer) error { return w.LogAccess(madeLine(i)) }); err != nil {
			b.Fatal(err)
		}
	}
	db.Close()
}
