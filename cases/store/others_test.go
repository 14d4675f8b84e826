package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dunlin/cases"
)

func TestLetterIsMadeOnce(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	d := put(t, db, newCase(20, "Ben", "Wren"), "opened")
	letter := func(of cases.ID, kind, occasion string) (cases.Letter, error) {
		var l cases.Letter
		err := db.Update(ctx, clerk, func(w cases.Writer) (err error) {
			l, err = w.PutLetter(cases.Letter{Case: of, Kind: kind, Occasion: occasion, State: "to-print", MadeOn: w.Today(), Data: json.RawMessage(`{"a":1}`)})
			return err
		})
		return l, err
	}
	first, err := letter(c.ID, "first-notice", "2026-03-04")
	if err != nil || len(first.Number) != 8 || strings.Contains(first.Number, "2026") {
		t.Fatalf("%+v %v", first, err)
	}
	_, err = letter(c.ID, "first-notice", "2026-03-04")
	wantKind(t, err, cases.Conflict)
	for _, x := range []struct {
		of             cases.ID
		kind, occasion string
	}{{c.ID, "first-notice", "2026-03-05"}, {c.ID, "booking", "2026-03-04"}, {d.ID, "first-notice", "2026-03-04"}} {
		if _, err := letter(x.of, x.kind, x.occasion); err != nil {
			t.Errorf("%v: %v", x, err)
		}
	}
	_, err = letter("01ARZ3NDEKTSV4RRFFQ69G5FAV", "first-notice", "2026-03-04")
	wantKind(t, err, cases.NotFound)

	first.State = "printed"
	update(t, db, func(w cases.Writer) error { _, err := w.PutLetter(first); return err })
	other := first
	other.Occasion = "2026-04-01"
	err = db.Update(ctx, clerk, func(w cases.Writer) error { _, err := w.PutLetter(other); return err })
	wantKind(t, err, cases.Refused)
	view(t, db, func(r cases.Reader) error {
		for state, want := range map[string]int{"": 4, "to-print": 3, "printed": 1, "mailed": 0} {
			n := 0
			for _, err := range r.Letters(state) {
				if err != nil {
					return err
				}
				n++
			}
			if n != want {
				t.Errorf("%q: %d letters, want %d", state, n, want)
			}
		}
		if of, err := r.LettersOf(c.ID); err != nil || len(of) != 3 {
			t.Errorf("letters of a case: %d %v", len(of), err)
		}
		got, err := r.Letter(first.ID)
		if d := cmp.Diff(first, got); d != "" {
			t.Error(d)
		}
		_, miss := r.Letter("nothing")
		wantKind(t, miss, cases.NotFound)
		return err
	})
}

func TestReceivedIsKeptForEver(t *testing.T) {
	db := openTest(t)
	raw := []byte("MSH|^~\\&|\x00\xff odd bytes")
	doc := cases.Received{Hash: hashOf(raw), Source: "import", Name: "a.hl7", At: noon, Actor: clerk, Raw: raw}
	update(t, db, func(w cases.Writer) error { return w.PutReceived(doc) })
	doc.Raw, doc.Counts = nil, map[string]int{"opened": 1}
	update(t, db, func(w cases.Writer) error { return w.PutReceived(doc) })
	later := cases.Received{Source: "upload", Name: "b.csv", At: noon.Add(time.Hour), Raw: []byte("b")}
	update(t, db, func(w cases.Writer) error { return w.PutReceived(later) })
	view(t, db, func(r cases.Reader) error {
		got, err := r.Received(doc.Hash)
		doc.Raw = raw
		if d := cmp.Diff(doc, got); d != "" {
			t.Error(d)
		}
		last, err2 := r.ReceivedLast(1)
		if err2 != nil || len(last) != 1 || last[0].Name != "b.csv" || last[0].Raw != nil {
			t.Errorf("last: %+v %v", last, err2)
		}
		_, miss := r.Received(strings.Repeat("0", 64))
		wantKind(t, miss, cases.NotFound)
		return err
	})
	for _, bad := range []cases.Received{{Hash: strings.Repeat("0", 64), Raw: raw}, {Hash: strings.Repeat("0", 64)}} {
		wantKind(t, db.Update(ctx, clerk, func(w cases.Writer) error { return w.PutReceived(bad) }), cases.Invalid)
	}
}

func TestItems(t *testing.T) {
	db := openTest(t)
	day := cases.MakeDay(2026, 3, 20)
	var list []cases.Item
	update(t, db, func(w cases.Writer) error {
		for i, x := range []cases.Item{
			{Outcome: "opened", Key: "k1", Case: "01ARZ3NDEKTSV4RRFFQ69G5FAV"},
			{Outcome: "review", Title: "late", Due: day + 7},
			{Outcome: "review", Title: "soon", Due: day + 1},
			{Outcome: "review", Title: "top", Due: day + 7, Top: true},
			{Outcome: "review", Title: "undated"},
			{Outcome: "duplicate", Key: "k1"},
			{Outcome: "refused", At: noon.AddDate(0, 0, -3)},
		} {
			x.Position = fmt.Sprint(i)
			got, err := w.PutItem(x)
			if err != nil {
				return err
			}
			list = append(list, got)
		}
		return nil
	})
	titles := func() (out []string) {
		view(t, db, func(r cases.Reader) error {
			w, err := r.ItemsWaiting()
			for _, i := range w {
				out = append(out, i.Title)
			}
			return err
		})
		return out
	}
	if d := cmp.Diff([]string{"top", "soon", "late", "undated"}, titles()); d != "" {
		t.Error(d)
	}
	soon := list[2]
	soon.Decided = &cases.Decision{As: "set aside", By: "ina", At: noon, Reason: "twice"}
	update(t, db, func(w cases.Writer) error { _, err := w.PutItem(soon); return err })
	if d := cmp.Diff([]string{"top", "late", "undated"}, titles()); d != "" {
		t.Error(d)
	}
	view(t, db, func(r cases.Reader) error {
		if got, ok, err := r.ItemByKey("k1"); !ok || err != nil || got.ID != list[0].ID {
			t.Errorf("by key: %v %v %v", got.ID, ok, err)
		}
		if _, ok, err := r.ItemByKey("none"); ok || err != nil {
			t.Error(ok, err)
		}
		all, err := r.ItemCounts(day - 30)
		if err != nil {
			return err
		}
		since, err := r.ItemCounts(day)
		if err != nil {
			return err
		}
		if d := cmp.Diff(map[string]int{"opened": 1, "review": 4, "duplicate": 1, "refused": 1}, all); d != "" {
			t.Error(d)
		}
		if d := cmp.Diff(map[string]int{"opened": 1, "review": 4, "duplicate": 1}, since); d != "" {
			t.Error(d)
		}
		newest, err := r.Items("", 2)
		if err != nil || len(newest) != 2 || newest[0].ID != list[6].ID {
			t.Errorf("newest: %v %v", newest, err)
		}
		reviews, err := r.Items("review", 3)
		if err != nil || len(reviews) != 3 || reviews[0].ID != list[4].ID {
			t.Errorf("reviews: %v %v", reviews, err)
		}
		n := 0
		for e, err := range r.EntriesSince(noon) {
			if err != nil {
				return err
			}
			if e.Event.Kind == "item-decided" && e.Event.Reason == "twice" {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%d decisions in the trail", n)
		}
		return nil
	})
}

func TestLedger(t *testing.T) {
	db := openTest(t)
	slot := noon.Truncate(time.Hour)
	begin := func(want bool) {
		t.Helper()
		got, err := db.Begin(ctx, "daily", slot, time.Hour)
		if err != nil || got != want {
			t.Fatalf("begin: %v %v", got, err)
		}
	}
	begin(true)
	begin(false)
	if err := db.End(ctx, "daily", slot, "ok 12 letters"); err != nil {
		t.Fatal(err)
	}
	begin(false)
	if err := db.End(ctx, "daily", slot, "failed: no printer"); err != nil {
		t.Fatal(err)
	}
	begin(true) // what failed is tried again
	if err := db.End(ctx, "daily", slot, "ok 12 letters"); err != nil {
		t.Fatal(err)
	}
	if _, ok, err := db.Last(ctx, "other"); ok || err != nil {
		t.Error(ok, err)
	}
	slot = slot.Add(24 * time.Hour)
	begin(true)
	run, ok, err := db.Last(ctx, "daily")
	if !ok || err != nil || !run.Slot.Equal(slot) || !run.Ended.IsZero() {
		t.Errorf("last: %+v %v", run, err)
	}
	// A run that began before the store was opened cannot be running.
	path := db.Path()
	db.Close()
	o := testOptions()
	o.Now = (&clock{at: noon.Add(30 * time.Minute)}).now
	db = openAt(t, path, o)
	begin(true)
	begin(false)
	runs, err := db.Runs(ctx, "daily", 5)
	if err != nil || len(runs) != 2 || runs[1].Outcome != "ok 12 letters" {
		t.Errorf("runs: %+v %v", runs, err)
	}
	if err := db.End(ctx, "daily", slot.Add(time.Hour), "ok"); err == nil {
		t.Error("an end without a begin was taken")
	}
}

func TestAccountsSettingsAndDayLists(t *testing.T) {
	db := openTest(t)
	ina := cases.Account{ID: "ina", Name: "Ina Reed", Role: cases.Coordinator, Hash: "secret-1"}
	update(t, db, func(w cases.Writer) error { return w.PutAccount(ina) })
	ina.Failed, ina.FailedAt = 3, 5
	update(t, db, func(w cases.Writer) error { return w.PutAccount(ina) })
	ina.Hash = "secret-2"
	update(t, db, func(w cases.Writer) error {
		return errors.Join(w.PutAccount(ina), w.PutSetting("protocol", json.RawMessage(`{"a":1}`)), w.PutSetting("protocol", json.RawMessage(`{"a":2}`)),
			w.Note(cases.Event{Kind: "sign-in"}), w.PutDayList(cases.DayList{On: w.Today(), Made: w.Now(), N: 1, Rows: json.RawMessage(`[1]`)}),
			w.PutDayList(cases.DayList{On: w.Today() - 1, Made: w.Now(), Rows: json.RawMessage(`[]`)}))
	})
	view(t, db, func(r cases.Reader) error {
		var kinds []string
		for e, err := range r.EntriesSince(noon) {
			if err != nil {
				return err
			}
			kinds = append(kinds, e.Event.Kind)
			if b, _ := json.Marshal(e); strings.Contains(string(b), "secret") {
				t.Errorf("the trail holds a password hash: %s", b)
			}
		}
		want := []string{"account-made", "account-changed", "setting-changed", "setting-changed", "sign-in"}
		if d := cmp.Diff(want, kinds); d != "" {
			t.Error(d)
		}
		if got, err := r.Account("ina"); err != nil || !cmp.Equal(got, ina) {
			t.Errorf("%+v %v", got, err)
		}
		_, miss := r.Account("nobody")
		wantKind(t, miss, cases.NotFound)
		if v, ok, err := r.Setting("protocol"); !ok || err != nil || string(v) != `{"a":2}` {
			t.Errorf("%s %v %v", v, ok, err)
		}
		if _, ok, err := r.Setting("none"); ok || err != nil {
			t.Error(ok, err)
		}
		days, err := r.DayLists(5)
		if err != nil || len(days) != 2 || days[0] != r.Today() {
			t.Errorf("%v %v", days, err)
		}
		if l, err := r.DayList(r.Today()); err != nil || l.N != 1 || string(l.Rows) != "[1]" {
			t.Errorf("%+v %v", l, err)
		}
		_, miss = r.DayList(r.Today() - 9)
		wantKind(t, miss, cases.NotFound)
		return nil
	})
	wantKind(t, db.Update(ctx, clerk, func(w cases.Writer) error { return w.PutSetting("x", json.RawMessage(`{`)) }), cases.Invalid)
}

func TestOnceAndSessionsExpire(t *testing.T) {
	c := &clock{at: noon}
	o := testOptions()
	o.Scratch, o.Now = true, c.now
	db := openAt(t, t.TempDir()+"/dunlin.db", o)
	update(t, db, func(w cases.Writer) error { return w.PutOnce("form-1", "/cases/1", w.Now().Add(24*time.Hour)) })
	once := func(token string) (where string, ok bool) {
		view(t, db, func(r cases.Reader) error { where, ok = r.Once(token); return nil })
		return where, ok
	}
	if w, ok := once("form-1"); !ok || w != "/cases/1" {
		t.Error(w, ok)
	}
	if _, ok := once("form-2"); ok {
		t.Error("an unknown token was known")
	}
	s := db.Sessions(db.now)
	if err := s.Commit("token", []byte{0, 1, 255}, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if b, ok, err := s.Find("token"); !ok || err != nil || string(b) != "\x00\x01\xff" {
		t.Errorf("%v %v %v", b, ok, err)
	}
	if err := s.Commit("token", []byte{2}, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if b, _, _ := s.Find("token"); string(b) != "\x02" {
		t.Errorf("%v", b)
	}
	c.at = noon.Add(25 * time.Hour)
	if _, ok, _ := s.Find("token"); ok {
		t.Error("an expired session was found")
	}
	if _, ok := once("form-1"); ok {
		t.Error("an expired token was found")
	}
	if err := s.Commit("other", []byte{1}, c.at.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if err := s.Delete("other"); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := s.Find("other"); ok {
		t.Error("a deleted session was found")
	}
	view(t, db, func(r cases.Reader) error {
		if n := len(db.sessions.all(r.(*reader).tx)); n != 0 {
			t.Errorf("%d sessions stayed", n)
		}
		return nil
	})
}

// TestLedgerForgetsOldRuns keeps two months, drops a few at a time, and keeps all while
// no run goes well.
func TestLedgerForgetsOldRuns(t *testing.T) {
	db := openTest(t)
	first := time.Date(2026, 1, 1, 6, 0, 0, 0, time.UTC)
	run := func(day int, outcome string) {
		t.Helper()
		slot := first.AddDate(0, 0, day)
		if took, err := db.Begin(ctx, "mailbox", slot, time.Hour); err != nil || !took {
			t.Fatalf("day %d: %v %v", day, took, err)
		}
		if err := db.End(ctx, "mailbox", slot, outcome); err != nil {
			t.Fatal(err)
		}
	}
	count := func() int {
		t.Helper()
		runs, err := db.Runs(ctx, "mailbox", -1)
		if err != nil {
			t.Fatal(err)
		}
		return len(runs)
	}
	for day := range 90 {
		run(day, "failed: no answer")
	}
	if n := count(); n != 90 {
		t.Errorf("%d runs of an outage are left, want all 90", n)
	}
	run(90, "ok")
	if n := count(); n != 91-20 {
		t.Errorf("%d runs after one good one, want 71", n)
	}
	run(91, "ok: 3 taken in")
	if n := count(); n != 61 { // 60 days back from day 91, and that day
		t.Errorf("%d runs after the second, want 61", n)
	}
}
