package measures

import (
	"math"
	"strings"
	"testing"
)

// The two arms of Freireich's trial (Gehan's set of the reference): their restricted
// means to day 23 and the log-rank test as R gives them, and the difference of shares
// by day 28 from the limits of both curves.
func TestCompareCohorts(t *testing.T) {
	arms := [2]IntervalReport{}
	data := readFile(t, "input_gehan.csv", "group")
	for g := range arms {
		var list []wait
		for _, o := range data.Observations {
			if int(o.Group) != g {
				continue
			}
			w := wait{closed: int(o.Time)}
			if o.Reason == 0 {
				w = wait{open: int(o.Time)}
			}
			list = append(list, w)
		}
		arms[g] = reportOf(Question{From: Birth, To: Closure}, list)
	}
	c := CompareCohorts(arms[0], arms[1])
	if c.LogRank == nil || math.Abs(c.LogRank.ChiSquare-16.792941) > 1e-6 || c.LogRank.DF != 1 {
		t.Errorf("log-rank %+v, want 16.792941 (R survdiff)", c.LogRank)
	}
	control := c.MeanB
	if data.Groups[0] == "control" {
		control = c.MeanA
	}
	if math.Abs(float64(c.Tau)-23) > 0 || math.Abs(float64(control.Value)-8.666667) > 1e-6 || math.Abs(float64(control.SE)-1.377390) > 1e-6 {
		t.Errorf("to day %v the mean of the controls is %+v, want 8.666667 (SE 1.377390; R survfit)", c.Tau, control)
	}
	d, w := float64(c.MeanA.Value-c.MeanB.Value), 1.959963984540054*math.Hypot(float64(c.MeanA.SE), float64(c.MeanB.SE))
	if math.Abs(float64(c.Mean.Value)-d) > 1e-12 || math.Abs(float64(c.Mean.Lower)-(d-w)) > 1e-12 || math.Abs(float64(c.Mean.Upper)-(d+w)) > 1e-12 {
		t.Errorf("difference of means %+v, want %v -+ %v", c.Mean, d, w)
	}
	// All controls are done by day 28, where the log-log limits do not exist.
	if !c.Share.Value.Defined() || c.Share.Lower.Defined() {
		t.Errorf("difference of shares %+v", c.Share)
	}
	p := c.Publish(SmallNumbers{Below: 3})
	if p.Hidden || !strings.Contains(strings.Join(p.Says, " "), "The cohorts differ by more than chance would usually give (log-rank test, p below 0.001)") {
		t.Errorf("%v %q", p.Hidden, p.Says)
	}
}

// Without open cases the shares are plain proportions; the limits of their difference
// were recomputed from the log-log limits of R. The difference lies
// within its limits.
func TestCompareShares(t *testing.T) {
	a, b := reportOf(Question{From: Birth, To: Closure}, waitsFrom(10, 60, "")), reportOf(Question{From: Birth, To: Closure}, waitsFrom(20, 60, ""))
	c := CompareCohorts(a, b)
	if v := float64(c.Share.Value); math.Abs(v-10.0/60) > 1e-12 || !(float64(c.Share.Lower) < v && v < float64(c.Share.Upper)) {
		t.Errorf("difference %+v, want 19/60 - 9/60", c.Share)
	}
	back := CompareCohorts(b, a)
	if math.Abs(float64(c.Share.Lower+back.Share.Upper)) > 1e-12 || math.Abs(float64(c.Mean.Value+back.Mean.Value)) > 1e-12 {
		t.Errorf("turned over: %+v and %+v", c, back)
	}
	if want := "By day 28, 31.7 % of the first cohort were done and 15.0 % of the second: a difference of 16.7 percentage points (95 % limits 1.1 to 31.7)."; c.Says[0] != want {
		t.Errorf("%s\nwant %s", c.Says[0], want)
	}
}

func TestCompareSmallCohorts(t *testing.T) {
	large := reportOf(Question{From: Birth, To: Closure}, waitsFrom(10, 60, ""))
	few, none := reportOf(Question{From: Birth, To: Closure}, waitsFrom(10, 5, "")), reportOf(Question{From: Birth, To: Closure}, nil)
	p := CompareCohorts(large, few).Publish(SmallNumbers{Below: 11})
	if !p.Hidden || p.LogRank != nil || p.Share.Value.Defined() || p.Mean.Value.Defined() || p.Says[0] != "The two cohorts are not compared, because one of them is too small to show." {
		t.Errorf("%+v", p)
	}
	c := CompareCohorts(large, none)
	if c.LogRank != nil || c.Share.Value.Defined() || c.Says[0] != "The two cohorts cannot be compared: one of them has no case to count." {
		t.Errorf("%+v", c.Says)
	}
}
