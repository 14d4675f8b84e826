package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
)

// crowd is a store with an infant to be erased and all that may be kept of it, beside others.
type crowd struct {
	db             *DB
	gone, sib, ben cases.Case
	own, shared    string // documents
	words          []string
}

func newCrowd(t *testing.T) *crowd {
	x := &crowd{db: openTest(t)}
	x.gone = newCase(400, "Zephyrine", "Quillfeather")
	x.gone.Family = &cases.Family{Mother: "Ottoline Quillfeather"}
	x.gone = put(t, x.db, x.gone, "opened")
	x.gone.Owner = "ina"
	x.gone = put(t, x.db, x.gone, "owner-set")
	x.sib = newCase(401, "Cy", "Wren")
	x.sib.Siblings = []string{x.gone.Reference, "AB-2026-00019"}
	x.sib.Flags = []cases.Flag{{Kind: "no-mail", Note: x.gone.Reference + ": the sibling died. See AB-2026-00019"}}
	x.sib = put(t, x.db, x.sib, "opened")
	x.ben = put(t, x.db, newCase(19, "Ben", "Adder"), "opened")
	x.words = []string{"Zephyrine", "zephyrine", "Quillfeather", "quillfeather", x.gone.Reference, string(x.gone.ID), x.gone.Referral.Screen.Accession, "OWN BYTES"}
	update(t, x.db, func(w cases.Writer) error {
		l, err := w.PutLetter(cases.Letter{Case: x.gone.ID, Kind: "first-notice", Occasion: "2026-03-05", State: "to-print", Data: json.RawMessage(`{"to":"Ottoline Quillfeather"}`)})
		if err != nil {
			return err
		}
		x.words = append(x.words, l.Number, l.ID)
		if _, err := w.PutOutgoing(message(x.gone.ID, "booking", "2026-03-05", "email")); err != nil {
			return err
		}
		for _, d := range []cases.Received{
			{Source: "mailbox", Name: "mail", At: w.Now(), Raw: []byte("a mail with OWN BYTES inside")},
			{Source: "mailbox", Name: "Quillfeather.hl7", At: w.Now(), Raw: []byte("OWN BYTES"), Within: hashOf([]byte("a mail with OWN BYTES inside"))},
			{Source: "import", Name: "many.csv", At: w.Now(), Raw: []byte("two infants")},
		} {
			if err := w.PutReceived(d); err != nil {
				return err
			}
		}
		x.own, x.shared = hashOf([]byte("OWN BYTES")), hashOf([]byte("two infants"))
		for _, i := range []cases.Item{
			{Document: x.own, Outcome: "opened", Case: x.gone.ID, Title: "Zephyrine Quillfeather"},
			{Document: x.own, Outcome: "refused", Title: "no result of Quillfeather"},
			{Document: x.shared, Outcome: "attached", Case: x.gone.ID},
			{Document: x.shared, Outcome: "opened", Case: x.ben.ID},
			{Document: "x", Outcome: "review", Title: "possible twin", Related: []string{x.gone.Reference, x.ben.Reference}},
		} {
			if _, err := w.PutItem(i); err != nil {
				return err
			}
		}
		if err := w.Note(cases.Event{Kind: "exported", Text: "Case " + x.gone.Reference + " as FHIR"}); err != nil {
			return err
		}
		if err := w.PutOnce("token", "/infants/"+x.gone.Reference, w.Now().AddDate(0, 0, 1)); err != nil {
			return err
		}
		rows := fmt.Sprintf(`[{"case":%q,"family":"Quillfeather"},{"case":%q,"family":"Adder"}]`, x.gone.ID, x.ben.ID)
		return w.PutDayList(cases.DayList{On: w.Today(), Rows: json.RawMessage(rows), N: 2})
	})
	x.sib.Owner = "ina"
	x.sib = put(t, x.db, x.sib, "owner-set")
	return x
}

var erasedEvent = cases.Event{Kind: "erased", Text: "Records erased", Reason: "kept long enough"}

func (x *crowd) erase(t *testing.T) (e cases.Erasure) {
	t.Helper()
	update(t, x.db, func(w cases.Writer) (err error) {
		e, err = w.Erase(x.gone.ID, cases.Erasure{Rule: "closed 10 years", ProposedBy: "Ina Reed", ConfirmedBy: "Max Orr"}, erasedEvent)
		return err
	})
	return e
}

// found lists what of some words any key or value of the store still holds.
func (x *crowd) found(t *testing.T) (out []string) {
	t.Helper()
	if err := x.db.bolt.View(func(tx *bbolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bbolt.Bucket) error {
			return b.ForEach(func(k, v []byte) error {
				for _, word := range x.words {
					if v := bytes.ReplaceAll(v, []byte("AB-2026-00019"), nil); bytes.Contains(k, []byte(word)) || bytes.Contains(v, []byte(word)) {
						out = append(out, fmt.Sprintf("%s in %s %q: %s", word, name, k, v))
					}
				}
				return nil
			})
		})
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

//asvs:14.2.7
func TestEraseLeavesNothingButThatItHappened(t *testing.T) {
	x := newCrowd(t)
	if len(x.found(t)) < 20 {
		t.Fatal("the test looks for words that are not there")
	}
	before, hash, _ := x.db.AuditHead()
	e := x.erase(t)
	var left []string
	for _, f := range x.found(t) {
		// The sibling's own entries may name the reference, under which nothing is found any more.
		if !strings.HasPrefix(f, x.gone.Reference+" in audit ") || !strings.Contains(f, string(x.sib.ID)) {
			left = append(left, f)
		}
	}
	if len(left) > 0 {
		t.Errorf("still kept:\n%s", strings.Join(left, "\n"))
	}
	want := cases.Erasure{Rule: e.Rule, ProposedBy: e.ProposedBy, ConfirmedBy: e.ConfirmedBy, Cases: 1, Letters: 1, Messages: 1, Items: 3, Documents: 2, Shared: 1, ListLines: 1, Entries: e.Entries, Sum: e.Sum}
	if fmt.Sprint(e) != fmt.Sprint(want) {
		t.Errorf("%+v, want %+v", e, want)
	}
	if ok, err := x.db.HasEntry(before, hash); !ok || err != nil {
		t.Error("a head noted before the erasure does not fit any more", err)
	}
	checkSound(t, x.db)
	view(t, x.db, func(r cases.Reader) error {
		_, err := r.Case(x.gone.ID)
		wantKind(t, err, cases.NotFound)
		_, err = r.ByReference(x.gone.Reference)
		wantKind(t, err, cases.NotFound)
		if list, err := r.Find(cases.Query{Text: "Quillfeather", IncludeClosed: true}); err != nil || len(list) != 0 {
			t.Errorf("found %v %v", list, err)
		}
		if h, err := r.History(x.gone.ID); err != nil || len(h) != 0 {
			t.Errorf("history %v %v", h, err)
		}
		sib, err := r.Case(x.sib.ID)
		if err != nil || !slices.Equal(sib.Siblings, []string{"AB-2026-00019"}) || sib.Flags[0].Note != "a sibling: the sibling died. See AB-2026-00019" {
			t.Errorf("sibling %v %+v %v", sib.Siblings, sib.Flags, err)
		}
		l, err := r.DayList(r.Today())
		if err != nil || l.N != 2 || strings.Contains(string(l.Rows), string(x.gone.ID)) || !strings.Contains(string(l.Rows), "Adder") {
			t.Errorf("list %s %v", l.Rows, err)
		}
		_, err = r.Received(x.own)
		wantKind(t, err, cases.NotFound)
		_, err = r.Received(x.shared)
		return err
	})
	ben := x.ben
	ben.Owner = "ina"
	put(t, x.db, ben, "owner-set") // the chain goes on
	checkSound(t, x.db)
	x.gone, x.words = x.ben, nil
	if e := x.erase(t); e.Documents != 1 || e.Shared != 0 {
		t.Errorf("the shared document outlives the last infant it names: %+v", e)
	}
	checkSound(t, x.db)
}

func TestLegalHoldStopsErasing(t *testing.T) {
	x := newCrowd(t)
	x.gone.LegalHolds = []cases.LegalHold{{On: cases.MakeDay(2026, 3, 20), By: "Ina Reed", Reason: "a claim"}}
	x.gone = put(t, x.db, x.gone, "legal-hold-placed")
	wantKind(t, x.db.Update(ctx, clerk, func(w cases.Writer) error {
		_, err := w.Erase(x.gone.ID, cases.Erasure{}, erasedEvent)
		return err
	}), cases.Refused)
	view(t, x.db, func(r cases.Reader) error { _, err := r.Case(x.gone.ID); return err })
}

// TestSilentErasureIsFound empties entries as an erasure would without saying so, and
// touches what an erasure left.
func TestSilentErasureIsFound(t *testing.T) {
	set := func(seq uint64, change func(sum string, body []byte) string) func(tx *bbolt.Tx, e *cases.Erasure) error {
		return func(tx *bbolt.Tx, e *cases.Erasure) error {
			b := tx.Bucket([]byte(auditBucket))
			n := seq
			if n == 0 {
				n = e.Entries[0]
			}
			v := bytes.Clone(b.Get([]byte(number(n))))
			return b.Put([]byte(number(n)), []byte(change(string(v[:64]), v[65:])))
		}
	}
	otherSum := func(sum string, body []byte) string {
		return strings.Map(func(r rune) rune { return map[bool]rune{true: 'b', false: 'a'}[r == 'a'] }, sum) + " " + string(body)
	}
	for name, hurt := range map[string]struct {
		f    func(tx *bbolt.Tx, e *cases.Erasure) error
		says string
	}{
		"emptied, and nobody says so": {func(tx *bbolt.Tx, e *cases.Erasure) error {
			_, err := eraseEntry(tx, number(e.Entries[len(e.Entries)-1]+1), 9999)
			return err
		}, "no entry says by whom"},
		"emptied in the name of another": {func(tx *bbolt.Tx, e *cases.Erasure) error {
			h, _ := readHead(tx)
			_, err := eraseEntry(tx, number(h.seq-1), h.seq)
			return err
		}, "does not name the entries"},
		"another hash":              {set(0, otherSum), "hashes are not those it names"},
		"another number in a stub":  {set(0, func(sum string, _ []byte) string { return sum + ` {"seq":7777,"erased_by":1}` }), "does not follow"},
		"more in a stub":            {set(0, func(sum string, b []byte) string { return sum + " " + string(b[:len(b)-1]) + `,"x":1}` }), "Entry 1 of the audit trail"},
		"content returned, made up": {set(0, func(sum string, _ []byte) string { return sum + ` {"seq":1,"prev":"` + strings.Repeat("0", 64) + `"}` }), "was altered"},
	} {
		t.Run(name, func(t *testing.T) {
			x := newCrowd(t)
			e := x.erase(t)
			if err := x.db.bolt.Update(func(tx *bbolt.Tx) error { return hurt.f(tx, &e) }); err != nil {
				t.Fatal(err)
			}
			problems, err := x.db.Check(ctx)
			if err != nil || !strings.Contains(fmt.Sprint(problems), hurt.says) {
				t.Errorf("%v %v, want %q", problems, err, hurt.says)
			}
			x.db.Close()
		})
	}
}

func TestReturnedContentIsFound(t *testing.T) {
	x := newCrowd(t)
	var was []byte
	view(t, x.db, func(r cases.Reader) error {
		was = bytes.Clone(r.(*reader).tx.Bucket([]byte(auditBucket)).Get([]byte(number(1))))
		return nil
	})
	x.erase(t)
	if err := x.db.bolt.Update(func(tx *bbolt.Tx) error { return tx.Bucket([]byte(auditBucket)).Put([]byte(number(1)), was) }); err != nil {
		t.Fatal(err)
	}
	if problems, err := x.db.Check(ctx); err != nil || !strings.Contains(fmt.Sprint(problems), "does not name the entries that were erased by it") {
		t.Errorf("%v %v", problems, err)
	}
	x.db.Close()
}

// TestEraseReachesTheAccessLog: lines about the infant alone go, those about several stay,
// and a line emptied without a word is found.
func TestEraseReachesTheAccessLog(t *testing.T) {
	x := newCrowd(t)
	both := []string{x.gone.Reference, x.ben.Reference}
	update(t, x.db, func(w cases.Writer) error {
		for _, infants := range [][]string{{x.gone.Reference}, both, {x.ben.Reference}, {x.gone.Reference}} {
			if err := w.LogAccess(cases.Access{By: "ina", Act: cases.ActView, Role: cases.Coordinator, Route: "GET /infants/:ref", Status: 200, Infants: infants, Why: "looked up"}); err != nil {
				return err
			}
		}
		return w.LogAccess(cases.Access{By: "ina", Act: cases.ActBreakGlass, Role: cases.Nurse, Route: "POST", Status: 200, Infants: both[:1], Why: "the family called"})
	})
	e := x.erase(t)
	if !slices.Equal(e.Lines, []uint64{1, 4, 5}) {
		t.Errorf("lines %v", e.Lines)
	}
	view(t, x.db, func(r cases.Reader) error {
		list, _, err := r.Accesses(cases.AccessQuery{})
		if len(list) != 2 {
			t.Errorf("%+v", list)
		}
		waiting, err2 := r.AccessUnreviewed()
		if len(waiting) != 0 || err2 != nil {
			t.Errorf("%v %v", waiting, err2)
		}
		return err
	})
	checkSound(t, x.db)
	update(t, x.db, func(w cases.Writer) error {
		return w.LogAccess(cases.Access{By: "ina", Act: cases.ActView, Role: cases.Coordinator, Route: "GET", Status: 200, Infants: both[1:]})
	})
	checkSound(t, x.db)
	if err := x.db.bolt.Update(func(tx *bbolt.Tx) error { _, err := eraseLook(tx, number(3), 1); return err }); err != nil {
		t.Fatal(err)
	}
	if problems, err := x.db.Check(ctx); err != nil || !strings.Contains(fmt.Sprint(problems), "was emptied, and no entry says by whom") {
		t.Errorf("%v %v", problems, err)
	}
	x.db.Close()
}
