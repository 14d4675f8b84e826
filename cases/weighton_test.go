package cases

import (
	"testing"

	"pgregory.net/rapid"
)

// The weight projected to a day agrees with the day projected for a weight: on the
// central day the least weight is there, one day before it is not (both round: the day
// up, the weight to 10 g).
func TestWeightOnAgreesWithTheProjection(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		born := MakeDay(2026, 1, 1)
		in := Infant{Born: born, BirthWeightG: float64(rapid.IntRange(900, 1990).Draw(t, "birth"))}
		more := rapid.SampledFrom([]int{0, 1, 2, 4, 6}).Draw(t, "weights")
		for d, g := rapid.IntRange(1, 12).Draw(t, "first"), in.BirthWeightG; d < 60 && len(in.Weights) < more; d += rapid.IntRange(1, 9).Draw(t, "gap") {
			g += float64(rapid.SampledFrom([]int{-40, 10, 35, 70, 110, 150, 300}).Draw(t, "gain"))
			if g >= 2000 {
				break
			}
			in.Weights = append(in.Weights, Weight{On: born + Day(d), G: g})
		}
		list := oneADay(nil, &in, born+90)
		last := list[len(list)-1]
		e := ProjectWeight(born, in.BirthWeightG, list, 2000)
		if e.Central == 0 || e.Central <= last.On || e.Central-last.On > farDays {
			return
		}
		seen[e.Basis]++
		then, ok := in.WeightOn(e.Central, born+90)
		if !ok || then.G < 1990 || then.Basis != e.Basis || then.Since != last.On {
			t.Fatalf("%+v on %s: %+v, %v", e, e.Central, then, ok)
		}
		if before, ok := in.WeightOn(e.Central-1, born+90); ok && before.G > 2005 {
			t.Fatalf("%+v: %+v the day before", e, before)
		}
	})
	if seen["observed"] == 0 || seen["population"] == 0 || seen["population_from_birth"] == 0 {
		t.Errorf("not every basis was drawn: %v", seen)
	}
}

func TestNoWeightIsProjected(t *testing.T) {
	born := MakeDay(2026, 1, 1)
	flat := Infant{Born: born, Weights: []Weight{{On: born + 10, G: 2500}, {On: born + 17, G: 2510}}}
	for name, ok := range map[string]bool{
		"without a weight":      func() bool { _, ok := (&Infant{Born: born}).WeightOn(born+20, born+19); return ok }(),
		"not gaining":           func() bool { _, ok := flat.WeightOn(born+20, born+19); return ok }(),
		"the day of weighing":   func() bool { _, ok := flat.WeightOn(born+17, born+19); return ok }(),
		"months later":          func() bool { _, ok := flat.WeightOn(born+90, born+19); return ok }(),
		"what is not known yet": func() bool { _, ok := flat.WeightOn(born+20, born+9); return ok }(),
	} {
		if ok {
			t.Errorf("%s: projected", name)
		}
	}
	// 20 g a day from 2,500 g over ten days: 2,700 g (by hand).
	gains := Infant{Born: born, Weights: []Weight{{On: born + 10, G: 2360}, {On: born + 17, G: 2500}}}
	if e, ok := gains.WeightOn(born+27, born+19); !ok || e.G != 2700 || e.Basis != "observed" {
		t.Errorf("%+v, %v", e, ok)
	}
}
