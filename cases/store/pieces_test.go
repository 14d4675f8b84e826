package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
)

func TestFold(t *testing.T) {
	for in, want := range map[string]string{
		"García-López": "garcia lopez", "GARCIA  LOPEZ": "garcia lopez", "O'Brien": "obrien", "O’Brien": "obrien", "Zoë": "zoe",
		"Ångström": "angstrom", "  van der Berg, ": "van der berg", "李": "李", "": "", "\x00\x01": "", "Nuñez2": "nunez2", "محمد": "محمد",
	} {
		if got := fold(in); got != want {
			t.Errorf("fold(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "name")
		if once := fold(s); fold(once) != once {
			t.Fatalf("fold(%q) = %q, again %q", s, once, fold(once))
		}
		if a, ok := foldASCII(s); ok && a != spaced(toLowerASCII(s)) {
			t.Fatalf("the fast way differs for %q: %q", s, a)
		}
	})
}

func toLowerASCII(s string) string { return string(bytes.ToLower([]byte(s))) }

func TestKeysSortAsTheirFields(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[a-c]{0,3}`)
		a1, a2, b1, b2 := text.Draw(t, "a1"), text.Draw(t, "a2"), text.Draw(t, "b1"), text.Draw(t, "b2")
		byKey := closed(a1)+closed(a2) < closed(b1)+closed(b2)
		byField := a1 < b1 || a1 == b1 && a2 < b2
		if byKey != byField {
			t.Fatalf("(%q %q) and (%q %q)", a1, a2, b1, b2)
		}
	})
	if after("ab\xff") != "ac" || after("\xff") != "" || after("") != "" {
		t.Error("after")
	}
}

func TestSealFindsEveryFlippedBit(t *testing.T) {
	body := []byte(`{"given":"Ada"}`)
	v := seal("cases", "K", 7, body)
	rev, got, err := unseal("cases", "K", v)
	if err != nil || rev != 7 || !bytes.Equal(got, body) {
		t.Fatalf("%d %s %v", rev, got, err)
	}
	for i := range v {
		for bit := range 8 {
			hurt := bytes.Clone(v)
			hurt[i] ^= 1 << bit
			if _, _, err := unseal("cases", "K", hurt); err == nil {
				t.Errorf("bit %d of byte %d was missed", bit, i)
			}
		}
	}
	for _, x := range [][2]string{{"cases", "L"}, {"letters", "K"}} {
		if _, _, err := unseal(x[0], x[1], v); !errors.Is(err, errDamaged) {
			t.Errorf("%v: %v", x, err)
		}
	}
	for n := range v {
		if _, _, err := unseal("cases", "K", v[:n]); err == nil {
			t.Errorf("%d bytes were enough", n)
		}
	}
}

func TestDecodedRecordSharesNoMemory(t *testing.T) {
	db := openTest(t)
	in := newCase(19, "Ada", "Wren")
	in.Notes = []cases.Note{{On: in.Referral.On, Text: "a note of some length that could be shared"}}
	body, err := json.Marshal(caseRecord{Case: in})
	if err != nil {
		t.Fatal(err)
	}
	v := seal("cases", "01ARZ3NDEKTSV4RRFFQ69G5FAV", 1, body)
	r, err := db.cases.decode("01ARZ3NDEKTSV4RRFFQ69G5FAV", v)
	if err != nil {
		t.Fatal(err)
	}
	for i := range v {
		v[i] = 'x'
	}
	in.ID, in.Rev = "01ARZ3NDEKTSV4RRFFQ69G5FAV", 1
	if d := cmp.Diff(in, r.Case, sameCase); d != "" {
		t.Error(d)
	}
}

func TestChanges(t *testing.T) {
	for name, x := range map[string]struct{ before, after, want string }{
		"new":      {``, `{"a":{"b":1},"c":[1]}`, `[{"path":"a","new":{"b":1}},{"path":"c","new":[1]}]`},
		"same":     {`{"a":1}`, `{"a":1}`, `null`},
		"scalar":   {`{"a":1.50}`, `{"a":2}`, `[{"path":"a","old":1.50,"new":2}]`},
		"deep":     {`{"a":[{"b":{"c":1}}]}`, `{"a":[{"b":{"c":2}}]}`, `[{"path":"a[0].b.c","old":1,"new":2}]`},
		"added":    {`{"a":[1]}`, `{"a":[1,{"b":2}]}`, `[{"path":"a[1]","new":{"b":2}}]`},
		"removed":  {`{"a":[1,2],"b":3}`, `{"a":[1]}`, `[{"path":"a[1]","old":2},{"path":"b","old":3}]`},
		"null":     {`{"a":null}`, `{}`, `[{"path":"a","old":null}]`},
		"to null":  {`{"a":{"b":1}}`, `{"a":null}`, `[{"path":"a","old":{"b":1},"new":null}]`},
		"of kind":  {`{"a":[1]}`, `{"a":{"b":1}}`, `[{"path":"a","old":[1],"new":{"b":1}}]`},
		"unlike 1": {`{"a":1}`, `{"a":"1"}`, `[{"path":"a","old":1,"new":"1"}]`},
	} {
		got, err := changes([]byte(x.before), []byte(x.after), "")
		if err != nil {
			t.Fatal(name, err)
		}
		if b, _ := json.Marshal(got); string(b) != x.want {
			t.Errorf("%s: %s, want %s", name, b, x.want)
		}
	}
}

func TestIDsSortByTime(t *testing.T) {
	db := openTest(t)
	last := ""
	for range 20 {
		update(t, db, func(w cases.Writer) error {
			for range 50 {
				id := w.NewID()
				if id <= last || checkID(id) != nil {
					t.Fatalf("%s after %s", id, last)
				}
				last = id
			}
			return nil
		})
	}
}

//asvs:15.4.1
func TestOneWriterAtATime(t *testing.T) {
	db := openTest(t)
	c := put(t, db, newCase(19, "Ada", "Wren"), "opened")
	var wg sync.WaitGroup
	var mu sync.Mutex
	won := 0
	for range 20 {
		wg.Go(func() {
			err := db.Update(ctx, clerk, func(w cases.Writer) error {
				_, err := w.PutCase(c, cases.Event{Kind: "race"})
				return err
			})
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				won++
			} else if cases.KindOf(err) != cases.Conflict {
				t.Error(err)
			}
		})
		wg.Go(func() {
			if _, err := countCases(db); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if won != 1 {
		t.Errorf("%d of 20 wrote over the same revision", won)
	}
}

func TestWaitingForTheWriterEnds(t *testing.T) {
	db := openTest(t)
	short, cancel := context.WithTimeout(ctx, 20*time.Millisecond)
	defer cancel()
	err := db.Update(ctx, clerk, func(cases.Writer) error {
		return db.Update(short, clerk, func(cases.Writer) error { return nil }) // nested, which is wrong
	})
	wantFault(t, err, ErrBusy)
	wantKind(t, err, cases.Refused)
	put(t, db, newCase(19, "Ada", "Wren"), "opened")
}

func TestPanicOfTheCallerPassesAndFreesTheWriter(t *testing.T) {
	db := openTest(t)
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		_ = db.Update(ctx, clerk, func(w cases.Writer) error {
			if _, err := w.PutCase(newCase(19, "Ada", "Wren"), cases.Event{}); err != nil {
				return err
			}
			panic("ours")
		})
	}()
	if n, err := countCases(db); n != 0 || err != nil {
		t.Errorf("%d cases stayed: %v", n, err)
	}
	put(t, db, newCase(19, "Ada", "Wren"), "opened")
}

func TestClosedStoreSaysSo(t *testing.T) {
	db := openTest(t)
	db.Close()
	wantFault(t, db.View(ctx, func(cases.Reader) error { return nil }), ErrClosed)
	wantFault(t, db.Update(ctx, clerk, func(cases.Writer) error { return nil }), ErrClosed)
	if err := db.Close(); err != nil {
		t.Error(err)
	}
}

func TestWritingStopsAfterADiskError(t *testing.T) {
	db := openTest(t)
	put(t, db, newCase(19, "Ada", "Wren"), "opened")
	if err := db.writeResult(nil, errors.New("input/output error")); !errors.Is(err, ErrFailed) {
		t.Fatal(err)
	}
	err := db.Update(ctx, clerk, func(cases.Writer) error { return nil })
	wantFault(t, err, ErrFailed)
	wantKind(t, err, cases.Refused)
	if n, err := countCases(db); n != 1 || err != nil {
		t.Errorf("reading must go on: %d %v", n, err)
	}
	path := db.Path()
	db.Close()
	if again := openAt(t, path, testOptions()); again.CleanStart() {
		t.Error("the next start must check the store")
	}
}
