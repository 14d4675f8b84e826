package store

import (
	"context"
	"testing"
	"time"

	"dunlin/cases"
)

// TestMailEntries keeps mailboxes and validities apart, and replaces an entry that
// is written again.
func TestMailEntries(t *testing.T) {
	db := openAt(t, t.TempDir()+"/dunlin.db", testOptions())
	put := func(m cases.MailEntry) {
		t.Helper()
		if err := db.Update(context.Background(), cases.Actor{ID: "system", Role: cases.System}, func(w cases.Writer) error { return w.PutMailEntry(m) }); err != nil {
			t.Fatal(err)
		}
	}
	put(cases.MailEntry{Box: "a/INBOX", Validity: 7, UID: 4294967295, Outcome: "taken in"})
	put(cases.MailEntry{Box: "a/INBOX", Validity: 7, UID: 9, Outcome: "too large"})
	put(cases.MailEntry{Box: "a/INBOX", Validity: 7, UID: 9, Outcome: "taken in", Seen: true})
	put(cases.MailEntry{Box: "a/INBOX", Validity: 8, UID: 1, Outcome: "taken in"})
	put(cases.MailEntry{Box: "a/INBOX2", Validity: 7, UID: 2, Outcome: "taken in"})
	var got []uint32
	err := db.View(context.Background(), func(r cases.Reader) error {
		for m, err := range r.MailEntries("a/INBOX", 7) {
			if err != nil {
				return err
			}
			if got = append(got, m.UID); m.UID == 9 && (!m.Seen || m.Outcome != "taken in") {
				t.Errorf("entry 9 is %+v", m)
			}
		}
		return nil
	})
	if err != nil || len(got) != 2 || got[0] != 9 || got[1] != 4294967295 {
		t.Errorf("entries %v, %v", got, err)
	}
}

// TestItemsOfAndSince finds items by document and by day.
func TestItemsOfAndSince(t *testing.T) {
	o := testOptions()
	clock := time.Date(2026, 3, 19, 22, 30, 0, 0, time.UTC)
	o.Now = func() time.Time { clock = clock.Add(20 * time.Minute); return clock }
	o.Zone = time.UTC
	db := openAt(t, t.TempDir()+"/dunlin.db", o)
	for _, doc := range []string{"one", "two", "one", "one"} {
		err := db.Update(context.Background(), cases.Actor{ID: "system", Role: cases.System}, func(w cases.Writer) error {
			_, err := w.PutItem(cases.Item{Document: doc, Outcome: "review", Case: cases.ID("case-" + doc), Title: w.Now().Format("15:04")})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	err := db.View(context.Background(), func(r cases.Reader) error {
		list, err := r.ItemsOf("one")
		if err != nil || len(list) != 3 || list[0].At.After(list[2].At) {
			t.Errorf("items of one: %v, %v", list, err)
		}
		if list, err := r.ItemsOfCase("case-two"); err != nil || len(list) != 1 || list[0].Document != "two" {
			t.Errorf("items of a case: %v, %v", list, err)
		}
		if list, err := r.ItemsOfCase("case-"); err != nil || len(list) != 0 {
			t.Errorf("items of no case: %v, %v", list, err)
		}
		all, late := 0, 0
		for i, err := range r.ItemsSince(0) {
			if err != nil {
				return err
			}
			if all++; i.At.Day() == 20 {
				late++
			}
		}
		day, err := cases.ParseDay("2026-03-20")
		if err != nil {
			return err
		}
		got := 0
		for i, err := range r.ItemsSince(day) {
			if err != nil || i.At.Day() != 20 {
				t.Errorf("item of %s, %v", i.At, err)
			}
			got++
		}
		if all != 4 || late == 0 || late == 4 || got != late {
			t.Errorf("%d items, %d of the later day, %d found", all, late, got)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
