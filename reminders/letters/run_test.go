package letters

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"runtime"
	"strings"
	"testing"

	"dunlin/cases"
)

// many gives n letters of two sheets, made as they are asked for.
func many(t testing.TB, n int) iter.Seq2[Letter, error] {
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	data := asJSON(t, l)
	return func(yield func(Letter, error) bool) {
		for i := range n {
			l, err := Decode(cases.Letter{Number: fmt.Sprintf("%08d", i), Data: []byte(data)})
			l.Address = append([]string{fmt.Sprintf("Parent or guardian %d", i)}, l.Address[1:]...)
			if !yield(l, err) {
				return
			}
		}
	}
}

func TestRunOfManyLettersStandsInOrder(t *testing.T) {
	var b bytes.Buffer
	count, err := PrintRun{Name: "2026-03-10 a", On: adaToday, Each: many(t, 60)}.WritePDF(&b)
	if err != nil || count.Letters != 60 || count.Sheets != 120 {
		t.Fatalf("%+v, %v", count, err)
	}
	pages := strings.Split(string(poppler(t, b.Bytes(), "pdftotext", "-raw", "-enc", "UTF-8")), "\f")
	front := len(pages) - 1 - 120
	if front < 2 {
		t.Fatalf("%d pages", len(pages))
	}
	if !strings.Contains(pages[1], "Print run 2026-03-10 a, count sheet, page 2 of ") || !strings.Contains(pages[1], "No. Letter What Sheets") {
		t.Errorf("the second count sheet: %s", pages[1])
	}
	for i := range 60 {
		if page := pages[front+2*i]; !strings.Contains(page, fmt.Sprintf("Letter %08d, page 1 of 2", i)) || !strings.Contains(page, fmt.Sprintf("Parent or guardian %d\n", i)) {
			t.Fatalf("letter %d is not at its place: %s", i, page)
		}
	}
}

func TestRunNamesALetterThatCannotBeRead(t *testing.T) {
	one := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	var b bytes.Buffer
	run := PrintRun{Name: "x", On: adaToday, Each: func(yield func(Letter, error) bool) {
		_ = yield(Letter{Number: "BAD22222", Kind: cases.LetterBooking}, errors.New("the record is damaged")) && yield(Letter{Number: "BAD33333"}, nil) && yield(one, nil)
	}}
	count, err := run.WritePDF(&b)
	if err != nil || count.Letters != 1 || len(count.SetAside) != 2 {
		t.Fatalf("%+v, %v", count, err)
	}
	if text := flat(string(poppler(t, b.Bytes(), "pdftotext", "-raw"))); !strings.Contains(text, "BAD22222, appointment: the record is damaged.") || !strings.Contains(text, "BAD33333, of no kind: ") {
		t.Error(text)
	}
}

func TestRunThatChangesWhileItIsPrintedIsNoRun(t *testing.T) {
	one := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	for name, second := range map[string][]Letter{"other": {{}}, "fewer": nil, "more": {one, one}} {
		asked := 0
		run := PrintRun{Name: "x", On: adaToday, Each: func(yield func(Letter, error) bool) {
			ls := []Letter{one}
			if asked++; asked == 2 {
				ls = second
			}
			for _, l := range ls {
				if !yield(l, nil) {
					return
				}
			}
		}}
		if _, err := run.WritePDF(io.Discard); err == nil || !strings.Contains(err.Error(), "while it was printed") {
			t.Errorf("%s: err = %v", name, err)
		}
	}
}

// BenchmarkPrintRun sets 50, 500 and 5,000 letters of two sheets as one PDF. What is
// live in memory when half is written must not grow with the letters, but for the
// lines of the count sheet.
func BenchmarkPrintRun(b *testing.B) {
	for _, n := range []int{50, 500, 5000} {
		b.Run(fmt.Sprint(n, " letters"), func(b *testing.B) {
			each := many(b, n)
			asked := 0
			var live, system float64
			watched := func(yield func(Letter, error) bool) {
				asked++
				i := 0
				for l, err := range each {
					if i++; asked%2 == 0 && i == n/2 {
						runtime.GC()
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						live, system = float64(m.HeapAlloc)/1e6, float64(m.Sys)/1e6
					}
					if !yield(l, err) {
						return
					}
				}
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := (PrintRun{Name: "x", On: adaToday, Each: watched}).WritePDF(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(live, "MB-live")
			b.ReportMetric(system, "MB-system")
		})
	}
}
