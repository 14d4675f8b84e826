package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"dunlin/cases/measures"
)

func TestReportIntervalWrongUse(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--from-milestone birth", "--from-milestone and --to-milestone go together"},
		{"--from-milestone closure --to-milestone birth", "the second milestone must come after the first"},
		{"--from-milestone born --to-milestone closure", `There is no milestone "born"`},
		{"--from-milestone birth --to-milestone closure --by closure", "by referral or by birth"},
		{"--from-milestone birth --to-milestone closure --group hair", `cannot be grouped by "hair"`},
		{"--from-milestone birth --to-milestone closure --rates", "--rates are not about an interval"},
		{"--from-milestone birth --to-milestone closure --data x.csv", "does not go with --data"},
		{"--by birth", "--by goes with"},
	} {
		code, out, errs := call(t, "", append([]string{"report"}, strings.Fields(c.args)...)...)
		if code != exitUsage || out != "" || !strings.Contains(errs, c.want) {
			t.Errorf("%s: code %d, out %q, err %q", c.args, code, out, errs)
		}
	}
}

// The command prints published figures: groups with few cases are named only.
func TestReportIntervalOfTheDemo(t *testing.T) {
	d := filledDemo(t)
	q := measures.Question{From: measures.Birth, To: measures.Determination, By: measures.ByBirth, Group: "gestation"}
	o := &op{Command: "report", Interval: &q}
	var text, raw bytes.Buffer
	if code, err := o.run(t.Context(), d.site, &text); code != exitOK || err != nil {
		t.Fatal(code, err)
	}
	for _, want := range []string{"Birth to determination. All infants born, followed to 2026-11-25.", "Counts from 1 to 10 are hidden", "fewer than 11 cases", "Determination: the day the case was closed"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("no %q in\n%s", want, text.String())
		}
	}
	o.JSON = true
	if code, err := o.run(t.Context(), d.site, &raw); code != exitOK || err != nil {
		t.Fatal(code, err)
	}
	var p struct {
		Below  int `json:"hidden_below"`
		Groups []struct {
			Few   bool `json:"few"`
			Cases *int `json:"cases"`
		} `json:"groups"`
	}
	if err := json.Unmarshal(raw.Bytes(), &p); err != nil {
		t.Fatal(err)
	}
	few := 0
	for _, g := range p.Groups {
		if g.Cases != nil && *g.Cases < p.Below {
			t.Errorf("a group of %d cases is shown", *g.Cases)
		}
		if g.Few {
			few++
		}
	}
	if p.Below != 11 || few == 0 {
		t.Errorf("hidden below %d; %d of %d groups have few cases", p.Below, few, len(p.Groups))
	}
}
