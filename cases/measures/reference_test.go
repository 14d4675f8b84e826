package measures

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// rows reads a testdata CSV into one map a row, keyed by its header.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make([]map[string]string, 0, len(all)-1)
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = rec[i]
		}
		out = append(out, m)
	}
	return out
}

// sets returns the input spans by the set names of the expected files.
func sets(t *testing.T) map[string][]Span {
	t.Helper()
	out := map[string][]Span{}
	add := func(r map[string]string, event bool, names ...string) {
		days, err := strconv.Atoi(r["time"])
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range names {
			out[n] = append(out[n], Span{Days: days, Event: event})
		}
	}
	for _, r := range rows(t, "input_gehan.csv") {
		name := map[string]string{"6-MP": "gehan_6MP", "control": "gehan_control"}[r["group"]]
		add(r, r["event"] == "1", name, "gehan_all")
	}
	for _, r := range rows(t, "input_aml.csv") {
		add(r, r["event"] == "1", "aml_"+r["group"], "aml_all")
	}
	for _, r := range rows(t, "input_tracker_synthetic.csv") {
		add(r, r["status"] != "0", "tracker_any_closure")
	}
	for _, r := range rows(t, "input_edge.csv") {
		add(r, r["event"] == "1", "edge_"+r["set"])
	}
	return out
}

// same compares a value at 1e-9 relative with a CSV cell of ten significant digits,
// at 1e-16 with 0; a blank cell means that the value is not defined.
func same(got *float64, cell string) error {
	if cell == "" {
		if got != nil {
			return fmt.Errorf("got %v, want no value", *got)
		}
		return nil
	}
	want, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return err
	}
	if got == nil {
		return fmt.Errorf("got no value, want %v", want)
	}
	if math.Abs(*got-want) > 1e-9*math.Abs(want)+1e-16 {
		return fmt.Errorf("got %.12g, want %.10g", *got, want)
	}
	return nil
}

func limit(i *Interval, upper bool) *float64 {
	switch {
	case i == nil:
		return nil
	case upper:
		return &i.Upper
	default:
		return &i.Lower
	}
}

// Source: R 4.2.2, survival 3.5-3, survfit with conf.type "log-log".
func TestKaplanMeierAgainstR(t *testing.T) {
	in := sets(t)
	seen := map[string]int{}
	for _, r := range rows(t, "expected_km.csv") {
		set := r["set"]
		curve := KaplanMeier(in[set])
		i := seen[set]
		seen[set]++
		if i >= len(curve) {
			t.Errorf("%s: only %d steps", set, len(curve))
			continue
		}
		p := curve[i]
		counts := []string{strconv.Itoa(p.Day), strconv.Itoa(p.AtRisk), strconv.Itoa(p.Events), strconv.Itoa(p.Censored)}
		for k, col := range []string{"time", "n_risk", "n_event", "n_censor"} {
			if counts[k] != r[col] {
				t.Errorf("%s row %d %s: got %s, want %s", set, i, col, counts[k], r[col])
			}
		}
		for col, got := range map[string]*float64{"surv": &p.Waiting, "se_surv": p.SE,
			"lo_loglog": limit(p.Limits, false), "hi_loglog": limit(p.Limits, true)} {
			if err := same(got, r[col]); err != nil {
				t.Errorf("%s day %d %s: %v", set, p.Day, col, err)
			}
		}
	}
	if len(seen) != len(in) {
		t.Errorf("%d sets expected, %d read", len(in), len(seen))
	}
	for set, spans := range in {
		if got := len(KaplanMeier(spans)); got != seen[set] {
			t.Errorf("%s: %d steps, want %d", set, got, seen[set])
		}
	}
}

// Source: R 4.2.2, survival 3.5-3, quantile of a survfit, conf.type "log-log".
func TestQuantilesAgainstR(t *testing.T) {
	in := sets(t)
	n := 0
	for _, r := range rows(t, "expected_quantiles.csv") {
		if r["conf_type"] != "log-log" {
			continue
		}
		n++
		p, err := strconv.ParseFloat(r["prob"], 64)
		if err != nil {
			t.Fatal(err)
		}
		q := KaplanMeier(in[r["set"]]).Quantile(p)
		for col, got := range map[string]*float64{"quantile": q.Day, "lower": q.Lower, "upper": q.Upper} {
			if err := same(got, r[col]); err != nil {
				t.Errorf("%s p=%v %s: %v", r["set"], p, col, err)
			}
		}
	}
	if want := 5 * len(in); n != want {
		t.Errorf("%d rows compared, want five for each of %d sets", n, len(in))
	}
}

// Source: R 4.2.2, prop.test(correct = FALSE); the first four pairs are those
// of Newcombe, Stat Med 1998;17:857-872.
func TestWilsonAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_intervals.csv") {
		x, _ := strconv.Atoi(r["x"])
		n, _ := strconv.Atoi(r["n"])
		got := NewProportion(x, n)
		for col, v := range map[string]*float64{"p": got.Rate,
			"wilson_lo": limit(got.Limits, false), "wilson_hi": limit(got.Limits, true)} {
			if err := same(v, r[col]); err != nil {
				t.Errorf("%d/%d %s: %v", x, n, col, err)
			}
		}
	}
	if none := NewProportion(0, 0); none.Rate != nil || none.Limits != nil {
		t.Errorf("0 of 0 has a rate: %+v", none)
	}
}

// Source: R 4.2.2 quantile(type = 7); the data are named in the file's header.
func TestPercentileAgainstR(t *testing.T) {
	data := map[string][]float64{
		"a": {2, 4, 4, 5, 7, 9, 11, 12, 14, 20}, "b": {3, 5, 8, 13, 21, 34, 55},
		"c": {15, 20, 35, 40, 50}, "d": {7}, "e": {1, 2}, "f": {10, 10, 10, 10, 28},
		"g": {5, 6, 8, 9, 10, 12, 13, 14, 15, 18, 21, 22, 25, 28, 33, 36, 41, 47, 62, 95},
	}
	for _, r := range rows(t, "expected_percentiles.csv") {
		p, err := strconv.ParseFloat(r["p"], 64)
		if err != nil {
			t.Fatal(err)
		}
		values, ok := data[r["set"]]
		if !ok {
			t.Fatalf("set %q has no data here", r["set"])
		}
		got, _ := Percentile(values, p)
		if err := same(&got, r["type7"]); err != nil {
			t.Errorf("%s p=%v: %v", r["set"], p, err)
		}
	}
	if _, ok := Percentile(nil, 0.5); ok {
		t.Error("no values have a percentile")
	}
}
