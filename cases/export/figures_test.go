package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// drawn are the milestones of made-up cases with sites and languages of few words, so
// that groups are of all sizes.
func drawn(t testing.TB, n int, on cases.Day) []cases.Milestones {
	t.Helper()
	d, p := newDrawer(11), cases.DefaultProtocol()
	list := make([]cases.Milestones, n)
	for i := range list {
		list[i] = milestones(p, d.drawCase(on-500+cases.Day(d.IntN(400)), on), on)
		list[i].Site, list[i].Language = pick(d, "alder-bay", "alder-bay", "alder-bay", "tern-point"), pick(d, "en", "en", "es")
		if i%50 == 0 {
			list[i].Language = "so"
		}
		for j := range list[i].Tests {
			list[i].Tests[j].Site = list[i].Site
		}
	}
	return list
}

func intervalOf(list []cases.Milestones, q measures.Question) measures.IntervalReport {
	t := measures.NewIntervalTally(q)
	for i := range list {
		t.Add(&list[i])
	}
	return t.Report()
}

// sheets are the tables of a book, read back.
func sheets(t *testing.T, b *Book) map[string][][]string {
	t.Helper()
	out := map[string][][]string{}
	for _, name := range b.TableNames() {
		rows, err := csv.NewReader(bytes.NewReader(written(t, b, CSV, name))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		out[name] = rows
	}
	return out
}

// TestIntervalFiles: the files hold the published figures, hidden ones as hidden, and
// what adds up in the figures adds up in the file.
func TestIntervalFiles(t *testing.T) {
	on := day(t, "2026-03-05")
	list := drawn(t, 300, on)
	q := measures.Question{From: measures.Birth, To: measures.Closure, By: measures.ByReferral, Group: "language"}
	q.AsOf = on
	rep := intervalOf(list, q)
	for _, below := range []int{0, 11} {
		p := rep.Publish(measures.SmallNumbers{Below: below})
		b := IntervalBook(p, Made{Program: "P", Filter: q.Words(), AsOf: on, By: "A", Full: below == 0, Below: below})
		got := sheets(t, &b)
		checkDictionary(t, &b, got)
		hidden := 0
		for i, g := range append([]measures.PublishedGroup{p.All}, p.Groups...) {
			row := got["figures"][i+1]
			for j, c := range []measures.Cell{g.Cases, g.Done, g.Waiting, g.Left} {
				want := strconv.Itoa(c.N)
				if c.Hidden {
					want = "hidden"
					hidden++
				}
				if row[j+2] != want {
					t.Errorf("below %d, %s: %s is %s, want %s", below, row[1], got["figures"][0][j+2], row[j+2], want)
				}
			}
		}
		about := fmt.Sprint(got["about"])
		if below == 0 && (hidden > 0 || !strings.Contains(about, FullMark)) || below > 0 && (hidden == 0 || !strings.Contains(about, "Counts from 1 to 10 are hidden")) {
			t.Errorf("below %d: %d hidden, about %s", below, hidden, about)
		}
		done := 0
		for _, r := range got["curve"][1:] {
			if r[0] == "all" {
				n, err := strconv.Atoi(r[4])
				if err != nil {
					t.Fatal(err)
				}
				done += n
			}
		}
		if below == 0 && done != p.All.Done.N || done == 0 {
			t.Errorf("below %d: the curve has %d done of %v", below, done, p.All.Done)
		}
		if len(got["closings"]) < 4 || len(got["in_words"]) < 2 || len(got["definitions"]) != 3 {
			t.Errorf("below %d: %d closings, %d sentences", below, len(got["closings"]), len(got["in_words"]))
		}
	}
}

// TestRatesAndAgesFiles: the same of rates, first tests and open cases.
func TestRatesAndAgesFiles(t *testing.T) {
	on := day(t, "2026-03-05")
	list := drawn(t, 300, on)
	w := measures.Window{AsOf: on}
	rates, ages := measures.NewRatesTally(w, cases.DefaultProtocol()), measures.NewAgesTally(w)
	var open []measures.OpenCase
	for i := range list {
		rates.Add(&list[i])
		ages.Add(&list[i])
		if list[i].Closed == 0 {
			open = append(open, measures.OpenCase{Reference: "R", Age: int(on - list[i].Born), Late: i%9 - 2, Step: "decide"})
		}
	}
	for _, rule := range []measures.SmallNumbers{{}, {Below: 11}} {
		m := Made{Program: "P", Filter: "All", AsOf: on, By: "A", Full: rule.Below == 0, Below: rule.Below}
		p := rates.Report().Publish(rule)
		b := RatesBook(p, ages.Report(rule), m)
		got := sheets(t, &b)
		checkDictionary(t, &b, got)
		want := len(p.Rates) + 1
		for _, x := range p.Breakdowns {
			want += len(x.Rows)
		}
		if len(got["rates"]) != want || len(got["definitions"]) != len(p.Definitions)+1 || len(got["first_test_ages"]) < 2 {
			t.Errorf("%d lines of rates for %d", len(got["rates"]), want)
		}
		for _, r := range got["rates"][1:] {
			if r[4] == "hidden" && r[6] != "" {
				t.Errorf("a rate beside a hidden count: %q", r)
			}
			if n, err := strconv.Atoi(r[4]); err == nil && rule.Below > 0 && n > 0 && n < rule.Below {
				t.Errorf("a small count: %q", r)
			}
		}
		a := AgeingBook(measures.AgeOpen(open, measures.ByAge, measures.ByLate, rule), m)
		got = sheets(t, &a)
		checkDictionary(t, &a, got)
		if last := got["open_cases"][len(got["open_cases"])-1]; last[1] != "all" || last[3] != "all" || last[4] != strconv.Itoa(len(open)) && last[4] != "hidden" {
			t.Errorf("the total is %q of %d", last, len(open))
		}
	}
}

// checkDictionary: every column of every table of figures has its line, and no table
// has a column twice.
func checkDictionary(t *testing.T, b *Book, got map[string][][]string) {
	t.Helper()
	lines := map[string][]string{}
	for _, r := range got["dictionary"][1:] {
		if lines[r[0]+"."+r[1]] != nil {
			t.Errorf("%s.%s stands twice", r[0], r[1])
		}
		lines[r[0]+"."+r[1]] = r
	}
	for _, table := range b.Tables {
		for _, key := range got[table.Name][0] {
			if r := lines[table.Name+"."+key]; r == nil || r[2] == "" || r[3] == "" || r[5] == "" {
				t.Errorf("%s.%s is not explained: %q", table.Name, key, r)
			}
		}
	}
}

// TestLineListColumns: every column is explained, and text that looks like a formula
// is none in the list.
func TestLineListColumns(t *testing.T) {
	d, p, on := newDrawer(5), cases.DefaultProtocol(), day(t, "2026-03-05")
	b := RowsBook(Made{Program: "P", Filter: "All", AsOf: on, By: "A"}, func(f func(*cases.Case, *cases.Assessment) error) error {
		for range 50 {
			k := d.drawCase(on-60, on)
			k.Infant.Family, k.Notes[0].Text = "=1+1", "Never exported"
			a := p.AssessStep(k, on)
			if err := f(k, &a); err != nil {
				return err
			}
		}
		return nil
	})
	got := sheets(t, &b)
	checkDictionary(t, &b, got)
	if len(got["cases"]) != 51 || got["cases"][1][2] != "'=1+1" {
		t.Errorf("%d rows, %q", len(got["cases"]), got["cases"][1])
	}
	for _, r := range got["cases"] {
		if strings.Contains(strings.Join(r, " "), "Never exported") {
			t.Fatal("a note is in the list")
		}
	}
}
