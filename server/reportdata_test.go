package main

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const gehan = "../cases/measures/testdata/input_gehan.csv"

// The figures of the 6-MP arm are those of the textbook table of Freireich's trial:
// see the sources of the data files.
func TestReportOfADataFile(t *testing.T) {
	code, out, errs := call(t, "", "report", "--data", gehan, "--group", "group", "--json")
	var a struct {
		ConfType string `json:"conf_type"`
		Groups   []struct {
			Name       string
			N, Events  int
			Median     *float64
			MedianLow  *float64 `json:"median_low"`
			MedianHigh *float64 `json:"median_high"`
			RMean      struct{ Tau, Value, SE *float64 }
		}
		LogRank *struct {
			ChiSq float64
			DF    int
			P     float64
		} `json:"log_rank"`
	}
	if err := json.Unmarshal([]byte(out), &a); code != exitOK || err != nil || errs != "" {
		t.Fatalf("code %d, %v, %s", code, err, errs)
	}
	if len(a.Groups) != 2 || a.ConfType != "log-log" || a.Groups[0].Name != "6-MP" || a.Groups[0].N != 21 || a.Groups[0].Events != 9 ||
		*a.Groups[0].Median != 23 || *a.Groups[0].MedianLow != 13 || a.Groups[0].MedianHigh != nil || *a.Groups[0].RMean.Tau != 35 {
		t.Errorf("%s", out)
	}
	if a.LogRank == nil || a.LogRank.DF != 1 || a.LogRank.ChiSq < 16.79294 || a.LogRank.ChiSq > 16.79295 {
		t.Errorf("log-rank %+v", a.LogRank)
	}
	code, out, errs = call(t, "", "report", "--data", gehan, "--group", "group", "--tau", "10")
	for _, want := range []string{"6-MP: 9 of 21 closed, 12 still open. Half are closed by time 23 (95 % limits 13 to not reached).",
		"within the first 10: 9.2773 (SE 0.3268)", "chi-square 16.7929 on 1 df, p = 4.169e-05"} {
		if code != exitOK || errs != "" || !strings.Contains(out, want) {
			t.Errorf("code %d: %q is not in\n%s%s", code, want, out, errs)
		}
	}
}

// Every key is there, null where a figure is not defined.
func TestReportDataHasEveryKey(t *testing.T) {
	_, out, _ := call(t, "time,status\n4,0\n", "report", "--data", "-", "--json")
	var a map[string]any
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatal(err)
	}
	group := a["groups"].([]any)[0].(map[string]any)
	step := group["curve"].([]any)[0].(map[string]any)
	for want, has := range map[string]map[string]any{
		"conf_type groups log_rank":                                         a,
		"curve events incidence median median_high median_low n name rmean": group,
		"high low n_censor n_event n_risk se surv time":                     step,
		"se tau value": group["rmean"].(map[string]any),
	} {
		if got := strings.Join(slices.Sorted(maps.Keys(has)), " "); got != want {
			t.Errorf("keys %q, want %q", got, want)
		}
	}
	if a["log_rank"] != nil || group["median"] != nil || step["low"] != nil || step["surv"] != 1.0 {
		t.Errorf("%s", out)
	}
}

func TestReportDataRefused(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(bad, []byte("time,event\n3,1\n-2,1\nx,0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--data", bad, "--json"}, exitFailed, "line 3: the time -2 is negative: the case would have closed before its clock started\n  line 4: the time \"x\""},
		{[]string{"--data", gehan, "--group", "arm"}, exitFailed, "it has: id, time, event, group, pair"},
		{[]string{"--data", "none.csv"}, exitFailed, "none.csv"},
		{[]string{"--data", "-"}, exitFailed, "standard input was refused"},
		{[]string{"--group", "site"}, exitUsage, "--group goes with --data FILE"},
		{[]string{"--data", ""}, exitUsage, "a file named"},
		{[]string{"--data", gehan, "--from", "2026-01-01"}, exitUsage, "--from is about a store"},
		{[]string{"--data", gehan, "--tau", "0"}, exitUsage, "above 0"},
		{[]string{"--data", gehan, "--tau", "NaN"}, exitUsage, "above 0"},
		{[]string{"--data", gehan, "more.csv"}, exitUsage, "too many"},
	} {
		code, out, errs := call(t, "", append([]string{"report"}, c.args...)...)
		if code != c.code || out != "" || !strings.Contains(errs, c.want) {
			t.Errorf("%v: code %d, out %q, err %q", c.args, code, out, errs)
		}
	}
}
