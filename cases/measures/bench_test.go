package measures

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	"dunlin/cases"
)

// madeUp draws n cases as a program has them: most closed within two months, a
// tenth open, three reasons, ten sites. Fine times all differ, as in no program.
func madeUp(n int, fine bool) Data {
	rng := rand.New(rand.NewPCG(20261125, 1))
	d := Data{Observations: make([]Observation, n)}
	for i := range 10 {
		d.Groups = append(d.Groups, fmt.Sprintf("site %d", i))
	}
	for i := range d.Observations {
		o := Observation{Time: float64(int(7 + rng.ExpFloat64()*24)), Group: uint32(rng.IntN(10))}
		if fine {
			o.Time += rng.Float64()
		}
		if rng.IntN(10) > 0 {
			o.Reason = uint8(1 + rng.IntN(3)*rng.IntN(2))
		}
		d.Observations[i] = o
	}
	return d
}

func BenchmarkAnalyze(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		for name, fine := range map[string]bool{"days": false, "fine": true} {
			d := madeUp(n, fine)
			b.Run(fmt.Sprintf("%d-%s", n, name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					d.Analyze(0)
				}
			})
		}
	}
}

// BenchmarkKaplanMeier is one curve alone, to set beside R's survfit.
func BenchmarkKaplanMeier(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		d := madeUp(n, false)
		spans := make([]Span, n)
		for i, o := range d.Observations {
			spans[i] = Span{Days: int(o.Time), Event: o.Reason > 0}
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				KaplanMeier(spans)
			}
		})
	}
}

// BenchmarkClosureTimes is the whole report of a program: all cases, those who could
// be ready by day 28 and those who could not, four clocks each.
func BenchmarkClosureTimes(b *testing.B) {
	on := cases.MakeDay(2026, 6, 30)
	for _, n := range []int{100_000, 1_000_000} {
		rng := rand.New(rand.NewPCG(7, 7))
		records := make([]Record, n)
		for i := range records {
			r := Record{Born: on - cases.Day(10+rng.IntN(360)), NotReady: i%20 == 0}
			r.Referred = r.Born + 8
			if age := cases.Day(12 + rng.IntN(40)); r.Born+age < on {
				r.FirstTest = r.Born + age
			}
			if r.FirstTest != 0 && i%10 != 0 {
				r.Closed, r.ClosedAs = r.FirstTest+cases.Day(rng.IntN(9)), "not-affected"
			}
			records[i] = r
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				ClosureTimes(records, Window{AsOf: on})
			}
		})
	}
}

// dataCSV writes data as a file.
func dataCSV(d Data) []byte {
	var file bytes.Buffer
	file.WriteString("id,time,status,site\n")
	for i, o := range d.Observations {
		fmt.Fprintf(&file, "%d,%g,%d,%s\n", i, o.Time, o.Reason, d.Groups[o.Group])
	}
	return file.Bytes()
}

// BenchmarkDataFile is report --data: read, analyze, write JSON.
func BenchmarkDataFile(b *testing.B) {
	for name, fine := range map[string]bool{"days": false, "fine": true} {
		raw := dataCSV(madeUp(1_000_000, fine))
		b.Run("1000000-"+name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d, err := ReadData(bytes.NewReader(raw), "site")
				if err != nil {
					b.Fatal(err)
				}
				if err := d.Analyze(0).WriteJSON(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
