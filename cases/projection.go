package cases

import "math"

// Estimate is the projection of the weight to the least test weight: a window
// with its basis. It plans a date and never makes an infant ready; the infant is
// weighed on the day.
type Estimate struct {
	Status    string `json:"status"` // met ok slow fast_capped not_gaining far
	Basis     string `json:"basis"`  // met observed population population_from_birth
	Early     Day    `json:"early"`
	Central   Day    `json:"central"`
	Late      Day    `json:"late"`
	ReweighBy Day    `json:"reweigh_by"`

	// The speed behind the dates: g/day as measured, 0 where the population's is used;
	// and g/kg/day, of the mean weight between the weighings (the average two-point
	// form of Fenton et al., J Pediatr 2018;196:77-83). The cap of 45 g/day is not in it.
	GPerDay   float64 `json:"-"`
	GPerKgDay float64 `json:"-"`
}

// Assumptions of the projection (project choices; population speeds span the
// 10 to 20 g/kg/day usual near 2 kg, Fenton et al., J Pediatr 2018;196:77-83).
const (
	popEarly, popCentral, popLate = 0.020, 0.015, 0.010 // per day
	weighingSpread                = 56.0                // g; 2 SD of a slope from two weighings of SD 20 g, times days
	leastGain, slowGain, mostGain = 8.0, 15.0, 45.0     // g/day
	farDays                       = 42
	firstSteadyDay                = 7 // before it weights show the first loss, not growth
)

// ProjectWeight estimates when an infant born on a day reaches target grams from
// its weights, which must be in order of day and one a day. birthG is the birth
// weight in g, 0 when not known. It returns nil without any weight.
func ProjectWeight(born Day, birthG float64, weights []Weight, targetG float64) *Estimate {
	n := len(weights)
	if n == 0 {
		return nil
	}
	last := weights[n-1]
	if last.On-born < firstSteadyDay {
		return projectFromBirth(born, birthG, weights, targetG)
	}
	if last.G >= targetG {
		return &Estimate{Status: "met", Basis: "met", Early: last.On, Central: last.On, Late: last.On}
	}
	usable := weights[n-1:]
	for i := n - 2; i >= 0 && weights[i].On-born >= firstSteadyDay && last.On-weights[i].On <= 21; i-- {
		usable = weights[i:]
	}
	if len(usable) >= 2 && last.On-usable[0].On >= 5 {
		return projectObserved(usable, targetG)
	}
	grow := math.Log(targetG / last.G)
	return finish(Estimate{Status: "ok", Basis: "population", GPerKgDay: 1000 * popCentral,
		Early: last.On + days(grow/popEarly), Central: last.On + days(grow/popCentral), Late: last.On + days(grow/popLate)}, last.On)
}

// projectFromBirth takes the infant back at birth weight on day 14 (10 to 21),
// then lets it grow at the population's speed.
func projectFromBirth(born Day, birthG float64, weights []Weight, targetG float64) *Estimate {
	if birthG == 0 {
		for _, w := range weights {
			birthG = max(birthG, w.G)
		}
	}
	grow := math.Max(0, math.Log(targetG/birthG))
	return finish(Estimate{Status: "ok", Basis: "population_from_birth", GPerKgDay: 1000 * popCentral,
		Early: born + 10 + days(grow/popEarly), Central: born + 14 + days(grow/popCentral), Late: born + 21 + days(grow/popLate)},
		weights[len(weights)-1].On)
}

func projectObserved(usable []Weight, targetG float64) *Estimate {
	last := usable[len(usable)-1]
	span := float64(last.On - usable[0].On)
	slope, mean := slopeOf(usable)
	e := Estimate{Status: "ok", Basis: "observed", GPerDay: slope, GPerKgDay: 1000 * slope / mean}
	switch {
	case slope < leastGain:
		e.Status, e.ReweighBy = "not_gaining", last.On+7
		return &e
	case slope <= slowGain:
		e.Status = "slow"
	case slope > mostGain:
		e.Status, slope = "fast_capped", mostGain
	}
	spread := math.Max(4, weighingSpread/span)
	short := targetG - last.G
	central := days(short / slope)
	e.Central = last.On + central
	e.Late = last.On + days(short/math.Max(leastGain, slope-spread))
	e.Early = last.On + min(central, days(math.Log(targetG/last.G)/((slope+spread)/mean)))
	return finish(e, last.On)
}

func finish(e Estimate, last Day) *Estimate {
	e.ReweighBy = min(e.Early, last+14)
	if e.Central-last > farDays {
		e.Status, e.Early, e.Central, e.Late = "far", 0, 0, 0
	}
	return &e
}

// slopeOf is the least-squares gain in g/day, with the mean weight in g.
func slopeOf(ws []Weight) (slope, mean float64) {
	n := float64(len(ws))
	var sx, sy float64
	for _, w := range ws {
		sx += float64(w.On - ws[0].On)
		sy += w.G
	}
	mx, my := sx/n, sy/n
	var sxx, sxy float64
	for _, w := range ws {
		dx := float64(w.On-ws[0].On) - mx
		sxx += dx * dx
		sxy += dx * (w.G - my)
	}
	return sxy / sxx, my
}

// days rounds up whole days; the guard keeps 9.000000001 at 9.
func days(x float64) Day { return Day(math.Ceil(x - 1e-9)) }
