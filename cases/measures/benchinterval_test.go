package measures

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"dunlin/cases"
)

// manyMilestones are n cases of ten years, as a program has them: most closed, nine
// sites and one not recorded.
func manyMilestones(n int) []cases.Milestones {
	rng := rand.New(rand.NewPCG(20261125, 3))
	out := make([]cases.Milestones, n)
	for i := range out {
		m := &out[i]
		m.Born = asOf - cases.Day(rng.IntN(3650))
		m.Referred, m.Route = m.Born+cases.Day(5+rng.IntN(5)), "screen"
		if site := rng.IntN(10); site > 0 {
			m.Site = fmt.Sprintf("site %d", site)
		}
		if c := m.Referred + cases.Day(7+rng.ExpFloat64()*24); rng.IntN(10) > 0 && c <= asOf {
			m.Closed, m.ClosedAs = c, []string{"carrier", "cf", "lost", "died"}[rng.IntN(4)]
		}
	}
	return out
}

// BenchmarkIntervalTally counts milestones in memory and makes the published report.
func BenchmarkIntervalTally(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		list := manyMilestones(n)
		for _, group := range []string{"", "site"} {
			b.Run(fmt.Sprintf("%d-%s", n, group), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					countAll(list, group).Publish(SmallNumbers{Below: 11})
				}
			})
		}
	}
}

func countAll(list []cases.Milestones, group string) IntervalReport {
	t := NewIntervalTally(Question{From: Referral, To: Closure, By: ByReferral, Group: group, Window: Window{AsOf: asOf}})
	for i := range list {
		t.Add(&list[i])
	}
	return t.Report()
}

// BenchmarkBesideR makes one curve, and one for each site, of the same vectors as R's
// survfit in the same run, and gives R's time as a multiple of ours. R starts with
// the times at hand; here they are counted from the milestones, so that the whole
// report (quantiles, means, incidences, test) stands against R's curves alone.
func BenchmarkBesideR(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		list := manyMilestones(n)
		one, grouped := survfitInR(b, list)
		for _, c := range []struct {
			group string
			r     float64
		}{{"", one}, {"site", grouped}} {
			b.Run(fmt.Sprintf("%d-%s", n, c.group), func(b *testing.B) {
				least := time.Hour
				for b.Loop() {
					began := time.Now()
					countAll(list, c.group)
					least = min(least, time.Since(began))
				}
				b.ReportMetric(c.r, "R-ms")
				b.ReportMetric(float64(least.Microseconds())/1000, "least-ms")
				b.ReportMetric(c.r*1000/float64(least.Microseconds()), "R/ours")
			})
		}
	}
}

// survfitInR gives the times in ms of R for one curve, and for one of each site.
func survfitInR(b *testing.B, list []cases.Milestones) (one, grouped float64) {
	b.Helper()
	if err := exec.Command("Rscript", "-e", "library(survival)").Run(); err != nil {
		b.Skip("R with its survival package is not installed (Debian: r-base-core, r-cran-survival)")
	}
	file := filepath.Join(b.TempDir(), "vectors.csv")
	f, err := os.Create(file)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "time,event,group")
	for i := range list {
		m := &list[i]
		if m.Referred > asOf {
			continue
		}
		end, event := asOf, 0
		if m.Closed != 0 {
			end, event = m.Closed, 1
		}
		fmt.Fprintf(w, "%d,%d,%s\n", end-m.Referred, event, m.Site)
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	f.Close()
	out, err := exec.Command("Rscript", "testdata/survfit.R", file).Output()
	if err != nil {
		b.Fatal(err)
	}
	if _, err := fmt.Sscan(string(out), &one, &grouped); err != nil {
		b.Fatalf("R printed %q: %v", out, err)
	}
	return one, grouped
}
