package measures

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// number reads a whole number of a reference row.
func number(t *testing.T, cell string) int {
	t.Helper()
	n, err := strconv.Atoi(cell)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func float(t *testing.T, cell string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// close9 compares with a cell of ten significant digits at 1e-9 relative, however
// small the value is.
func close9(got float64, cell string) error {
	want, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return err
	}
	if math.Abs(got-want) > 1e-9*math.Abs(want) {
		return fmt.Errorf("got %.12g, want %.10g", got, want)
	}
	return nil
}

// Source: R 4.2.2; the method behind each column is named in the file's header.
func TestIntervalsAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_intervals.csv") {
		x, n := number(t, r["x"]), number(t, r["n"])
		for m, col := range map[Method]string{Wald: "wald", Wilson: "wilson", WilsonCorrected: "wilsoncc", ClopperPearson: "cp",
			MidP: "midp", Jeffreys: "jeffreys", AgrestiCoull: "agresticoull"} {
			got := Limits(m, x, n)
			if got == nil {
				t.Fatalf("%d/%d: no %s limits", x, n, m)
			}
			if err := close9(got.Lower, r[col+"_lo"]); err != nil {
				t.Errorf("%d/%d %s lower: %v", x, n, m, err)
			}
			if err := close9(got.Upper, r[col+"_hi"]); err != nil {
				t.Errorf("%d/%d %s upper: %v", x, n, m, err)
			}
		}
	}
	for _, bad := range [][2]int{{0, 0}, {-1, 5}, {6, 5}} {
		if Limits(ClopperPearson, bad[0], bad[1]) != nil {
			t.Errorf("%v has limits", bad)
		}
	}
	if Limits("guess", 1, 2) != nil {
		t.Error("an unknown method has limits")
	}
}

// Source: R 4.2.2, binom.test against 0.10.
func TestExactTestAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_binomtest_p10.csv") {
		x, n := number(t, r["x"]), number(t, r["n"])
		got := TestAgainst(float(t, r["p0"]), x, n)
		for col, v := range map[string]float64{"p_greater": got.Greater, "p_less": got.Less, "p_two": got.TwoSided, "midp_greater": got.MidPGreater} {
			if err := close9(v, r[col]); err != nil {
				t.Errorf("%d/%d %s: %v", x, n, col, err)
			}
		}
	}
}

// Source: R 4.2.2, from pbinom and qbinom at 0.10.
func TestCriticalCountsAgainstR(t *testing.T) {
	cell := func(x int, ok bool) string {
		if !ok {
			return ""
		}
		return strconv.Itoa(x)
	}
	for _, r := range rows(t, "expected_critical_counts_p10.csv") {
		n := number(t, r["n"])
		for col, level := range map[string]float64{"min_x_p_lt_05": 0.05, "min_x_p_lt_025": 0.025, "min_x_p_lt_001": 0.001} {
			if got := cell(FewestAbove(0.1, level, n)); got != r[col] {
				t.Errorf("n=%d %s: got %q, want %q", n, col, got, r[col])
			}
		}
		if got := cell(MostBelow(0.1, 0.025, n)); got != r["max_x_lower_p_lt_025"] {
			t.Errorf("n=%d: at most %q, want %q", n, got, r["max_x_lower_p_lt_025"])
		}
		if err := close9(TestAgainst(0.1, 0, n).Less, r["prob_zero"]); err != nil {
			t.Errorf("n=%d, none seen: %v", n, err)
		}
	}
}

// Source: R 4.2.2; formula of Spiegelhalter 2005 as named in the file's header.
func TestFunnelLimitsAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_funnel_limits.csv") {
		theta, n := float(t, r["theta0"]), number(t, r["n"])
		f := FunnelAt(theta, n)
		for col, v := range map[string]float64{"lo95_trunc": f.Alert.Lower, "hi95": f.Alert.Upper, "lo998_trunc": f.Alarm.Lower, "hi998": f.Alarm.Upper,
			"lo95": funnelLimit(theta, n, 0.025), "lo998": funnelLimit(theta, n, 0.001)} {
			if err := close9(v, r[col]); err != nil {
				t.Errorf("theta %v n %d %s: %v", theta, n, col, err)
			}
		}
	}
}

// Source: R 4.2.2 (pbinom, p.adjust) on twelve made-up sites.
func TestFunnelOfTwelveSites(t *testing.T) {
	all := rows(t, "example_sites_funnel.csv")
	var names []string
	var props []Proportion
	for _, r := range all {
		names = append(names, r["site"])
		props = append(props, NewProportion(number(t, r["x"]), number(t, r["n"])))
	}
	for i, p := range Funnel(0.10, names, props) {
		r := all[i]
		for col, got := range map[string]float64{"wilson_lo": p.Limits.Lower, "wilson_hi": p.Limits.Upper, "p_greater_10": *p.Greater, "holm_p": *p.Holm, "bh_p": *p.FDR} {
			if err := close9(got, r[col]); err != nil {
				t.Errorf("%s %s: %v", p.Name, col, err)
			}
		}
		want := r["flag"]
		if p.Of < FunnelLeast {
			want = FunnelFew
		} else {
			for col, got := range map[string]float64{"hi95": p.Funnel.Alert.Upper, "hi998": p.Funnel.Alarm.Upper} {
				if err := close9(got, r[col]); err != nil {
					t.Errorf("%s %s: %v", p.Name, col, err)
				}
			}
		}
		if p.Place != want {
			t.Errorf("%s is placed %q, want %q", p.Name, p.Place, want)
		}
	}
	if p := Funnel(0.1, []string{"none"}, []Proportion{NewProportion(0, 0)})[0]; p.Place != FunnelFew || p.Greater != nil {
		t.Errorf("a site without tests: %+v", p)
	}
	if p := Funnel(0.1, []string{"good"}, []Proportion{NewProportion(0, 50)})[0]; p.Place != FunnelBelow {
		t.Errorf("0 of 50 is placed %q", p.Place)
	}
}

// Source: Newcombe, Stat Med 1998;17:873-890 (first rows) and R 4.2.2 fisher.test.
func TestDifferencesAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_newcombe_diff.csv") {
		d := Compare(NewProportion(number(t, r["x1"]), number(t, r["n1"])), NewProportion(number(t, r["x2"]), number(t, r["n2"])))
		for col, v := range map[string]float64{"diff": d.Difference, "lo": d.Limits.Lower, "hi": d.Limits.Upper, "fisher_p": d.P} {
			if err := close9(v, r[col]); err != nil {
				t.Errorf("%s/%s and %s/%s %s: %v", r["x1"], r["n1"], r["x2"], r["n2"], col, err)
			}
		}
	}
	if Compare(NewProportion(0, 0), NewProportion(1, 2)) != nil {
		t.Error("a rate of nothing was compared")
	}
}

// Source: R 4.2.2; the rule of three is Hanley and Lippman-Hand, JAMA 1983.
func TestNoneSeenAgainstR(t *testing.T) {
	for _, r := range rows(t, "expected_rule_of_three.csv") {
		n := number(t, r["n"])
		for col, v := range map[string]float64{"exact_1sided95": UpperAtNone(n), "rule_of_three": 3 / float64(n),
			"cp_2sided_upper": Limits(ClopperPearson, 0, n).Upper, "wilson_upper": Limits(Wilson, 0, n).Upper} {
			if err := close9(v, r[col]); err != nil {
				t.Errorf("0/%d %s: %v", n, col, err)
			}
		}
	}
}

// The quick sums are the plain ones.
func TestTailsAreThePlainSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 120).Draw(t, "n")
		x, p := rapid.IntRange(0, n).Draw(t, "x"), rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		var want ExactTest
		seen := binomialAt(x, n, p)
		for k := range n + 1 {
			at := binomialAt(k, n, p)
			if k >= x {
				want.Greater += at
			}
			if k <= x {
				want.Less += at
			}
			if at <= seen*sameLikely {
				want.TwoSided += at
			}
		}
		got := TestAgainst(p, x, n)
		for name, v := range map[string][2]float64{"greater": {got.Greater, want.Greater}, "less": {got.Less, want.Less}, "two-sided": {got.TwoSided, want.TwoSided}} {
			if math.Abs(v[0]-v[1]) > 1e-11 {
				t.Fatalf("%d/%d at %v, %s: %v, want %v", x, n, p, name, v[0], v[1])
			}
		}
	})
}

func BenchmarkTestAgainst(b *testing.B) {
	for b.Loop() {
		TestAgainst(0.1, 101_000, 1_000_000)
	}
}
