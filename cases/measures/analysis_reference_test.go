package measures

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// analyzeFile analyzes a testdata file; group "" takes all cases as one.
func analyzeFile(t *testing.T, name, group string, tau float64) Analysis {
	t.Helper()
	return readFile(t, name, group).Analyze(tau)
}

func readFile(t *testing.T, name, group string) Data {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := ReadData(f, group)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return d
}

// analyses gives the analysis of every set of the expected files.
func analyses(t *testing.T, tau float64) map[string]Analyzed {
	t.Helper()
	out := map[string]Analyzed{}
	for _, c := range []struct{ file, group, prefix string }{
		{"input_gehan.csv", "group", "gehan_"}, {"input_gehan.csv", "", "gehan_"},
		{"input_aml.csv", "group", "aml_"}, {"input_aml.csv", "", "aml_"},
		{"input_edge.csv", "set", "edge_"},
		{"input_tracker_synthetic.csv", "", "tracker_"}, {"input_tracker_synthetic.csv", "group", "tracker_"},
	} {
		for _, g := range analyzeFile(t, c.file, c.group, tau).Groups {
			out[c.prefix+strings.ReplaceAll(g.Name, "6-MP", "6MP")] = g
		}
	}
	out["tracker_any_closure"] = out["tracker_all"]
	return out
}

// is compares a figure with a cell; a blank cell is a figure that is not defined.
func is(got Number, cell string) error {
	if !got.Defined() {
		return same(nil, cell)
	}
	f := float64(got)
	return same(&f, cell)
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Source: R 4.2.2, survival 3.5-3, survfit with conf.type "log-log".
func TestAnalysisCurvesAgainstR(t *testing.T) {
	in := analyses(t, 0)
	seen := map[string]int{}
	for _, r := range rows(t, "expected_km.csv") {
		set := r["set"]
		i := seen[set]
		seen[set]++
		if i >= len(in[set].Curve) {
			t.Errorf("%s: only %d steps", set, i)
			continue
		}
		s := in[set].Curve[i]
		for col, got := range map[string]Number{"time": s.Time, "n_risk": Number(s.NRisk), "n_event": Number(s.NEvent), "n_censor": Number(s.NCensor),
			"surv": s.Surv, "se_surv": s.SE, "lo_loglog": s.Low, "hi_loglog": s.High} {
			if err := is(got, r[col]); err != nil {
				t.Errorf("%s time %v %s: %v", set, s.Time, col, err)
			}
		}
	}
	for set, n := range seen {
		if len(in[set].Curve) != n {
			t.Errorf("%s: %d steps, want %d", set, len(in[set].Curve), n)
		}
	}
	medians := 0
	for _, r := range rows(t, "expected_quantiles.csv") {
		if r["conf_type"] != "log-log" || r["prob"] != "0.5" {
			continue
		}
		medians++
		g := in[r["set"]]
		for col, got := range map[string]Number{"quantile": g.Median, "lower": g.MedianLow, "upper": g.MedianHigh} {
			if err := is(got, r[col]); err != nil {
				t.Errorf("%s median %s: %v", r["set"], col, err)
			}
		}
	}
	if medians != len(seen) || medians < 16 {
		t.Errorf("%d medians compared for %d sets", medians, len(seen))
	}
}

// Source: R 4.2.2, survival 3.5-3, summary(survfit, rmean = tau); the last digits by
// a second derivation.
func TestRestrictedMeanAgainstR(t *testing.T) {
	last := analyses(t, 0)
	n := 0
	for _, r := range rows(t, "expected_rmean.csv") {
		n++
		got := analyses(t, num(t, r["tau"]))[r["set"]].RMean
		for col, v := range map[string]Number{"tau": got.Tau, "rmean": got.Value, "se_rmean": got.SE} {
			if err := is(v, r[col]); err != nil {
				t.Errorf("%s tau %s %s: %v", r["set"], r["tau"], col, err)
			}
		}
		if def := last[r["set"]].RMean; is(def.Tau, r["tau"]) == nil && def != got {
			t.Errorf("%s: %v without a horizon, %v with the largest time as horizon", r["set"], def, got)
		}
	}
	if n != 35 {
		t.Errorf("%d rows compared", n)
	}
}

// Source: R 4.2.2, survival 3.5-3, survfit of several states; its standard error is
// that of the delta method.
func TestIncidenceAgainstR(t *testing.T) {
	in := analyses(t, 0)
	at := map[string]int{}
	n := 0
	for _, r := range rows(t, "expected_aj.csv") {
		key := r["set"] + " reason " + r["cause"]
		steps := in[r["set"]].Incidence[r["cause"][0]-'1'].Steps
		i := at[key]
		at[key]++
		n++
		if i >= len(steps) {
			t.Errorf("%s: only %d steps", key, i)
			continue
		}
		for col, v := range map[string]Number{"time": steps[i].Time, "cif": steps[i].Value, "se_delta": steps[i].SE} {
			if err := is(v, r[col]); err != nil {
				t.Errorf("%s time %s %s: %v", key, r["time"], col, err)
			}
		}
		if want := in[r["set"]].Incidence[r["cause"][0]-'1'].Reason; fmt.Sprint(want) != r["cause"] {
			t.Errorf("%s stands at reason %d", key, want)
		}
	}
	if n != 222 {
		t.Errorf("%d rows compared", n)
	}
	for _, r := range rows(t, "expected_cif_milestones.csv") {
		f := in["tracker_all"].Incidence[r["cause"][0]-'1']
		s, limits := f.By(num(t, r["day"]))
		low, high := undefined, undefined
		if limits != nil {
			low, high = Number(limits.Lower), Number(limits.Upper)
		}
		for col, v := range map[string]Number{"day": s.Time, "cif": s.Value, "se": s.SE, "lo_cloglog": low, "hi_cloglog": high} {
			if err := is(v, r[col]); err != nil {
				t.Errorf("reason %s by day %s, %s: %v", r["cause"], r["day"], col, err)
			}
		}
	}
}

// Counting other closures as open, 1 minus Kaplan-Meier, gives the figures of the
// file and overstates; Aalen-Johansen does not. Source: R 4.2.2, survival 3.5-3.
func TestNaiveIncidenceOverstates(t *testing.T) {
	all := readFile(t, "input_tracker_synthetic.csv", "")
	in := all.Analyze(0).Groups[0]
	worse := 0
	for _, r := range rows(t, "expected_naive_vs_aj.csv") {
		cause, day := r["cause"][0]-'0', num(t, r["day"])
		var spans []Span
		for _, o := range all.Observations {
			spans = append(spans, Span{Days: int(o.Time), Event: o.Reason == cause})
		}
		naive := KaplanMeier(spans).DoneBy(int(day)).Share
		if err := same(&naive, r["one_minus_km"]); err != nil {
			t.Errorf("reason %d by day %v, naive: %v", cause, day, err)
		}
		s, _ := in.Incidence[cause-1].By(day)
		if err := is(s.Value, r["aj"]); err != nil {
			t.Errorf("reason %d by day %v: %v", cause, day, err)
		}
		if naive < float64(s.Value) {
			t.Errorf("reason %d by day %v: naive %v is below %v", cause, day, naive, s.Value)
		} else if naive > float64(s.Value)+0.05 {
			worse++
		}
	}
	if worse < 5 {
		t.Errorf("only %d figures overstate by more than 5 points", worse)
	}
}
