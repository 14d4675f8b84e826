package store

import (
	"fmt"
	"iter"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"dunlin/cases"
)

// The big store of the benchmarks: 100,000 open cases of about 1.2 KB, of which
// 1,000 are overdue on benchDay. It is made once a run.
const (
	benchCases   = 100_000
	benchOverdue = 1_000
)

var (
	benchDay  = cases.MakeDay(2026, 3, 20)
	bigOnce   sync.Once
	bigDir    string
	bigFailed error
)

func bigStore(b *testing.B) string {
	b.Helper()
	bigOnce.Do(func() {
		if bigDir, bigFailed = os.MkdirTemp("", "dunlin-bench"); bigFailed != nil {
			return
		}
		o := testOptions()
		o.Scratch = true
		db, err := Open(filepath.Join(bigDir, "dunlin.db"), o)
		if err != nil {
			bigFailed = err
			return
		}
		start := time.Now()
		if _, bigFailed = db.Load(ctx, clerk, benchSeq(benchCases), cases.Event{Kind: "opened"}); bigFailed != nil {
			return
		}
		b.Logf("%d cases loaded in %.1f s", benchCases, time.Since(start).Seconds())
		bigFailed = db.Close()
	})
	if bigFailed != nil {
		b.Fatal(bigFailed)
	}
	return filepath.Join(bigDir, "dunlin.db")
}

// benchSeq gives cases that wait for a booked test, every hundredth of which
// was on 18 March and has no result.
func benchSeq(n int) iter.Seq[cases.Case] {
	return func(yield func(cases.Case) bool) {
		rng := rand.New(rand.NewPCG(1, 2))
		for i := range n {
			if !yield(benchCase(rng, i, i%(n/benchOverdue) == 0)) {
				return
			}
		}
	}
}

var benchNames = strings.Fields("Wren Lark Tern Finch Heron Swift Plover Martin Crake Egret Ibis Knot Rail Shrike Stilt Teal")

func benchCase(rng *rand.Rand, i int, overdue bool) cases.Case {
	f := func(v float64) *float64 { return &v }
	born := benchDay - 19
	booked := benchDay + 1
	if overdue {
		booked = benchDay - 2
	}
	name := benchNames[rng.IntN(len(benchNames))] + strconv.Itoa(i%977)
	return cases.Case{
		Reference: fmt.Sprintf("AB-2026-%06d", i+1),
		Infant: cases.Infant{Given: benchNames[rng.IntN(len(benchNames))], Family: name, Sex: "female", Born: born, BornAt: "04:12",
			Plurality: 1, BirthOrder: 1, Gestation: 273, BirthWeightG: 3200, Weights: []cases.Weight{{On: born + 10, G: 3290}},
			Records: []cases.RecordNo{{Authority: "Alder Bay Hospital", Number: fmt.Sprintf("H%07d", i)}}},
		Referral: cases.Referral{On: born + 7, Route: "screen", Screen: &cases.Screen{Collected: born + 1, Reported: born + 6,
			Accession: fmt.Sprintf("AB26-%06d", i), Laboratory: "Alder Bay Laboratory", IRTNgML: f(96.4)}},
		Genotype: &cases.Genotype{Reported: born + 6, Scope: "panel", Variants: []cases.Variant{{Name: "F508del", Phase: "unknown"}}},
		Contacts: []cases.Contact{
			{On: born + 8, With: "primary-care", By: "phone", Reached: true, Outcome: "talked, understood"},
			{On: born + 8, With: "family", By: "phone", Reached: true, Outcome: "talked, understood"}},
		Bookings: []cases.Booking{{On: booked, At: "09:30", Site: "alder-bay", State: "booked", Changed: born + 9}},
		Family: &cases.Family{Language: "en", Guardians: []cases.Guardian{{Given: "Ina", Family: name, Relation: "mother",
			Phones:  []cases.Phone{{Number: "555-0100"}},
			Address: &cases.Address{Lines: []string{"1 Shore Road"}, City: "Alder Bay", Region: "AB", Postal: "00001"}}}},
	}
}

func openBig(b *testing.B) *DB {
	b.Helper()
	db, err := Open(bigStore(b), testOptions())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	return db
}

func BenchmarkCandidates(b *testing.B) {
	db := openBig(b)
	b.ReportAllocs()
	defer processorTime(b)()
	for b.Loop() {
		n := 0
		err := db.View(ctx, func(r cases.Reader) error {
			for _, err := range r.DueThrough(benchDay) {
				if err != nil {
					return err
				}
				n++
			}
			return nil
		})
		if err != nil || n != benchOverdue {
			b.Fatal(n, err)
		}
	}
}

// BenchmarkOverdueList also assesses each candidate again, as the list does.
func BenchmarkOverdueList(b *testing.B) {
	db := openBig(b)
	p := cases.DefaultProtocol()
	b.ReportAllocs()
	defer processorTime(b)()
	for b.Loop() {
		n := 0
		err := db.View(ctx, func(r cases.Reader) error {
			for c, err := range r.DueThrough(benchDay) {
				if err != nil {
					return err
				}
				if a := p.AssessStep(&c, benchDay); a.OnList() {
					n++
				}
			}
			return nil
		})
		if err != nil || n != benchOverdue {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkOpenCase(b *testing.B) {
	db := openBig(b)
	var id cases.ID
	db.View(ctx, func(r cases.Reader) error {
		for c := range r.DueThrough(benchDay) {
			id = c.ID
			break
		}
		return nil
	})
	b.ReportAllocs()
	for b.Loop() {
		if err := db.View(ctx, func(r cases.Reader) error {
			if _, err := r.Case(id); err != nil {
				return err
			}
			_, err := r.History(id)
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	db := openBig(b)
	for b.Loop() {
		if err := db.View(ctx, func(r cases.Reader) error {
			got, err := r.Find(cases.Query{Text: "heron500"})
			if len(got) == 0 {
				b.Fatal("none found")
			}
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRecordOneFact logs one contact in a transaction of its own, with
// the disk sync; BenchmarkOneSync is the sync alone.
func BenchmarkRecordOneFact(b *testing.B) {
	db, err := Open(filepath.Join(b.TempDir(), "dunlin.db"), testOptions())
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Load(ctx, clerk, benchSeq(benchOverdue), cases.Event{Kind: "opened"}); err != nil {
		b.Fatal(err)
	}
	var list []cases.Case
	db.View(ctx, func(r cases.Reader) error {
		for c := range r.All() {
			list = append(list, c)
		}
		return nil
	})
	i := 0
	for b.Loop() {
		c := &list[i%len(list)]
		i++
		c.Contacts = append(c.Contacts[:2:2], cases.Contact{On: benchDay, With: "family", By: "phone", Outcome: "no answer", Note: strconv.Itoa(i)})
		if err := db.Update(ctx, clerk, func(w cases.Writer) (err error) {
			*c, err = w.PutCase(*c, cases.Event{Kind: "contact-logged"})
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOneSync(b *testing.B) {
	f, err := os.Create(filepath.Join(b.TempDir(), "file"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	page := make([]byte, 16<<10)
	for b.Loop() {
		if _, err := f.WriteAt(page, 0); err != nil {
			b.Fatal(err)
		}
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStart(b *testing.B) {
	path := bigStore(b)
	b.Run("clean", func(b *testing.B) {
		for b.Loop() {
			db, err := Open(path, testOptions())
			if err != nil || !db.CleanStart() {
				b.Fatal(err)
			}
			db.Close()
		}
	})
	b.Run("unclean", func(b *testing.B) {
		peak := watchMemory(b)
		defer processorTime(b)()
		for b.Loop() {
			if err := os.WriteFile(markerPath(path), []byte("1\nx\n"), 0o600); err != nil {
				b.Fatal(err)
			}
			db, err := Open(path, testOptions())
			if err != nil || db.CleanStart() {
				b.Fatal(err)
			}
			db.Close()
		}
		b.ReportMetric(peak(), "peak-anon-MB")
	})
	b.Run("reindex", func(b *testing.B) {
		db := openBig(b)
		peak := watchMemory(b)
		defer processorTime(b)()
		for b.Loop() {
			if err := db.Reindex(ctx); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(peak(), "peak-anon-MB")
	})
}

// processorTime reports the time on all processors an operation, which other
// work on the machine does not change as much as the time that passed.
func processorTime(b *testing.B) func() {
	used := func() int64 {
		var r syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
			b.Fatal(err)
		}
		return r.Utime.Nano() + r.Stime.Nano()
	}
	start := used()
	return func() { b.ReportMetric(float64(used()-start)/float64(b.N)/1e6, "cpu-ms/op") }
}

// watchMemory samples anonymous memory until its result is asked for the peak.
func watchMemory(b *testing.B) func() float64 {
	runtime.GC()
	stop, peak := make(chan struct{}), make(chan float64)
	go func() {
		most := 0.0
		for {
			most = max(most, anonymousMB())
			select {
			case <-stop:
				peak <- most
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	return func() float64 { close(stop); return <-peak }
}

// anonymousMB is the anonymous resident memory of this process, where the
// system tells it.
func anonymousMB() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return float64(heapInUse()) / (1 << 20)
	}
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); len(f) > 1 && f[0] == "RssAnon:" {
			kb, _ := strconv.ParseFloat(f[1], 64)
			return kb / 1024
		}
	}
	return 0
}

func heapInUse() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapInuse
}

func BenchmarkBackup(b *testing.B) {
	db := openBig(b)
	target := filepath.Join(b.TempDir(), "backup.db")
	for b.Loop() {
		if _, err := db.Backup(ctx, target); err != nil {
			b.Fatal(err)
		}
	}
}
