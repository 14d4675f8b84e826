package cases

import "math"

// WeightEstimate is a weight projected to a day: for planning and to compare with the
// weight taken on the day. It is never a weight.
type WeightEstimate struct {
	On    Day
	G     float64 // grams, rounded to 10 g
	Basis string  // observed, population or population_from_birth; see ProjectWeight
	Since Day     // the weighing it starts from
}

// WeightOn projects the weight of an infant to a day from what was weighed up to
// another, at the speeds of ProjectWeight. It is false without a weighing, for a day
// before the last one or more than 42 days after it, and when the infant does not gain.
func (in *Infant) WeightOn(on, known Day) (WeightEstimate, bool) {
	var buf [24]Weight
	list := oneADay(buf[:0], in, known)
	if len(list) == 0 {
		return WeightEstimate{}, false
	}
	last := list[len(list)-1]
	if on <= last.On || on-last.On > farDays {
		return WeightEstimate{}, false
	}
	// The speed does not depend on the target while the target lies ahead.
	e := ProjectWeight(in.Born, in.BirthWeightG, list, last.G+1)
	out := WeightEstimate{On: on, Basis: e.Basis, Since: last.On}
	ahead := float64(on - last.On)
	switch {
	case e.Status == "not_gaining":
		return WeightEstimate{}, false
	case e.Basis == "observed":
		out.G = last.G + math.Min(e.GPerDay, mostGain)*ahead
	case e.Basis == "population":
		out.G = last.G * math.Exp(popCentral*ahead)
	default: // back at birth weight on day 14
		birth := in.BirthWeightG
		for _, w := range list {
			if in.BirthWeightG == 0 {
				birth = max(birth, w.G)
			}
		}
		if on < in.Born+14 {
			return WeightEstimate{}, false
		}
		out.G = birth * math.Exp(popCentral*float64(on-in.Born-14))
	}
	out.G = math.Round(out.G/10) * 10
	return out, true
}
