package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// rJob is one analysis to be made here and in R.
type rJob struct {
	name, file, group string
	tau               float64
}

// TestReportAgainstR makes each analysis with report --data and with R's survival
// package (Debian's r-cran-survival), and compares every figure at 1e-9.
func TestReportAgainstR(t *testing.T) {
	needR(t)
	dir := "../cases/measures/testdata/"
	jobs := []rJob{
		{"gehan", dir + "input_gehan.csv", "group", 0}, {"gehan, all", dir + "input_gehan.csv", "", 0},
		{"gehan to 20", dir + "input_gehan.csv", "group", 20}, {"gehan by pair", dir + "input_gehan.csv", "pair", 0},
		{"gehan past the last", dir + "input_gehan.csv", "group", 100},
		{"aml", dir + "input_aml.csv", "group", 0}, {"aml, all", dir + "input_aml.csv", "", 48},
		{"tracker", dir + "input_tracker_synthetic.csv", "group", 0}, {"tracker, all", dir + "input_tracker_synthetic.csv", "", 28.5},
		{"edge", dir + "input_edge.csv", "set", 0},
	}
	jobs = append(jobs, drawnJobs(t)...)
	jobs = append(jobs, demoJobs(t)...)
	figures := inR(t, jobs)
	total := 0
	for i, j := range jobs {
		args := []string{"report", "--data", j.file, "--json"}
		if j.group != "" {
			args = append(args, "--group", j.group)
		}
		if j.tau != 0 {
			args = append(args, "--tau", fmt.Sprint(j.tau))
		}
		code, out, errs := call(t, "", args...)
		if code != exitOK {
			t.Fatalf("%s: code %d, %s", j.name, code, errs)
		}
		total += compareWithR(t, j.name, out, figures[i])
	}
	if total < 10_000 {
		t.Errorf("only %d figures were compared", total)
	}
	t.Logf("%d figures of %d analyses compared", total, len(jobs))
}

func needR(t *testing.T) {
	t.Helper()
	out, err := exec.Command("Rscript", "-e", "library(survival)").CombinedOutput()
	if err == nil {
		return
	}
	if os.Getenv("DUNLIN_CI") != "" {
		t.Fatalf("R with its survival package must be there: %v %s", err, out)
	}
	t.Skip("R with its survival package is not installed (Debian: r-base-core, r-cran-survival); not compared with it")
}

// inR gives for each job its figures by path.
func inR(t *testing.T, jobs []rJob) []map[string]string {
	t.Helper()
	var list strings.Builder
	list.WriteString("file,group,tau\n")
	for _, j := range jobs {
		fmt.Fprintf(&list, "%q,%q,%v\n", j.file, j.group, j.tau)
	}
	file := filepath.Join(t.TempDir(), "jobs.csv")
	if err := os.WriteFile(file, []byte(list.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "Rscript", "testdata/survival.R", file)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("R: %v\n%s", err, errs.String())
	}
	figures := make([]map[string]string, len(jobs))
	for line := range strings.Lines(string(out)) {
		f := strings.Split(strings.TrimSpace(line), ",")
		i, err := strconv.Atoi(f[0])
		if err != nil || len(f) != 3 {
			t.Fatalf("R printed %q", line)
		}
		if figures[i] == nil {
			figures[i] = map[string]string{}
		}
		figures[i][f[1]] = f[2]
	}
	return figures
}

// compareWithR compares each figure of an analysis with R's: the same figures exist
// on both sides, and agree.
func compareWithR(t *testing.T, name, out string, want map[string]string) int {
	t.Helper()
	var a any
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatal(err)
	}
	got := map[string]*float64{}
	flatten(got, "", a)
	for path, v := range got {
		w, ok := want[path]
		switch {
		case !ok && path == "log_rank" && v == nil:
		case !ok && strings.HasSuffix(path, ".reason"): // of a group without closures
		case !ok:
			t.Errorf("%s: R has no %s", name, path)
		case v == nil && w != "NA":
			t.Errorf("%s: %s is not defined, in R it is %s", name, path, w)
		case v != nil && w == "NA":
			t.Errorf("%s: %s is %v, in R it is not defined", name, path, *v)
		case v != nil:
			r, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(*v-r) > 1e-9*math.Abs(r)+1e-15 {
				t.Errorf("%s: %s is %.17g, in R %s", name, path, *v, w)
			}
		}
	}
	for path, w := range want {
		if _, ok := got[path]; !ok && !(strings.HasPrefix(path, "log_rank") && got["log_rank"] == nil && w == "NA") {
			t.Errorf("%s: %s of R (%s) is missing", name, path, w)
		}
	}
	return len(got)
}

// flatten names every figure of a JSON value by its path.
func flatten(into map[string]*float64, path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			flatten(into, strings.TrimPrefix(path+"."+k, "."), x)
		}
	case []any:
		for i, x := range v {
			flatten(into, fmt.Sprintf("%s.%d", path, i), x)
		}
	case float64:
		into[path] = &v
	case nil:
		into[path] = nil
	}
}

// drawnJobs makes up data sets of many shapes: ties, times in halves, heavy
// censoring, few cases, up to three reasons and four groups.
func drawnJobs(t *testing.T) []rJob {
	t.Helper()
	rng := rand.New(rand.NewPCG(20261125, 6))
	dir := t.TempDir()
	var jobs []rJob
	for i := range 60 {
		var b strings.Builder
		b.WriteString("# made up\ntime,status,site\n")
		longest, open, groups, reasons := 2+rng.IntN(120), rng.Float64(), 1+rng.IntN(4), 1+rng.IntN(3)
		for range 2 + rng.IntN(1+1<<(i%8)) {
			status := 0
			if rng.Float64() > open {
				status = 1 + rng.IntN(reasons)
			}
			fmt.Fprintf(&b, "%v,%d,%c\n", float64(rng.IntN(longest))/2, status, 'a'+rune(rng.IntN(groups)))
		}
		j := rJob{fmt.Sprintf("drawn %d", i), filepath.Join(dir, fmt.Sprintf("drawn%d.csv", i)), []string{"site", ""}[i%2], float64(i % 5 * 7)}
		if err := os.WriteFile(j.file, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		jobs = append(jobs, j)
	}
	return jobs
}

// demoJobs writes the cohort of the demo as data files: by closure class and site,
// and by readiness.
func demoJobs(t *testing.T) []rJob {
	t.Helper()
	d := filledDemo(t)
	var records []measures.Record
	err := d.site.db.View(t.Context(), func(r cases.Reader) (err error) {
		records, err = measures.Collect(r.All(), d.site.cfg.protocol, d.today)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	var jobs []rJob
	for name, of := range map[string]func(measures.Record) string{
		"site":  func(r measures.Record) string { return r.FirstSite },
		"ready": func(r measures.Record) string { return fmt.Sprintf("exception %v", r.NotReady) },
		"route": func(r measures.Record) string { return r.Route },
	} {
		data := measures.ClosureData(records, measures.Window{AsOf: d.today}, of)
		var b strings.Builder
		fmt.Fprintf(&b, "time,status,%s\n", name)
		for _, o := range data.Observations {
			fmt.Fprintf(&b, "%v,%d,%s\n", o.Time, o.Reason, data.Groups[o.Group])
		}
		j := rJob{"demo by " + name, filepath.Join(t.TempDir(), "demo.csv"), name, 0}
		if err := os.WriteFile(j.file, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		jobs = append(jobs, j)
	}
	if len(records) < 100 {
		t.Errorf("the demo has only %d cases", len(records))
	}
	return jobs
}
