package store

import (
	"errors"
	"iter"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"dunlin/cases"
)

var sameCase = cmp.Options{cmpopts.IgnoreUnexported(cases.Variant{})}

func TestCaseComesBackAsWritten(t *testing.T) {
	db := openTest(t)
	in := newCase(19, "Ada", "Wren")
	in.Genotype = &cases.Genotype{Reported: in.Referral.On, Scope: "panel", Variants: []cases.Variant{{Name: "F508del", Phase: "unknown"}}}
	in.Contacts = []cases.Contact{{On: in.Referral.On, With: "family", By: "phone", Reached: true, Outcome: "talked, understood"}}
	out := put(t, db, in, "opened")
	if out.Rev != 1 || len(out.ID) != idWidth || out.Reference != "AB-2026-0001" {
		t.Fatalf("rev %d, id %q, reference %q", out.Rev, out.ID, out.Reference)
	}
	view(t, db, func(r cases.Reader) error {
		got, err := r.Case(out.ID)
		if err != nil {
			return err
		}
		if d := cmp.Diff(out, got, sameCase); d != "" {
			t.Errorf("differs (-written +read):\n%s", d)
		}
		in.ID, in.Rev, in.Reference, in.Document = out.ID, 1, out.Reference, cases.DocumentName
		if d := cmp.Diff(in, got, sameCase); d != "" {
			t.Errorf("differs (-given +read):\n%s", d)
		}
		byRef, err := r.ByReference("ab-2026-0001 ")
		if err != nil || byRef.ID != out.ID {
			t.Errorf("by reference: %v %v", byRef.ID, err)
		}
		_, err = r.Case("nothing")
		wantKind(t, err, cases.NotFound)
		_, err = r.ByReference("AB-2026-9999")
		wantKind(t, err, cases.NotFound)
		return nil
	})
}

func TestChangedTellsWhatTheOtherDid(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	mine, theirs := c, c
	theirs.Owner = "ben"
	theirs = put(t, db, theirs, "owner-set")
	mine.Owner = "cleo"
	err := db.Update(ctx, clerk, func(w cases.Writer) error {
		_, err := w.PutCase(mine, cases.Event{Kind: "owner-set"})
		return err
	})
	wantKind(t, err, cases.Conflict)
	var ch *cases.Changed
	if !errors.As(err, &ch) {
		t.Fatalf("got %T", err)
	}
	if ch.Want != 1 || ch.Have != 2 || ch.Now.Owner != "ben" || len(ch.By) != 1 {
		t.Fatalf("changed: want %d have %d now %q by %d", ch.Want, ch.Have, ch.Now.Owner, len(ch.By))
	}
	f := ch.By[0].Fields
	if len(f) != 1 || f[0].Path != "owner" || f[0].Old != nil || string(f[0].New) != `"ben"` || ch.By[0].Actor != clerk {
		t.Errorf("what the other did: %+v", ch.By[0])
	}
	mine.Rev = ch.Now.Rev // apply mine to the new version
	if got := put(t, db, mine, "owner-set"); got.Rev != 3 || got.Owner != "cleo" {
		t.Errorf("second try: rev %d owner %q", got.Rev, got.Owner)
	}
}

func TestReferenceIsUnique(t *testing.T) {
	db := openTest(t)
	put(t, db, newCase(19, "Ada", "Wren"), "opened")
	other := newCase(20, "Ben", "Lark")
	other.Reference = "AB-2026-0001"
	err := db.Update(ctx, clerk, func(w cases.Writer) error {
		_, err := w.PutCase(other, cases.Event{Kind: "opened"})
		return err
	})
	wantKind(t, err, cases.Conflict)
	other.Reference = "AB-2026-0002" // taken by hand; the sequence steps over it
	put(t, db, other, "opened")
	if c := put(t, db, newCase(21, "Cy", "Tern"), "opened"); c.Reference != "AB-2026-0003" {
		t.Errorf("next reference: %s", c.Reference)
	}
}

//asvs:2.3.3
func TestFailedUpdateLeavesNothing(t *testing.T) {
	db := openTest(t)
	no := errors.New("no")
	err := db.Update(ctx, clerk, func(w cases.Writer) error {
		if _, err := w.PutCase(newCase(19, "Ada", "Wren"), cases.Event{Kind: "opened"}); err != nil {
			return err
		}
		return no
	})
	if err != no {
		t.Fatalf("got %v", err)
	}
	if n := count(t, db, cases.Reader.All); n != 0 {
		t.Errorf("%d cases stayed", n)
	}
	if c := put(t, db, newCase(19, "Ada", "Wren"), "opened"); c.Reference != "AB-2026-0001" {
		t.Errorf("the reference was lost: %s", c.Reference)
	}
}

func count(t *testing.T, db *DB, f func(cases.Reader) iter.Seq2[cases.Case, error]) (n int) {
	t.Helper()
	view(t, db, func(r cases.Reader) error {
		for _, err := range f(r) {
			if err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n
}

//asvs:2.2.3
func TestFutureFactAndZeroByteAreRefused(t *testing.T) {
	db := openTest(t)
	late := newCase(19, "Ada", "Wren")
	late.Infant.Weights = []cases.Weight{{On: cases.MakeDay(2062, 3, 11), G: 3290}}
	err := db.Update(ctx, clerk, func(w cases.Writer) error { _, err := w.PutCase(late, cases.Event{}); return err })
	wantKind(t, err, cases.Invalid)
	if !strings.Contains(err.Error(), "infant.weights[0].on") {
		t.Errorf("the field is not named: %v", err)
	}
	zero := newCase(19, "A\x00da", "Wren")
	err = db.Update(ctx, clerk, func(w cases.Writer) error { _, err := w.PutCase(zero, cases.Event{}); return err })
	wantKind(t, err, cases.Invalid)
	back := newCase(19, `A\u0000da`, "Wren") // the six signs themselves are plain text
	put(t, db, back, "opened")
}

func TestIndexes(t *testing.T) {
	db := openTest(t)
	ada := newCase(19, "Ada María", "García-López")
	ada.Infant.Records = []cases.RecordNo{{Authority: "Alder Bay Hospital", Number: "00-1234"}}
	ada.Infant.FormerNames = []string{"O'Brien"}
	ada = put(t, db, ada, "opened")
	ben := put(t, db, newCase(19, "Ben", "Garcia"), "opened")
	cy := put(t, db, newCase(40, "Cy", "Wren"), "opened")
	view(t, db, func(r cases.Reader) error {
		for _, q := range []struct {
			text string
			born cases.Day
			want []cases.ID
		}{
			{"garcia", 0, []cases.ID{ada.ID, ben.ID}},
			{"GARCÍA", 0, []cases.ID{ada.ID, ben.ID}},
			{"lopez", 0, []cases.ID{ada.ID}},
			{"maria garc", 0, []cases.ID{ada.ID}},
			{"obrien", 0, []cases.ID{ada.ID}},
			{"001234", 0, []cases.ID{ada.ID}},
			{"ab-2026-0003", 0, []cases.ID{cy.ID}},
			{"AB26-00040", 0, []cases.ID{cy.ID}},
			{"wren ben", 0, nil},
			{"", ada.Infant.Born, []cases.ID{ada.ID, ben.ID}},
			{"ben", ada.Infant.Born, []cases.ID{ben.ID}},
			{"ben", cy.Infant.Born, nil},
			{"'; --", 0, nil},
		} {
			got, err := r.Find(cases.Query{Text: q.text, Born: q.born})
			if err != nil {
				return err
			}
			if d := cmp.Diff(q.want, ids(got)); d != "" {
				t.Errorf("find %q %s: %s", q.text, q.born, d)
			}
		}
		if got, err := r.ByExternal("alder bay hospital", "001234"); err != nil || got.ID != ada.ID {
			t.Errorf("by external: %v %v", got.ID, err)
		}
		_, err := r.ByExternal("Alder Bay Laboratory", "AB26-00019")
		wantKind(t, err, cases.Conflict) // two infants carry it
		_, err = r.ByExternal("nobody", "001234")
		wantKind(t, err, cases.NotFound)
		if got, err := r.ByAccession("ab2600040"); err != nil || len(got) != 1 || got[0].ID != cy.ID {
			t.Errorf("by accession: %v %v", ids(got), err)
		}
		if got, err := r.ByRecord("00 1234"); err != nil || len(got) != 1 {
			t.Errorf("by record: %v %v", ids(got), err)
		}
		return nil
	})
}

func ids(list []cases.Case) []cases.ID {
	var out []cases.ID
	for _, c := range list {
		out = append(out, c.ID)
	}
	return out
}

func TestClosedCasesLeaveTheOpenIndexes(t *testing.T) {
	db := openTest(t)
	open := put(t, db, newCase(40, "Ada", "Wren"), "opened")
	shut := put(t, db, newCase(41, "Ben", "Lark"), "opened")
	day := cases.MakeDay(2026, 3, 19)
	shut.Closures = []cases.Closure{{On: day, As: "other-diagnosis", By: "ina", AgreedBy: "max", AgreedOn: day, Reason: "not this"}}
	shut = put(t, db, shut, "closed")
	read := func(f func(r cases.Reader) iter.Seq2[cases.Case, error]) (got []cases.ID) {
		view(t, db, func(r cases.Reader) error {
			for c, err := range f(r) {
				if err != nil {
					return err
				}
				got = append(got, c.ID)
			}
			return nil
		})
		return got
	}
	today := cases.MakeDay(2026, 3, 20)
	for name, x := range map[string]struct{ got, want []cases.ID }{
		"open":   {read(cases.Reader.Open), []cases.ID{open.ID}},
		"all":    {read(cases.Reader.All), []cases.ID{open.ID, shut.ID}},
		"due":    {read(func(r cases.Reader) iter.Seq2[cases.Case, error] { return r.DueThrough(today) }), []cases.ID{open.ID}},
		"closed": {read(func(r cases.Reader) iter.Seq2[cases.Case, error] { return r.ClosedBetween(day, day) }), []cases.ID{shut.ID}},
		"before": {read(func(r cases.Reader) iter.Seq2[cases.Case, error] { return r.ClosedBetween(day-9, day-1) }), nil},
		"born":   {read(func(r cases.Reader) iter.Seq2[cases.Case, error] { return r.BornBetween(today-41, today-41) }), []cases.ID{shut.ID}},
	} {
		if !slices.Equal(x.got, x.want) {
			t.Errorf("%s: got %v, want %v", name, x.got, x.want)
		}
	}
	view(t, db, func(r cases.Reader) error {
		hidden, err := r.Find(cases.Query{Text: "lark"})
		if err != nil {
			return err
		}
		shown, err := r.Find(cases.Query{Text: "lark", IncludeClosed: true})
		if len(hidden) != 0 || len(shown) != 1 {
			t.Errorf("find: %d hidden, %d shown", len(hidden), len(shown))
		}
		return err
	})
}
