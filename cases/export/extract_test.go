package export

import (
	"bytes"
	"io"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"dunlin/cases"
)

var areas = []string{"212", "209"}

// milestones are those of a case on a day after all that is recorded.
func milestones(p *cases.Protocol, k *cases.Case, on cases.Day) cases.Milestones {
	a := p.Assess(k, on)
	return cases.MilestonesOf(k, &a)
}

func extractOf(t testing.TB, from, to int, on cases.Day) *Extract {
	t.Helper()
	e, err := NewExtract(from, to, on, areas)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// TestExtractHoldsNoIdentifier: 10,000 made-up cases with an identifier in every text,
// and none of these, no date and no code in any format of the file.
func TestExtractHoldsNoIdentifier(t *testing.T) {
	on, seed := day(t, "2026-11-25"), rand.Uint64()
	t.Logf("seed %d", seed)
	d, p, e := newDrawer(seed), cases.DefaultProtocol(), extractOf(t, 2023, 2025, on)
	var dates []string
	for range 10_000 {
		k := d.drawCase(day(t, "2023-01-01")+cases.Day(d.IntN(3*365)), on)
		m := milestones(p, k, on)
		e.Add(&m)
		dates = append(dates, k.Infant.Born.String(), k.Referral.On.String())
	}
	if e.Len() != 10_000 || len(d.planted) < 300_000 {
		t.Fatalf("%d lines, %d identifiers planted", e.Len(), len(d.planted))
	}
	b := e.Book("Program")
	var rows [][]string
	for _, format := range []string{CSV, ZIP, XLSX} {
		data := written(t, &b, format, "")
		if format == XLSX {
			f, err := excelize.OpenReader(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			if rows, err = f.GetRows("extract"); err != nil {
				t.Fatal(err)
			}
			f.Close()
			var all []string
			for _, r := range rows {
				all = append(all, strings.Join(r, "\x1f"))
			}
			data = []byte(strings.Join(all, "\n"))
		}
		if format != ZIP { // packed; its files are those of CSV
			lookForAny(t, format, data, append(dates, d.planted...))
		}
	}
	checkCells(t, rows)
}

// lookForAny fails when a text of the list, or a word they are made of, is in the data.
func lookForAny(t *testing.T, where string, data []byte, list []string) {
	t.Helper()
	for _, w := range append(words, "example", "555", "MRN", "County", "Lane", "@", "F508del", "AB-") {
		if bytes.Contains(data, []byte(w)) {
			t.Errorf("%s holds %q", where, w)
		}
	}
	if m := regexp.MustCompile(`\d{4}-\d|\d{5,}`).Find(data); m != nil {
		t.Errorf("%s holds a date or a long number: %s", where, m)
	}
	cells := map[string]bool{}
	for _, c := range strings.FieldsFunc(string(data), func(r rune) bool { return r == ',' || r == '\n' || r == '\r' || r == '\x1f' }) {
		cells[strings.Trim(c, `"`)] = true
	}
	for _, s := range list {
		if cells[s] {
			t.Fatalf("%s holds %q", where, s)
		}
	}
}

// checkCells holds each cell to the dictionary.
func checkCells(t *testing.T, rows [][]string) {
	t.Helper()
	for _, r := range rows[1:] {
		for i, v := range r {
			c := extractColumns[i].Column
			switch {
			case v == "":
			case c.Allowed != "" && c.Key != "zip3":
				if !slices.Contains(strings.FieldsFunc(c.Allowed, func(r rune) bool { return r == ',' || r == ' ' }), v) {
					t.Fatalf("%s is %q", c.Key, v)
				}
			case c.Key == "zip3":
				if v != "000" && !slices.Contains(areas, v) {
					t.Fatalf("zip3 is %q", v)
				}
			case c.Type == isWhole:
				n, err := strconv.Atoi(v)
				if err != nil || c.Unit == "g" && n%100 != 0 {
					t.Fatalf("%s is %q", c.Key, v)
				}
			}
		}
	}
}

// TestExtractTellsNoDay: a case that happened on other days of the same year of birth,
// at the same ages, gives the same line, whatever day the extract is made.
func TestExtractTellsNoDay(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	d, p := newDrawer(seed), cases.DefaultProtocol()
	on, first, told := day(t, "2026-11-25"), day(t, "2024-01-01"), 0
	for range 2000 {
		born := first + cases.Day(d.IntN(366))
		k := d.drawCase(born, on-400)
		later := k.Clone()
		n := first + cases.Day(d.IntN(366)) - born
		move(reflect.ValueOf(&later).Elem(), n)
		later.Prepare()
		a, b := extractOf(t, 2024, 2024, on), extractOf(t, 2024, 2024, on+cases.Day(d.IntN(500)))
		x, y := milestones(p, k, on), milestones(p, &later, on)
		a.Add(&x)
		b.Add(&y)
		if a.lines[0] != b.lines[0] {
			t.Fatalf("born %s and %d days later:\n%v\n%v", born, n, a.lines[0], b.lines[0])
		}
		if n != 0 {
			told++
		}
	}
	if told < 1000 {
		t.Errorf("only %d cases were moved", told)
	}
}

func TestExtractYears(t *testing.T) {
	on := day(t, "2026-01-02")
	for _, c := range []struct{ from, to int }{{2025, 2026}, {2026, 2026}, {2025, 2024}, {0, 2025}} {
		if _, err := NewExtract(c.from, c.to, on, nil); cases.KindOf(err) != cases.Invalid {
			t.Errorf("%d to %d: %v", c.from, c.to, err)
		}
	}
	e := extractOf(t, 2025, 2025, on)
	for _, born := range []string{"2024-12-31", "2025-01-01", "2025-12-31", "2026-01-01"} {
		e.Add(&cases.Milestones{Born: day(t, born), Referred: day(t, born)})
	}
	e.Add(&cases.Milestones{Born: day(t, "2025-05-05"), Marks: cases.MarkTestMessage})
	if e.Len() != 2 || !e.Few(3) || e.Few(2) || extractOf(t, 2025, 2025, on).Few(11) {
		t.Errorf("%d lines", e.Len())
	}
}

// TestExtractOrder: the order of lines depends on nothing but the lines.
func TestExtractOrder(t *testing.T) {
	on := day(t, "2026-11-25")
	d, p := newDrawer(7), cases.DefaultProtocol()
	var list []cases.Milestones
	for range 200 {
		list = append(list, milestones(p, d.drawCase(day(t, "2025-03-01")+cases.Day(d.IntN(100)), on), on))
	}
	file := func() []byte {
		e := extractOf(t, 2025, 2025, on)
		for i := range list {
			e.Add(&list[i])
		}
		b := e.Book("P")
		return written(t, &b, CSV, "")
	}
	first := file()
	d.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	if !bytes.Equal(first, file()) {
		t.Error("the order of entry shows in the file")
	}
}

// TestExtractTakesNoOtherWords: what is not on a list is left empty, and columns fit a line.
func TestExtractTakesNoOtherWords(t *testing.T) {
	if len(extractColumns) > extractWidth {
		t.Fatalf("%d columns in a line of %d", len(extractColumns), extractWidth)
	}
	if len(safeHarbor) != 18 {
		t.Errorf("%d classes of identifiers", len(safeHarbor))
	}
	e, born := extractOf(t, 2025, 2025, day(t, "2026-11-25")), day(t, "2025-02-03")
	e.Add(&cases.Milestones{Case: "Zorander", Reference: "Zorander", Born: born, Closed: born + 9, Route: "Zorander", ClosedAs: "Zorander", Site: "Zorander", Language: "Zorander", Region: "Zorander", Postal: "Zor",
		Tests: []cases.TestMark{{On: born + 20, Outcome: "Zorander", Site: "Zorander"}}, Visits: []cases.VisitMark{{On: born, Site: "Zorander", State: "Zorander"}}})
	b := e.Book("P")
	if data := written(t, &b, CSV, ""); bytes.Contains(data, []byte("Zor")) || !bytes.Contains(data, []byte(`"000"`)) || !bytes.Contains(data, []byte(`"other"`)) {
		t.Errorf("%s", data)
	}
}

func BenchmarkExtract100000(b *testing.B) {
	d, p, on := newDrawer(7), cases.DefaultProtocol(), day(b, "2026-11-25")
	var list []cases.Milestones
	for range 1000 {
		list = append(list, milestones(p, d.drawCase(day(b, "2025-03-01")+cases.Day(d.IntN(100)), on), on))
	}
	for _, format := range []string{CSV, XLSX} {
		b.Run(format, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				e := extractOf(b, 2025, 2025, on)
				for i := range 100_000 {
					e.Add(&list[i%len(list)])
				}
				book := e.Book("P")
				if _, err := book.Write(io.Discard, format, ""); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
