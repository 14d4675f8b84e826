package intake_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
)

// faulty stands between intake and the store, to break off or fail where a test says.
type faulty struct {
	cases.Store
	updates int
	failAt  int              // the update that fails, counted from 1; 0 for none
	put     func(cases.Item) // called before an item is written
}

func (s *faulty) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	if s.updates++; s.updates == s.failAt {
		return errors.New("the disk is gone")
	}
	return s.Store.Update(ctx, a, func(w cases.Writer) error { return f(faultyWriter{w, s}) })
}

type faultyWriter struct {
	cases.Writer
	s *faulty
}

func (w faultyWriter) PutItem(i cases.Item) (cases.Item, error) {
	if w.s.put != nil {
		w.s.put(i)
	}
	return w.Writer.PutItem(i)
}

const threeRows = "accession,infant_last,dob,nbs_interpretation\nA1,Wren,2026-03-01,out of range\nA2,Teal,2026-03-02,out of range\nA3,Knot,2026-03-03,out of range\n"

// TestAFaultOfTheProgramCostsOneItem: an item on which the program breaks off goes to a
// person, and the others of its document are taken in.
func TestAFaultOfTheProgramCostsOneItem(t *testing.T) {
	b := newBench(t, intake.Settings{})
	s := &faulty{Store: b.db, put: func(i cases.Item) {
		if strings.HasPrefix(i.Title, "Teal") {
			panic("a planted fault")
		}
	}}
	in := intake.New(s, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{})
	r, err := in.Receive(context.Background(), importer, intake.Document{Source: "import", Name: "three.csv", At: today, Raw: []byte(threeRows)})
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "outcomes", outcomes(r), "opened review opened")
	if why := strings.Join(r.Items[1].Reasons, " "); !strings.Contains(why, "fault in this program") {
		t.Errorf("the item says %q", why)
	}
	eq(t, "cases", len(b.all()), 2)
}

// TestAFaultThatStaysIsAnError: when even the set-aside item breaks off, the caller is
// told, and the bytes are kept.
func TestAFaultThatStaysIsAnError(t *testing.T) {
	b := newBench(t, intake.Settings{})
	s := &faulty{Store: b.db, put: func(cases.Item) { panic("a planted fault") }}
	in := intake.New(s, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{})
	if _, err := in.Receive(context.Background(), importer, intake.Document{Source: "import", Name: "three.csv", At: today, Raw: []byte(threeRows)}); err == nil {
		t.Fatal("nothing was said")
	}
	s.put = nil
	eq(t, "cases before", len(b.all()), 0)
	rs, err := in.TakeUp(context.Background(), importer)
	if err != nil || len(rs) != 1 {
		t.Fatalf("%d taken up, %v", len(rs), err)
	}
	eq(t, "taken up", outcomes(rs[0]), "opened opened opened")
}

// TestTakeUpFinishesWhatWasBrokenOff: the bytes were stored, the rest was not.
func TestTakeUpFinishesWhatWasBrokenOff(t *testing.T) {
	b := newBench(t, intake.Settings{})
	in := intake.New(&faulty{Store: b.db, failAt: 2}, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{})
	if _, err := in.Receive(context.Background(), importer, intake.Document{Source: "mailbox", Name: "three.csv", At: today, Raw: []byte(threeRows)}); err == nil {
		t.Fatal("the store did not fail")
	}
	rs, err := b.in.TakeUp(context.Background(), importer)
	if err != nil || len(rs) != 1 {
		t.Fatalf("%d taken up, %v", len(rs), err)
	}
	eq(t, "taken up", outcomes(rs[0]), "opened opened opened")
	again, err := b.in.TakeUp(context.Background(), importer)
	if err != nil || len(again) != 0 {
		t.Errorf("taken up again: %v, %v", again, err)
	}
}
