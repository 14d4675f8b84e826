package cases

// Readiness derives from when the infant can be tested and what it waits for.
// Facts count that are dated on or before the day. Only a measured weight makes
// an infant ready; a projection plans the date (numbers behind it: ProjectWeight).
func (p *Protocol) Readiness(c *Case, on Day) Readiness {
	in := &c.Infant
	r := Readiness{AgeFrom: in.Born + Day(p.MinAgeDays)}
	r.Earliest = r.AgeFrom
	if in.Gestation == 0 {
		r.Flags |= FlagGestationUnknown
	} else {
		r.GestationFrom = in.Born + max(0, Day(p.MinCorrectedGestation-in.Gestation))
		r.Earliest = max(r.AgeFrom, r.GestationFrom)
	}
	if on < r.AgeFrom {
		r.WaitingFor |= WaitAge
	}
	if on < r.GestationFrom {
		r.WaitingFor |= WaitGestation
	}
	p.readWeight(&r, c, on)
	if s := r.Weight.State; s == WeightShort || s == WeightUnknown {
		r.WaitingFor |= WaitWeight
	}
	for i := range c.Holds {
		if c.Holds[i].openOn(on) {
			r.WaitingFor |= WaitHold
			break
		}
	}
	r.Ready = r.WaitingFor == 0
	return r
}

// The states of a weight.
const (
	WeightMet     = "met"
	WeightLikely  = "likely"
	WeightShort   = "short"
	WeightUnknown = "unknown"
)

func (p *Protocol) readWeight(r *Readiness, c *Case, on Day) {
	in := &c.Infant
	latest := Weight{}
	if in.BirthWeightG > 0 {
		latest = Weight{On: in.Born, G: in.BirthWeightG}
	}
	for _, w := range in.Weights {
		if w.On <= on && (w.On > latest.On || w.On == latest.On && w.G < latest.G) {
			latest = w
		}
	}
	r.Latest = latest
	switch {
	case latest.On == 0:
		r.Weight.State = WeightUnknown
	case latest.On-in.Born >= firstSteadyDay && p.enoughWeight(latest.G):
		r.Weight.State = WeightMet
	case latest.On-in.Born < firstSteadyDay && p.enoughWeight(latest.G*9/10):
		// A term newborn may lose up to 10 % of birth weight in the first days
		// (Noel-Weiss et al. 2008; Paul et al. 2016).
		r.Weight.State = WeightLikely
	default:
		r.Weight.State = WeightShort
		var buf [24]Weight
		e := ProjectWeight(in.Born, in.BirthWeightG, oneADay(buf[:0], in, on), p.MinWeightG)
		if e != nil && e.Status == "met" { // exactly the least weight where the program wants more
			e = finish(Estimate{Status: "ok", Basis: e.Basis, Early: latest.On + 1, Central: latest.On + 1, Late: latest.On + 1}, latest.On)
		}
		r.Weight.Estimate = e
	}
}

func (p *Protocol) enoughWeight(g float64) bool {
	if p.WeightStrictlyAbove {
		return g > p.MinWeightG
	}
	return g >= p.MinWeightG
}

// oneADay gives the weights up to a day in order, the lower of two on one day,
// the birth weight included.
func oneADay(out []Weight, in *Infant, on Day) []Weight {
	add := func(w Weight) {
		i := len(out)
		for i > 0 && out[i-1].On > w.On {
			i--
		}
		if i > 0 && out[i-1].On == w.On {
			out[i-1].G = min(out[i-1].G, w.G)
			return
		}
		out = append(out, Weight{})
		copy(out[i+1:], out[i:])
		out[i] = w
	}
	if in.BirthWeightG > 0 {
		add(Weight{On: in.Born, G: in.BirthWeightG})
	}
	for _, w := range in.Weights {
		if w.On <= on {
			add(w)
		}
	}
	return out
}

// openOn tells whether a hold is open on a day: it has begun and not yet ended.
func (h *Hold) openOn(d Day) bool { return h.From <= d && (h.Until == 0 || d < h.Until) }
