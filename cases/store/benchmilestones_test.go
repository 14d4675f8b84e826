package store

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime/debug"
	"slices"
	"testing"

	"go.etcd.io/bbolt"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// BenchmarkClosureReport makes the report of closure times from kept milestones:
// reading them from the file, and Kaplan-Meier curves of four durations in three
// groups. The milestones are written straight into their index, since opening a
// million cases takes minutes.
func BenchmarkClosureReport(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			db := milestoneStore(b, n)
			debug.FreeOSMemory() // what the making needed
			peak := watchMemory(b)
			b.ReportAllocs()
			defer processorTime(b)()
			for b.Loop() {
				t := measures.NewTally(measures.Window{AsOf: benchDay})
				err := db.View(ctx, func(r cases.Reader) error {
					for m, err := range r.Milestones(0, lastDay) {
						if err != nil {
							return err
						}
						t.Add(measures.RecordOf(&m))
					}
					return nil
				})
				rep := t.Report()
				if err != nil || rep.Cases != n || rep.All.BirthToClosure.Median.Day == nil {
					b.Fatal(err, rep.Cases)
				}
			}
			b.ReportMetric(peak(), "peak-anon-MB")
		})
	}
}

// BenchmarkInterval makes the report of one interval from the same milestones, grouped,
// as the page does: figures, groups, test between them, and the published form.
func BenchmarkInterval(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		db := milestoneStore(b, n)
		for _, c := range []struct {
			to    measures.Milestone
			group string
		}{{measures.Closure, ""}, {measures.Closure, "site"}, {measures.Determination, "year"}} {
			b.Run(fmt.Sprintf("%d-%s-%s", n, c.to, c.group), func(b *testing.B) {
				debug.FreeOSMemory() // what the making needed
				peak := watchMemory(b)
				b.ReportAllocs()
				defer processorTime(b)()
				q := measures.Question{From: measures.Birth, To: c.to, By: measures.ByReferral, Group: c.group, Window: measures.Window{AsOf: benchDay}}
				for b.Loop() {
					r := intervalOf(b, db, q)
					if p := r.Publish(measures.SmallNumbers{Below: 11}); r.Cases != n || p.All.Cases.N != n {
						b.Fatal(r.Cases, p.All.Cases)
					}
				}
				b.ReportMetric(peak(), "peak-anon-MB")
			})
		}
	}
}

func intervalOf(b *testing.B, db *DB, q measures.Question) measures.IntervalReport {
	t := measures.NewIntervalTally(q)
	from, to := q.Reads()
	err := db.View(ctx, func(r cases.Reader) error {
		for m, err := range r.Milestones(from, to) {
			if err != nil {
				return err
			}
			t.Add(&m)
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return t.Report()
}

// BenchmarkRates makes the report of rates from the same milestones.
func BenchmarkRates(b *testing.B) {
	db := milestoneStore(b, 100_000)
	defer processorTime(b)()
	for b.Loop() {
		t := measures.NewRatesTally(measures.Window{AsOf: benchDay}, cases.DefaultProtocol())
		err := db.View(ctx, func(r cases.Reader) error {
			for m, err := range r.Milestones(0, lastDay) {
				if err != nil {
					return err
				}
				t.Add(&m)
			}
			return nil
		})
		if rep := t.Report(); err != nil || rep.Cases != 100_000 {
			b.Fatal(err, rep.Cases)
		}
	}
}

// BenchmarkDataFaults counts the data faults of the same milestones, and keeps a page of
// one kind.
func BenchmarkDataFaults(b *testing.B) {
	db := milestoneStore(b, 100_000)
	defer processorTime(b)()
	for b.Loop() {
		t := cases.DataFaultTally{Quality: cases.NewDataQuality(cases.DefaultProtocol(), benchDay), Kind: cases.UnusualOrder, Most: 50}
		err := db.View(ctx, func(r cases.Reader) error {
			for m, err := range r.Milestones(0, lastDay) {
				if err != nil {
					return err
				}
				t.Add(&m)
			}
			return nil
		})
		if err != nil || t.Cases != 100_000 || t.Counts[cases.NoTestWeight] == 0 {
			b.Fatal(err, t.Cases, t.Counts)
		}
	}
}

func milestoneStore(b *testing.B, n int) *DB {
	b.Helper()
	o := testOptions()
	o.Scratch = true
	db, err := Open(filepath.Join(b.TempDir(), "dunlin.db"), o)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	rng := rand.New(rand.NewPCG(5, 6))
	keys := make([]string, n)
	for i := range keys {
		m := benchMilestones(rng, i)
		keys[i] = milestoneKeys(&m)[0] + string(m.Case)
	}
	slices.Sort(keys)
	size := 0
	for group := range slices.Chunk(keys, 100_000) {
		err := db.bolt.Update(func(tx *bbolt.Tx) error {
			bucket := tx.Bucket([]byte("cases.milestones"))
			bucket.FillPercent = 1
			for _, k := range group {
				size += len(k)
				if err := bucket.Put([]byte(k), nil); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	b.Logf("%d milestones of %d bytes on average", n, size/n)
	return db
}

// benchMilestones is a case of the last ten years, as many things happened to it as
// usually do.
func benchMilestones(rng *rand.Rand, i int) cases.Milestones {
	born := benchDay - cases.Day(10+rng.IntN(3650))
	test := born + cases.Day(16+rng.IntN(40))
	site := fmt.Sprintf("site-%02d", rng.IntN(12))
	m := cases.Milestones{Case: cases.ID(fmt.Sprintf("%026d", i)), Reference: fmt.Sprintf("AB-2026-%07d", i), Born: born, Collected: born + 1, Reported: born + 5,
		Referred: born + 6, DoctorTold: born + 7, FamilyReached: born + 8, FirstBooking: test, Route: "screen", Site: site, Language: "en", County: fmt.Sprintf("County %d", rng.IntN(9)), Region: "AB", Postal: "995",
		Gestation: cases.Gestation(240 + rng.IntN(45)), BirthWeightG: 2000 + rng.IntN(2000), Alleles: cases.Alleles{CFCausing: 1}, Lacks: cases.LacksTestWeight,
		Visits: []cases.VisitMark{{On: test, Site: site, State: "kept"}}, Calls: cases.CallCounts{Family: 2, FamilyReached: 1, Others: 1, Letters: 1}}
	if test > benchDay {
		m.Visits[0].State = "booked"
		return m
	}
	m.FirstTest, m.FirstSufficient, m.LastResult = test, test, test
	m.Tests = []cases.TestMark{{On: test, Outcome: cases.Unlikely, Site: site, WeightG: 3900}}
	if rng.IntN(12) == 0 {
		m.Tests[0].Outcome = cases.QNS
		m.FirstSufficient, m.LastResult = 0, 0
		return m
	}
	if closed := test + cases.Day(1+rng.IntN(20)); closed <= benchDay {
		m.Closed, m.Determined, m.ClosedAs = closed, closed, "carrier"
	}
	return m
}
