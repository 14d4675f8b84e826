package intake_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/store"
)

var opened = cases.Event{Kind: "opened"}

// openAll puts cases into the store of a bench.
func (b *bench) openAll(list ...cases.Case) {
	b.t.Helper()
	n := 0
	if _, err := b.db.Load(context.Background(), importer, func(yield func(cases.Case) bool) {
		for _, c := range list {
			n++
			c.Document = cases.DocumentName
			if c.Reference == "" {
				c.Reference = fmt.Sprintf("AB-2026-%04d", n)
			}
			if !yield(c) {
				return
			}
		}
	}, opened); err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) suspects() (out intake.Suspects) {
	b.t.Helper()
	b.view(func(r cases.Reader) (err error) {
		out, err = intake.FindSuspects(r, cases.DefaultProtocol(), 5000)
		return err
	})
	return out
}

func pairsOf(s intake.Suspects) string {
	var out []string
	for _, x := range s.Pairs {
		out = append(out, x.ReferenceA+" "+x.ReferenceB)
	}
	return strings.Join(out, ", ")
}

// someInfant is a case on file, with enough said to be known again.
func someInfant(given, phone string) cases.Case {
	return cases.Case{Infant: cases.Infant{Given: given, Family: "Wren", Born: cases.MakeDay(2026, 3, 1), Sex: "female", Facility: "Alder Bay Hospital", BirthWeightG: 3200},
		Referral: cases.Referral{On: cases.MakeDay(2026, 3, 8), Route: "screen", Screen: &cases.Screen{Laboratory: "Alder Bay Laboratory"}},
		Family:   &cases.Family{Guardians: []cases.Guardian{{Given: "Ina", Family: "Wren", Relation: "mother", Phones: []cases.Phone{{Number: phone}}}}}}
}

func TestPairsThatMayBeOneInfant(t *testing.T) {
	again := func(f func(*cases.Case)) cases.Case {
		c := someInfant("Ada", "555-0101234")
		f(&c)
		return c
	}
	for name, x := range map[string]struct {
		other cases.Case
		want  string
	}{
		"the same twice":         {again(func(*cases.Case) {}), "AB-2026-0001 AB-2026-0002"},
		"another name since":     {again(func(c *cases.Case) { c.Infant.Given = "Babygirl" }), "AB-2026-0001 AB-2026-0002"},
		"day and month changed":  {again(func(c *cases.Case) { c.Infant.Born = cases.MakeDay(2026, 1, 3) }), "AB-2026-0001 AB-2026-0002"},
		"another infant":         {someInfant("Bea", "555-0909090"), ""},
		"siblings on record":     {again(func(c *cases.Case) { c.Siblings = []string{"AB-2026-0001"} }), ""},
		"a twin of another sex":  {again(func(c *cases.Case) { c.Infant.Given, c.Infant.Sex = "Ben", "male" }), ""},
		"a sibling of last year": {again(func(c *cases.Case) { c.Infant.Given, c.Infant.Born = "Cal", cases.MakeDay(2025, 2, 11) }), ""},
		"opened by a test":       {again(func(c *cases.Case) { c.TestMessage = true }), ""},
		"closed as its duplicate": {again(func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: cases.MakeDay(2026, 3, 9), As: "duplicate", By: "D. Alder", AgreedBy: "I. Heron", AgreedOn: cases.MakeDay(2026, 3, 9), Reason: "the same infant"}}
		}), ""},
	} {
		b := newBench(t, intake.Settings{})
		b.openAll(someInfant("Ada", "555-0101234"), x.other)
		s := b.suspects()
		if got := pairsOf(s); got != x.want {
			t.Errorf("%s: %q, want %q: %+v", name, got, x.want, s)
		}
		for _, p := range s.Pairs {
			if !strings.HasPrefix(p.Why, "The same ") || strings.Contains(p.Why, "Wren") || strings.Contains(p.Why, "2026") {
				t.Errorf("%s: %q", name, p.Why)
			}
		}
	}
}

// A pair that a person kept apart when a document came in is not listed again.
func TestPairsKeptApartAreNotListed(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.openAll(someInfant("Ada", "555-0101234"), someInfant("Ada", "555-0101234"))
	second := b.of("AB-2026-0002")
	decide := func(as string, related ...string) {
		if err := b.db.Update(context.Background(), importer, func(w cases.Writer) error {
			_, err := w.PutItem(cases.Item{Document: "d", Outcome: "review", Kind: "possible same infant", Title: "x", At: today, Case: second.ID, Reference: second.Reference, Related: related,
				Decided: &cases.Decision{As: as, By: "D. Alder", At: today}})
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	decide(intake.Same, "AB-2026-0001")
	decide(intake.Apart, "AB-2026-0999")
	if got := pairsOf(b.suspects()); got == "" {
		t.Fatal("the pair was not found")
	}
	decide(intake.Apart, "AB-2026-0001")
	if got := pairsOf(b.suspects()); got != "" {
		t.Errorf("%s is listed although a person kept both apart", got)
	}
}

// Planted among unrelated infants and twins: most second entries are found, and hardly
// any pair of two infants.
func TestSuspectsAmongMany(t *testing.T) {
	b, w := newBench(t, intake.Settings{}), &world{Rand: rand.New(rand.NewPCG(3, 5))}
	on := cases.MakeDay(2026, 3, 20)
	var list []cases.Case
	who := map[string]int{}
	add := func(c child) {
		k := intake.CaseOf(w.message(&c), on)
		k.Reference = fmt.Sprintf("AB-2026-%04d", len(list)+1)
		k.Infant.Born = c.day
		who[k.Reference] = c.id
		list = append(list, k)
	}
	twice := 0
	for i := range 900 {
		n := 1
		if i%40 == 0 {
			n = 2
		}
		for _, c := range w.siblings(n) {
			add(c)
			if i%30 == 7 {
				add(c)
				twice++
			}
		}
	}
	b.openAll(list...)
	found, wrong := 0, 0
	s := b.suspects()
	for _, p := range s.Pairs {
		if who[p.ReferenceA] == who[p.ReferenceB] {
			found++
		} else {
			wrong++
		}
	}
	t.Logf("%d cases, %d pairs compared: %d of %d second entries found, %d pairs of two infants", len(list), s.Compared, found, twice, wrong)
	if found < twice*9/10 || wrong > 8 || s.Left != 0 {
		t.Errorf("%d of %d found, %d wrong, %d left", found, twice, wrong, s.Left)
	}
	if b.view(func(r cases.Reader) (err error) {
		s, err = intake.FindSuspects(r, cases.DefaultProtocol(), 10)
		return err
	}); s.Compared != 10 || s.Left == 0 {
		t.Errorf("bounded to 10: compared %d, left %d", s.Compared, s.Left)
	}
}

// BenchmarkSuspects looks for pairs among 100,000 infants of one year, one in a
// thousand entered twice.
func BenchmarkSuspects(b *testing.B) {
	const n = 100_000
	db, err := store.Open(filepath.Join(b.TempDir(), "cohort.db"), store.Options{Scratch: true, Now: func() time.Time { return time.Date(2027, 1, 2, 9, 0, 0, 0, time.UTC) }})
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	i, second := 0, map[string]string{}
	if _, err = db.Load(context.Background(), importer, func(yield func(cases.Case) bool) {
		for r := range cohort(n) {
			times := 1
			if i%1000 == 0 {
				times = 2
			}
			for range times {
				i++
				c := intake.CaseOf(r, cases.MakeDay(2027, 1, 1))
				c.Reference = fmt.Sprintf("AB-2026-%06d", i)
				if times == 2 {
					second[c.Reference] = fmt.Sprintf("AB-2026-%06d", i-1)
				}
				if !yield(c) {
					return
				}
			}
		}
	}, opened); err != nil {
		b.Fatal(err)
	}
	runtime.GC()
	var s intake.Suspects
	b.ReportAllocs()
	for b.Loop() {
		if err := db.View(context.Background(), func(r cases.Reader) (err error) {
			s, err = intake.FindSuspects(r, cases.DefaultProtocol(), 5000)
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
	right := 0
	for _, p := range s.Pairs {
		if second[p.ReferenceB] == p.ReferenceA {
			right++
		}
	}
	b.ReportMetric(float64(right), "right")
	b.ReportMetric(float64(s.Compared), "compared")
	b.ReportMetric(float64(s.Left), "left")
	b.ReportMetric(float64(len(s.Pairs)), "pairs")
}
