package schedule

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// Where every infant has a first and a last day, places are single and nobody is far
// away, giving each place in order of day to the infant that is due first seats the
// most infants possible (Glover, Naval Research Logistics Quarterly 1967, on convex
// bipartite graphs; cited from memory). The assignment must seat as many.
func TestSweepSeatsAsMany(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, places := rapid.IntRange(1, 40).Draw(t, "infants"), rapid.IntRange(1, 40).Draw(t, "places")
		type span struct{ from, to cases.Day }
		var spans []span
		for range n {
			from := cases.Day(rapid.IntRange(0, 30).Draw(t, "from"))
			spans = append(spans, span{from, from + cases.Day(rapid.IntRange(0, 10).Draw(t, "days"))})
		}
		days := make([]cases.Day, places)
		for c := range days {
			days[c] = cases.Day(rapid.IntRange(0, 40).Draw(t, "day"))
		}
		cost, alone := make([]int64, n*places), make([]int64, n)
		for r, s := range spans {
			alone[r] = 1
			for c, d := range days {
				if d < s.from || d > s.to {
					cost[r*places+c] = forbidden
				}
			}
		}
		m := newMatcher(cost, alone, places)
		m.solve()
		m.settleTies(rising(n))
		seated, left := 0, append([]span(nil), spans...)
		for d := cases.Day(0); d <= 40; d++ {
			for _, day := range days {
				if day != d {
					continue
				}
				best := -1
				for i, s := range left {
					if s.from <= d && d <= s.to && (best < 0 || s.to < left[best].to) {
						best = i
					}
				}
				if best >= 0 {
					seated++
					left = append(left[:best], left[best+1:]...)
				}
			}
		}
		if got := int64(n) - m.total(); got != int64(seated) {
			t.Fatalf("the assignment seats %d, the sweep %d", got, seated)
		}
	})
}

// TestOutlookAddsUp: the rows of the sites hold every place once, and everybody who
// waits is counted in exactly one of week, site, nowhere and undated.
func TestOutlookAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q, ws := drawWorld(t, 8)
		b := NewBoard(q)
		o := b.Look(ws, 4)
		free, ready := 0, 0
		for _, r := range append([]Row{o.All}, o.Sites...) {
			outlookBalances(t, &r)
		}
		for _, r := range o.Sites {
			for n, w := range r.Weeks {
				free += w.Free
				ready += len(w.Ready)
				if w.Kept > w.Free || w.From != springDay+cases.Day(7*n) {
					t.Fatalf("%s: %+v", r.Key, w)
				}
			}
		}
		if free != len(b.Places) {
			t.Fatalf("%d free places at sites, %d on the board", free, len(b.Places))
		}
		if all := ready + len(o.Nowhere) + len(o.Undated); all != len(ws) {
			t.Fatalf("%d counted, %d wait", all, len(ws))
		}
		total := 0
		for _, w := range o.All.Weeks {
			total += len(w.Ready)
		}
		if total != ready+len(o.Nowhere) {
			t.Fatalf("all: %d, by site %d, nowhere %d", total, ready, len(o.Nowhere))
		}
	})
}

// outlookBalances: nobody waits who has not become ready, nobody twice, and no place is
// left while somebody waits, but for the places kept for repeats.
func outlookBalances(t *rapid.T, r *Row) {
	ready, free, kept := 0, 0, 0
	seen := map[string]bool{}
	for n := range r.Weeks {
		w := &r.Weeks[n]
		for _, ref := range w.Ready {
			seen[ref] = true
		}
		ready, free, kept = ready+len(w.Ready), free+w.Free, kept+w.Kept
		again := map[string]bool{}
		for _, ref := range w.Waiting {
			if !seen[ref] || again[ref] {
				t.Fatalf("%s, week %d: %s waits and was not ready, or waits twice", r.Name, n, ref)
			}
			again[ref] = true
		}
		if w.Short() < ready-free {
			t.Fatalf("%s, week %d: %d wait of %d, with %d places", r.Name, n, w.Short(), ready, free)
		}
		if n == 0 && w.Short() > 0 && w.Short() > ready-(free-kept) {
			t.Fatalf("%s: %d wait in the first week of %d, with %d places not kept", r.Name, w.Short(), ready, free-kept)
		}
	}
}

// BenchmarkLook counts 2,000 infants over 8 weeks at four sites.
func BenchmarkLook(b *testing.B) {
	q, ws := crowd(2000, 400)
	board := NewBoard(q)
	b.ReportAllocs()
	for b.Loop() {
		if o := board.Look(ws, 8); len(o.Sites) != 4 {
			b.Fatal(fmt.Sprint(len(o.Sites)))
		}
	}
}
