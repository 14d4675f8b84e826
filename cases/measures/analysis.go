package measures

// ConfType names the transform behind the limits of every curve here.
const ConfType = "log-log"

// Analysis is the time-to-closure analysis of a data set, group by group. Figures
// that are not defined are null in JSON.
type Analysis struct {
	ConfType string     `json:"conf_type"`
	Groups   []Analyzed `json:"groups"`
	// LogRank compares the groups; nil when there is nothing to compare: fewer
	// than two groups at risk, or no closure that could tell them apart.
	LogRank *LogRank `json:"log_rank"`
	// Gray compares the groups for each reason, where reasons compete and the groups
	// are few (MostGray); a test that is not defined is left out.
	Gray []Gray `json:"-"`
}

// MostGray is the greatest number of groups whose incidences are compared: the cost
// grows with its square at each time.
const MostGray = 12

// Analyzed holds what one group shows. Times are in the unit of the data.
type Analyzed struct {
	Name   string `json:"name"`
	N      int    `json:"n"`
	Events int    `json:"events"` // closures of any reason
	// Median is the time by which half are closed, by the midpoint rule of
	// Curve.Quantile; its limits are the same quantile of the band.
	Median     Number         `json:"median"`
	MedianLow  Number         `json:"median_low"`
	MedianHigh Number         `json:"median_high"`
	RMean      RestrictedMean `json:"rmean"`
	Curve      []Step         `json:"curve"`
	Incidence  []Incidence    `json:"incidence"`
}

// Step is one step of a Kaplan-Meier curve at a time on which a case closed or
// left observation. Surv is the share still waiting after it.
type Step struct {
	Time    Number `json:"time"`
	NRisk   int    `json:"n_risk"` // waiting just before
	NEvent  int    `json:"n_event"`
	NCensor int    `json:"n_censor"`
	Surv    Number `json:"surv"`
	SE      Number `json:"se"`  // Greenwood; undefined when nobody waits
	Low     Number `json:"low"` // log-log limits; undefined when nobody or everybody waits
	High    Number `json:"high"`
}

// Analyze computes the analysis of the data: the Kaplan-Meier curve with
// Greenwood's standard error and log-log limits, the median, the restricted mean,
// the Aalen-Johansen incidence of each reason, and the log-rank test between the
// groups. Tau is the horizon of the restricted means; 0 takes the largest time of
// each group. The order of the observations does not matter.
func (d Data) Analyze(tau float64) Analysis {
	sorted := byTime(d.Observations)
	reasons := reasonsIn(sorted)
	a := Analysis{ConfType: ConfType, Groups: make([]Analyzed, 0, len(d.Groups))}
	for g, t := range tally(sorted, len(d.Groups), reasons) {
		a.Groups = append(a.Groups, analyze(d.Groups[g], &t, reasons, tau))
	}
	sum := newRankSum(len(d.Groups))
	sum.add(sorted, 0)
	a.LogRank = sum.test()
	if len(reasons) > 1 && len(d.Groups) <= MostGray {
		for _, reason := range reasons {
			if g := grayOf(sorted, len(d.Groups), reason); g != nil {
				a.Gray = append(a.Gray, *g)
			}
		}
	}
	return a
}

func analyze(name string, t *tallies, reasons []uint8, tau float64) Analyzed {
	out := Analyzed{Name: name, N: t.n, Curve: make([]Step, len(t.times))}
	left, pl := t.n, start
	for i, time := range t.times {
		n, d := left, t.events[i]
		left -= d + t.censored[i]
		out.Events += d
		pl.next(n, d)
		se, low, high := pl.figures()
		out.Curve[i] = Step{Time: Number(time), NRisk: n, NEvent: d, NCensor: t.censored[i], Surv: Number(pl.waiting),
			SE: Number(se), Low: Number(low), High: Number(high)}
	}
	out.Median = out.quantile(0.5, func(s *Step) Number { return s.Surv })
	out.MedianLow = out.quantile(0.5, func(s *Step) Number { return s.Low })
	out.MedianHigh = out.quantile(0.5, func(s *Step) Number { return s.High })
	out.RMean = restrictedMean(out.Curve, tau)
	out.Incidence = incidence(t, reasons)
	return out
}

// quantile is the time by which a share p is closed, read from the curve or from
// one side of its band.
func (a *Analyzed) quantile(p float64, of func(*Step) Number) Number {
	return numberOf(crossing(len(a.Curve), 1-p,
		func(i int) float64 { return float64(a.Curve[i].Time) },
		func(i int) float64 { return float64(of(&a.Curve[i])) }))
}
