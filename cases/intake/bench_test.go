package intake_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"testing/quick"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
)

// thousand makes n messages about n infants, one in ten of them out of range.
func thousand(t testing.TB, n int) []intake.Document {
	positive, negative := string(other(t)), string(in05(t, "TESTFAMILY", "KESTREL", "^MARIA^", "^JUNE^", "F0005", "F7777", "MRN0001", "MRN7777", "MOM0001", "MOM7777", "EX2026000123", "EX2026007777", "D05-0001", "X-7777", "5550101", "5550177"))
	docs := make([]intake.Document, n)
	for i := range docs {
		s := negative
		if i%10 == 0 {
			s = positive
		}
		day := fmt.Sprintf("202603%02d", 1+i%8)
		s = strings.NewReplacer("7777", fmt.Sprintf("%06d", i), "KESTREL", "KESTREL"+letters(i), "20260301", day, "^JUNE^", "^JUNE"+letters(i)+"^",
			"0177", fmt.Sprintf("%04d", i%10000), "20260302063000", day+"233000").Replace(s)
		docs[i] = intake.Document{Source: "import", Name: fmt.Sprintf("m%04d.hl7", i), At: today, Raw: []byte(s)}
	}
	return docs
}

func letters(i int) string {
	return string([]byte{byte('A' + i/676%26), byte('A' + i/26%26), byte('A' + i%26)})
}

// TestManyFiles: a thousand files in shared transactions, each with its outcome.
func TestManyFiles(t *testing.T) {
	b := newBench(t, intake.Settings{})
	docs := thousand(t, 1000)
	rs, err := b.in.ReceiveAll(context.Background(), importer, docs)
	if err != nil {
		t.Fatal(err)
	}
	total := map[intake.Outcome]int{}
	for _, r := range rs {
		for o, n := range r.Counts {
			total[o] += n
		}
	}
	if len(rs) != 1000 || total[intake.Opened] != 100 || total[intake.NoCase] != 900 {
		t.Errorf("%d results, %v", len(rs), total)
	}
	eq(t, "cases", len(b.all()), 100)
	b.view(func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		eq(t, "items", fmt.Sprint(counts), "map[no-case:900 opened:100]")
		return err
	})
}

func BenchmarkRead1000(b *testing.B) {
	docs := thousand(b, 1000)
	b.ReportAllocs()
	for b.Loop() {
		for _, d := range docs {
			r := (hl7.Format{}).Read(d.Raw, intake.Settings{})
			intake.Decide(&r.Items[0], intake.Settings{})
		}
	}
}

// BenchmarkImport1000Files takes a thousand one-message files into an empty store.
func BenchmarkImport1000Files(b *testing.B) {
	docs := thousand(b, 1000)
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		s := newBench(b, intake.Settings{})
		b.StartTimer()
		if _, err := s.in.ReceiveAll(context.Background(), importer, docs); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkImport1000Batch takes the same messages as one batch file, all of them
// out of range.
func BenchmarkImport1000Batch(b *testing.B) {
	var all strings.Builder
	all.WriteString("FHS|^~\\&|A\rBHS|^~\\&|A\r")
	for _, d := range thousand(b, 10_000) {
		if strings.Contains(string(d.Raw), "LA25817-0") {
			all.Write(d.Raw)
			all.WriteString("\r")
		}
	}
	all.WriteString("BTS|1000\rFTS|1\r")
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		s := newBench(b, intake.Settings{})
		b.StartTimer()
		r, err := s.in.Receive(context.Background(), importer, intake.Document{Name: "batch", At: today, Raw: []byte(all.String())})
		if err != nil || r.Counts[intake.Opened] != 1000 {
			b.Fatal(err, r.Counts)
		}
	}
}

// FuzzReceive: any bytes in, at least one item out, every item with an outcome and
// the counters adding up, twice over.
func FuzzReceive(f *testing.F) {
	for _, w := range goldens {
		f.Add(load(f, w.file))
	}
	shared := newBench(f, intake.Settings{}) // one store for all: opening one is slow
	f.Fuzz(func(t *testing.T, raw []byte) {
		b := &bench{t: t, db: shared.db, in: shared.in}
		first := b.receive("fuzz", raw)
		again := b.receive("fuzz", raw)
		if again.Counts[intake.Duplicate] != len(first.Items) || !again.Again {
			t.Fatalf("%v then %v", first.Counts, again.Counts)
		}
	})
}

// TestAnyBytes: the same for random bytes.
func TestAnyBytes(t *testing.T) {
	b := newBench(t, intake.Settings{})
	if err := quick.Check(func(raw []byte) bool {
		return b.receive("random", raw).Total() >= 1
	}, &quick.Config{MaxCount: 60}); err != nil {
		t.Error(err)
	}
}
