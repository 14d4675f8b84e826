package intake_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// said is what became of items, without what differs from store to store.
func said(rs []intake.Result) string {
	var b strings.Builder
	for _, r := range rs {
		fmt.Fprintln(&b, r.Name, r.Hash, r.Format, r.Again, r.Counts, r.Blank, r.Warnings)
		for _, it := range r.Items {
			fmt.Fprintln(&b, " ", it.Position, it.Outcome, it.Kind, it.Title, it.Reference, it.Reasons)
		}
	}
	return b.String()
}

// TestAtOnceIsTheSame: one transaction or two, the same becomes of every document,
// also of one that comes twice and of one with more items than a transaction takes.
func TestAtOnceIsTheSame(t *testing.T) {
	var docs []intake.Document
	for _, w := range goldens {
		docs = append(docs, intake.Document{Source: "interface", Sender: "lab.example", Name: w.file, At: today, Raw: load(t, w.file)})
	}
	docs = append(docs, docs[0])
	var all strings.Builder
	for _, d := range thousand(t, 400) {
		all.Write(d.Raw)
		all.WriteString("\r")
	}
	long := intake.Document{Source: "interface", Name: "long", At: today, Raw: []byte(all.String())}
	for _, list := range [][]intake.Document{docs, {long}} {
		a, b := newBench(t, intake.Settings{}), newBench(t, intake.Settings{})
		two, err := a.in.ReceiveAll(context.Background(), byInterface, list)
		if err != nil {
			t.Fatal(err)
		}
		one, err := b.in.ReceiveAtOnce(context.Background(), byInterface, list)
		if err != nil {
			t.Fatal(err)
		}
		if x, y := said(two), said(one); x != y {
			t.Errorf("in two transactions:\n%s\nin one:\n%s", x, y)
		}
		eq(t, "cases", len(b.all()), len(a.all()))
	}
}

// once is a store whose first transaction fails after it was filled.
type once struct {
	cases.Store
	failed bool
}

func (o *once) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	return o.Store.Update(ctx, a, func(w cases.Writer) error {
		if err := f(w); err != nil || o.failed {
			return err
		}
		o.failed = true
		return errors.New("made to fail")
	})
}

// TestAtOnceFallsBack: what one transaction cannot hold is stored first and decided on
// after it.
func TestAtOnceFallsBack(t *testing.T) {
	b := newBench(t, intake.Settings{})
	rs, err := b.in.Over(&once{Store: b.db}).ReceiveAtOnce(context.Background(), byInterface, []intake.Document{{Source: "interface", At: today, Raw: d01(t)}})
	if err != nil || len(rs) != 1 || rs[0].Again || rs[0].Counts[intake.Opened] != 1 {
		t.Fatalf("%+v, %v", rs, err)
	}
	eq(t, "cases", len(b.all()), 1)
}
