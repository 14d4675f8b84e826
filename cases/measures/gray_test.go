package measures

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Source: cmprsk 2.2-11, cuminc, the test of Gray, Ann Stat 1988;16:1141-1154, rho 0.
func TestGrayAgainstCmprsk(t *testing.T) {
	d := readFile(t, "input_tracker_synthetic.csv", "group")
	n := 0
	for _, r := range rows(t, "expected_gray.csv") {
		if r["set"] != "tracker by group" {
			t.Fatalf("set %q is not known", r["set"])
		}
		got := GrayTest(d, uint8(num(t, r["cause"])))
		n++
		for col, v := range map[string]float64{"stat": got.ChiSquare, "pv": got.P, "df": float64(got.DF)} {
			if err := same(&v, r[col]); err != nil {
				t.Errorf("reason %s: %s: %v", r["cause"], col, err)
			}
		}
	}
	if n != 3 {
		t.Errorf("%d rows compared", n)
	}
}

// TestGrayOfGroups: which group comes first does not matter, groups alike do not
// differ, and without other reasons or ties it tells much the same as the log-rank test.
func TestGrayOfGroups(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	d := Data{Groups: []string{"a", "b", "c"}}
	for i := range 150 {
		d.Observations = append(d.Observations, Observation{Time: rng.Float64() * float64(20+10*(i%3)), Group: uint32(i % 3), Reason: uint8(rng.IntN(3))})
	}
	want := GrayTest(d, 1)
	turned := Data{Groups: d.Groups, Observations: slices.Clone(d.Observations)}
	for i := range turned.Observations {
		turned.Observations[i].Group = (turned.Observations[i].Group + 1) % 3
	}
	if got := GrayTest(turned, 1); math.Abs(got.ChiSquare-want.ChiSquare) > 1e-9*want.ChiSquare || got.DF != 2 {
		t.Errorf("turned groups: %+v, want %+v", got, want)
	}
	alike := Data{Groups: []string{"a", "b"}}
	for _, o := range d.Observations {
		for g := range uint32(2) {
			o.Group = g
			alike.Observations = append(alike.Observations, o)
		}
	}
	if got := GrayTest(alike, 1); got == nil || got.ChiSquare > 1e-18 || got.P < 1-1e-6 {
		t.Errorf("groups alike: %+v", got)
	}
	if got := GrayTest(Data{Groups: []string{"a"}, Observations: d.Observations[:0]}, 1); got != nil {
		t.Errorf("one group: %+v", got)
	}
	if got := GrayTest(Data{Groups: []string{"a", "b"}, Observations: []Observation{{1, 0, 2}, {2, 1, 0}}}, 1); got != nil {
		t.Errorf("no closure for the reason: %+v", got)
	}
}
