package measures

import "dunlin/cases"

// IntervalReport says how long an interval took in one cohort, those who still wait
// counted. Cases is always All.Cases + NotStarted + the refused.
type IntervalReport struct {
	Question `json:"question"`
	Cases    int `json:"cases"`
	// NotStarted counts the cases without the first milestone, and those that were
	// over before it.
	NotStarted int           `json:"not_started"`
	All        GroupReport   `json:"all"`
	Groups     []GroupReport `json:"groups,omitempty"`
	// Classes divide the cases by whether the infant could be ready for a test by day
	// 28, those who could first; none when the question asks for one of them.
	Classes []GroupReport `json:"classes,omitempty"`
	// LogRank compares the groups; nil where they cannot be told apart. When To is a
	// determination it compares the rates of determination alone, other closings
	// counting as observed until then.
	LogRank *LogRank `json:"log_rank"`
	// Refused lists the cases whose second milestone is dated before the first: a
	// fault of the data. They are not counted. RefusedMore is how many there are
	// beyond those listed.
	Refused     []Refusal `json:"refused,omitempty"`
	RefusedMore int       `json:"refused_more,omitempty"`
	Says        []string  `json:"says"` // the figures in plain sentences
}

// RefusedAll is how many cases were refused.
func (r *IntervalReport) RefusedAll() int { return len(r.Refused) + r.RefusedMore }

// Refusal is a case with its milestones in the wrong order.
type Refusal struct {
	Reference string    `json:"reference"`
	From      cases.Day `json:"from"`
	To        cases.Day `json:"to"`
	Days      int       `json:"days"` // below 0
}

// GroupReport holds the figures of a group. Cases is always Done + Waiting + Left.
type GroupReport struct {
	Name    string `json:"name"`
	Cases   int    `json:"cases"`
	Done    int    `json:"done"`
	Waiting int    `json:"waiting"` // on the day of the report
	// Left counts the cases that closed, or whose infant died, without the second
	// milestone; when that is a determination, those closed otherwise.
	Left int `json:"left"`
	// Curve is the share that is not done. When To is a determination it is 1 less
	// the incidence of determination (Aalen-Johansen), since closings of other kinds
	// compete; else it is Kaplan-Meier's.
	Curve Curve `json:"curve"`
	// The days by which a quarter, half, three quarters and nine tenths are done.
	Quarter       Quantile `json:"quarter"`
	Median        Quantile `json:"median"`
	ThreeQuarters Quantile `json:"three_quarters"`
	Ninth         Quantile `json:"ninth"`
	// RMean is the mean number of days without the second milestone, of the days up
	// to the last one observed.
	RMean  RestrictedMean `json:"rmean"`
	Shares []Share        `json:"shares"` // by ShareDays
	// Reasons counts the closings by class, and Incidence gives the share closed by
	// each; only when To is a closing. Incidence.Reason is the place in Reasons, from 1.
	Reasons   []Count     `json:"reasons,omitempty"`
	Incidence []Incidence `json:"incidence,omitempty"`

	counts    *waitTally
	competing bool
}

// By returns the share done by a day.
func (g *GroupReport) By(day int) Share {
	for _, s := range g.Shares {
		if s.Day == day {
			return s
		}
	}
	return g.Curve.DoneBy(day)
}

// group computes the figures of what was counted.
func (t *waitTally) group(name string, to Milestone) GroupReport {
	g := GroupReport{Name: name, Cases: t.cases(), Done: t.done, Waiting: t.waiting, Left: t.left,
		counts: t, competing: to == Determination}
	if to.IsClosing() {
		var counts *tallies
		counts, g.Reasons = t.byReason()
		for k := range ClosureReasons {
			g.Incidence = append(g.Incidence, Incidence{Reason: k + 1, Steps: incidenceOf(counts, counts.by[k])})
		}
	}
	g.Curve = t.curve()
	if to == Determination {
		g.Curve.without(g.Incidence[0])
	}
	g.Quarter, g.Median, g.ThreeQuarters, g.Ninth = g.Curve.Quantile(0.25), g.Curve.Quantile(0.5), g.Curve.Quantile(0.75), g.Curve.Quantile(0.9)
	g.RMean = g.Curve.RestrictedMean(0)
	for _, day := range ShareDays {
		g.Shares = append(g.Shares, g.Curve.DoneBy(day))
	}
	return g
}
