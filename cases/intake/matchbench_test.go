package intake_test

import (
	"context"
	"fmt"
	"iter"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/store"
)

// cohort draws one year of births of a region: 10,000 surnames by Zipf's law, the
// commonest with 1.5 in a hundred, forty birth places of which the largest has a tenth
// of the births, a telephone of each household's own, the mother's birth date in half.
func cohort(n int) iter.Seq[intake.Referral] {
	return func(yield func(intake.Referral) bool) {
		w := &world{Rand: rand.New(rand.NewPCG(17, 19))}
		surnames := rand.NewZipf(w.Rand, 1.07, 12, 9_999)
		mothers := rand.NewZipf(w.Rand, 1.07, 12, 999)
		places := rand.NewZipf(w.Rand, 1.2, 6, 39)
		for i := range n {
			c := w.siblings(1)[0]
			h := c.home
			c.id, h.id, c.day = i, i, cases.MakeDay(2026, 1, 1)+cases.Day(w.IntN(365))
			h.family, h.mother, h.place = inventedName(surnames.Uint64()), inventedName(20_000+mothers.Uint64()), fmt.Sprintf("%s Hospital", inventedName(40_000+places.Uint64()))
			h.motherFamily, h.phone = h.family, fmt.Sprintf("555-%07d", 1_000_000+i)
			r := w.message(&c)
			r.Accession.Number, r.Card = fmt.Sprintf("A%07d", i), fmt.Sprintf("C%07d", i)
			if !yield(r) {
				return
			}
		}
	}
}

// inventedName makes a name of a number by syllables, so that their Soundex codes
// spread as those of names do.
func inventedName(n uint64) string {
	first := strings.Fields("ba ca da fa ga ha ja ka la ma na pa ra sa ta va wa bre cro dre fle gri hol jor kle lun mor nor pel qui ros ste tra vel wil yor zan")
	next := strings.Fields("ber cin dal fer gen har kin lan mer nor pin ran sel tor ven win bas cot dun fin gol hut kel lop mas ner pol ros sum tan")
	last := strings.Fields("s n son ez man ton ska well ")
	s := first[n%uint64(len(first))] + next[n/uint64(len(first))%uint64(len(next))] + last[n/7%uint64(len(last))]
	if n >= uint64(len(first)*len(next)) {
		s += next[n/uint64(len(first)*len(next))%uint64(len(next))]
	}
	return s
}

// BenchmarkMatch looks one referral up among 100,000 infants of one year in the store:
// half of those asked about are on file. It reports how many cases were read a look.
func BenchmarkMatch(b *testing.B) {
	const n = 100_000
	db, err := store.Open(filepath.Join(b.TempDir(), "cohort.db"), store.Options{Scratch: true, Now: func() time.Time { return time.Date(2027, 1, 2, 9, 0, 0, 0, time.UTC) }})
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	var asked []intake.Referral
	on := cases.MakeDay(2027, 1, 1)
	blocks, sizes := map[string]int{}, map[string][]int{}
	i := 0
	_, err = db.Load(context.Background(), importer, func(yield func(cases.Case) bool) {
		for r := range cohort(2 * n) {
			if i++; i > n {
				if i%200 == 0 { // nobody on file
					asked = append(asked, r)
				}
				continue
			}
			if i%200 == 0 {
				asked = append(asked, r)
			}
			c := intake.CaseOf(r, on)
			c.Reference = fmt.Sprintf("AB-2026-%06d", i)
			for _, k := range cases.MatchKeys(&c) {
				blocks[k]++
			}
			if !yield(c) {
				return
			}
		}
	}, cases.Event{Kind: "opened"})
	if err != nil {
		b.Fatal(err)
	}
	for k, size := range blocks {
		kind, _, _ := strings.Cut(k, " ")
		sizes[kind] = append(sizes[kind], size)
	}
	for kind, list := range sizes {
		slices.Sort(list)
		sum, squares := 0, 0
		for _, x := range list {
			sum, squares = sum+x, squares+x*x
		}
		b.Logf("key %-6s %7d blocks, %6.2f cases a block, %6.2f met by a case's own key, largest %d", kind, len(list), float64(sum)/float64(len(list)), float64(squares)/float64(sum), list[len(list)-1])
	}
	var times []time.Duration
	found, at := 0, 0
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		err := db.View(context.Background(), func(r cases.Reader) error {
			ms, err := intake.Match(r, &asked[at%len(asked)], &matching)
			found += len(ms)
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
		times = append(times, time.Since(start))
		at++
	}
	slices.Sort(times)
	b.ReportMetric(float64(found)/float64(b.N), "matches/op")
	b.ReportMetric(float64(times[len(times)*99/100].Microseconds()), "p99-µs")
	b.ReportMetric(float64(times[len(times)-1].Microseconds()), "max-µs")
}

// BenchmarkCompare weighs one referral and one case.
func BenchmarkCompare(b *testing.B) {
	in := intake.New(nil, nil, intake.Settings{})
	r, c := sameTwice()
	b.ReportAllocs()
	for b.Loop() {
		if in.CompareWith(r, c).Level != intake.LevelCertain {
			b.Fatal("not the same")
		}
	}
}
