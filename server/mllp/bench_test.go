package mllp_test

import (
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"dunlin/cases/intake"
)

// messages makes n messages about n infants; one in ten is out of range.
func messages(b testing.TB, n int) [][]byte {
	positive, negative := string(message(b, d01)), string(message(b, "messages/d05-nbs-in-range.hl7"))
	out := make([][]byte, n)
	for i := range out {
		s := negative
		if i%10 == 0 {
			s = positive
		}
		name := string([]byte{byte('A' + i/17576%26), byte('A' + i/676%26), byte('A' + i/26%26), byte('A' + i%26)})
		out[i] = frame([]byte(strings.NewReplacer("TESTFAMILY", "KESTREL"+name, "^MARIA^", "^JUNE"+name+"^", "F0001", fmt.Sprintf("F%06d", i), "F0005", fmt.Sprintf("F%06d", i),
			"MRN0001", fmt.Sprintf("MRN%06d", i), "MOM0001", fmt.Sprintf("MOM%06d", i), "EX2026000123", fmt.Sprintf("EX2026%06d", i),
			"D01-0001", fmt.Sprintf("X-%06d", i), "D05-0001", fmt.Sprintf("X-%06d", i), "5550101", fmt.Sprintf("55%05d", i),
			"20260301", fmt.Sprintf("202603%02d", 1+i%8), "20260302063000", fmt.Sprintf("202603%02d233000", 1+i%8)).Replace(s)))
	}
	return out
}

// BenchmarkAcknowledged sends messages over so many connections, each waiting for its
// answer before the next one, into a store on the disk.
func BenchmarkAcknowledged(b *testing.B) {
	for _, conns := range []int{1, 4, 16} {
		b.Run(fmt.Sprintf("connections=%d", conns), func(b *testing.B) {
			all := messages(b, b.N)
			l := listen(b, intake.Settings{}, nil)
			lines := make([]*line, conns)
			for i := range lines {
				lines[i] = l.dial()
			}
			var next atomic.Int64
			var wg sync.WaitGroup
			b.ResetTimer()
			for _, c := range lines {
				wg.Go(func() {
					for i := int(next.Add(1)) - 1; i < len(all); i = int(next.Add(1)) - 1 {
						c.send(all[i])
						if code, _ := c.answer(); code != "AA" {
							b.Errorf("answer %s", code)
						}
					}
				})
			}
			wg.Wait()
			b.StopTimer()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "messages/s")
		})
	}
}
