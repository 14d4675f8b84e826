package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// TestIntervalsAgainstR counts intervals of the demo's cohort from its kept
// milestones, by day, and compares every figure with what R's survival package
// (Debian's r-cran-survival) makes of the single cases.
func TestIntervalsAgainstR(t *testing.T) {
	needR(t)
	d := filledDemo(t)
	year := measures.Window{From: d.today - 300, To: d.today - 30}
	questions := []measures.Question{
		{From: measures.Referral, To: measures.Closure, Group: "site"},
		{From: measures.Birth, To: measures.Closure, By: measures.ByBirth, Window: year, Group: "gestation"},
		{From: measures.Birth, To: measures.FirstTest, By: measures.ByBirth, Group: "class"},
		{From: measures.Referral, To: measures.Determination, Group: "site"},
		{From: measures.Birth, To: measures.Determination, By: measures.ByBirth, Window: year, Group: "variants"},
		{From: measures.FamilyReached, To: measures.FirstTest, Group: "language"},
		{From: measures.Referral, To: measures.FirstSufficient, Window: year, Group: "year", Class: measures.Ready},
		{From: measures.Referral, To: measures.DoctorTold, Group: "county"},
		{From: measures.FirstTest, To: measures.Determination, Route: "screen", Group: "year"},
	}
	var files []string
	var reports []measures.IntervalReport
	for _, q := range questions {
		if q.By == "" {
			q.By = measures.ByReferral
		}
		r, err := d.site.interval(t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		reports = append(reports, r)
		files = append(files, vectorsFile(t, d, r.Question))
	}
	total := 0
	for i, want := range intervalsInR(t, files) {
		total += compareInterval(t, &reports[i], want)
	}
	if total < 3500 {
		t.Errorf("only %d figures were compared", total)
	}
	t.Logf("%d figures of %d intervals compared", total, len(questions))
}

// filledDemo is the demo's program as it stands on a fixed day.
func filledDemo(t *testing.T) *demoSite {
	t.Helper()
	cfg, err := demoConfig(filepath.Join(t.TempDir(), "demo.db"))
	if err != nil {
		t.Fatal(err)
	}
	d, err := openDemo(t.Context(), cfg, "2026-11-25")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.site.close() })
	if _, err := d.fill(t.Context()); err != nil {
		t.Fatal(err)
	}
	return d
}

// vectorsFile writes the single cases of a question, taken from the cases anew by
// the rules in words: a second reading of them.
func vectorsFile(t *testing.T, d *demoSite, q measures.Question) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("time,status,group\n")
	err := d.site.db.View(t.Context(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			a := d.site.cfg.protocol.Assess(&c, d.today)
			m := cases.MilestonesOf(&c, &a)
			if days, status, ok := vectorOf(q, &m); ok {
				fmt.Fprintf(&b, "%d,%d,%s\n", days, status, groupOf(q, &m))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "vectors.csv")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func vectorOf(q measures.Question, m *cases.Milestones) (days, status int, ok bool) {
	cohort := m.Referred
	if q.By == measures.ByBirth {
		cohort = m.Born
	}
	unready := m.Marks&cases.MarkException != 0
	if m.Marks&cases.MarkTestMessage != 0 || cohort < q.Window.From || q.Window.To != 0 && cohort > q.Window.To ||
		q.Route != "" && m.Route != q.Route || q.Class == measures.Ready && unready {
		return 0, 0, false
	}
	on := map[measures.Milestone]cases.Day{measures.Birth: m.Born, measures.Referral: m.Referred, measures.DoctorTold: m.DoctorTold, measures.FamilyReached: m.FamilyReached,
		measures.FirstTest: m.FirstTest, measures.FirstSufficient: m.FirstSufficient, measures.Determination: m.Determined, measures.Closure: m.Closed}
	from, end := on[q.From], q.AsOf
	if from == 0 {
		return 0, 0, false
	}
	if to := on[q.To]; to != 0 {
		end, status = to, 1
	} else if q.To != measures.Closure {
		if m.Closed != 0 {
			end = m.Closed
		}
		if m.Died != 0 && q.To != measures.Determination {
			end = min(end, m.Died)
		}
	}
	if m.Closed != 0 && (q.To == measures.Determination || q.To == measures.Closure) {
		switch m.ClosedAs { // as the classes of closing are numbered
		case "lost":
			status = 2
		case "died", "moved":
			status = 3
		case "refused", "duplicate":
			status = 4
		}
	}
	if q.To == measures.Closure && status > 1 {
		status = 1
	}
	return int(end - from), status, end >= from
}

// groupOf names the group as the report does, for those of the questions.
func groupOf(q measures.Question, m *cases.Milestones) string {
	year, _, _ := m.Referred.Date()
	name := map[string]string{"site": m.Site, "language": m.Language, "county": m.County, "year": strconv.Itoa(year)}[q.Group]
	switch q.Group {
	case "gestation":
		name = measures.GestationBand(m.Gestation)
	case "variants":
		name = measures.VariantGroup(m.Alleles)
	case "class":
		name = "could be ready by day 28"
		if m.Marks&cases.MarkException != 0 {
			name = "could not be ready by day 28"
		}
	}
	if name == "" {
		return measures.NotRecorded
	}
	return name
}

func intervalsInR(t *testing.T, files []string) []map[string]float64 {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "Rscript", append([]string{"testdata/interval.R"}, files...)...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("R: %v\n%s", err, errs.String())
	}
	figures := make([]map[string]float64, len(files))
	for line := range strings.Lines(string(out)) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if len(f) != 3 {
			t.Fatalf("R printed %q", line)
		}
		i, err := strconv.Atoi(f[0])
		if err != nil {
			t.Fatal(err)
		}
		value := math.NaN()
		if f[2] != "NA" {
			if value, err = strconv.ParseFloat(f[2], 64); err != nil {
				t.Fatal(err)
			}
		}
		if figures[i] == nil {
			figures[i] = map[string]float64{}
		}
		figures[i][f[1]] = value
	}
	return figures
}

// compareInterval compares every figure R gave with the report's.
func compareInterval(t *testing.T, r *measures.IntervalReport, want map[string]float64) int {
	t.Helper()
	got := map[string]float64{}
	groupFigures(got, "all.", &r.All)
	for i := range r.Groups {
		groupFigures(got, r.Groups[i].Name+".", &r.Groups[i])
	}
	if r.LogRank != nil {
		got["log_rank"], got["log_rank.p"] = r.LogRank.ChiSquare, r.LogRank.P
	}
	for path, w := range want {
		v, ok := got[path]
		switch {
		case !ok:
			t.Errorf("%s by %s: there is no %s (in R %v)", r.Interval(), r.Group, path, w)
		case math.IsNaN(v) != math.IsNaN(w), math.Abs(v-w) > 1e-9*math.Abs(w)+1e-12:
			t.Errorf("%s by %s: %s is %.15g, in R %.15g", r.Interval(), r.Group, path, v, w)
		}
	}
	if r.LogRank != nil && math.IsNaN(want["log_rank"]) {
		t.Errorf("%s by %s: R made no test between the groups", r.Interval(), r.Group)
	}
	return len(want)
}

func groupFigures(into map[string]float64, at string, g *measures.GroupReport) {
	put := func(path string, v *float64) {
		into[at+path] = math.NaN()
		if v != nil {
			into[at+path] = *v
		}
	}
	n, done := float64(g.Cases), float64(g.Done)
	put("n", &n)
	put("done", &done)
	for _, q := range []measures.Quantile{g.Quarter, g.Median, g.ThreeQuarters, g.Ninth} {
		put(fmt.Sprintf("q%v", q.P), q.Day)
		put(fmt.Sprintf("q%v.low", q.P), q.Lower)
		put(fmt.Sprintf("q%v.high", q.P), q.Upper)
	}
	for _, s := range g.Shares {
		if s.Known {
			put(fmt.Sprintf("by%d", s.Day), &s.Share)
		}
	}
	mean, se := float64(g.RMean.Value), float64(g.RMean.SE)
	put("rmean", &mean)
	put("rmean.se", &se)
	for _, p := range g.Curve {
		put(fmt.Sprintf("surv%d", p.Day), &p.Waiting)
		put(fmt.Sprintf("se%d", p.Day), p.SE)
		var low, high *float64
		if p.Limits != nil {
			low, high = &p.Limits.Lower, &p.Limits.Upper
		}
		put(fmt.Sprintf("low%d", p.Day), low)
		put(fmt.Sprintf("high%d", p.Day), high)
		for _, f := range g.Incidence {
			s, _ := f.By(float64(p.Day))
			value, se := float64(s.Value), float64(s.SE)
			put(fmt.Sprintf("reason%d.%d", f.Reason, p.Day), &value)
			put(fmt.Sprintf("reason%d.se%d", f.Reason, p.Day), &se)
		}
	}
}
