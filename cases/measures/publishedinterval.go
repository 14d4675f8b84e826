package measures

// PublishedInterval is an interval report as it may leave the program: small counts
// are hidden, with what they could be worked out from, and curves have points only
// where enough happened. With a rule that hides nothing it holds the full figures, so
// pages, files and charts take this form alone and never mix the two.
type PublishedInterval struct {
	Question   `json:"question"`
	Below      int              `json:"hidden_below"` // 0: full figures
	Cases      Cell             `json:"cases"`
	NotStarted Cell             `json:"not_started"`
	Refused    Cell             `json:"refused"`
	All        PublishedGroup   `json:"all"`
	Groups     []PublishedGroup `json:"groups,omitempty"`
	// Classes divide the cases by whether the infant could be ready for a test by day
	// 28. Where small counts are hidden they have no curves and shares.
	Classes []PublishedGroup `json:"classes,omitempty"`
	// LogRank is nil where the groups cannot be told apart, or where one is hidden.
	LogRank *LogRank `json:"log_rank"`
	Says    []string `json:"says"`
}

// PublishedGroup holds the figures of a group that may be shown.
type PublishedGroup struct {
	Name string `json:"name"`
	// Few marks a group with fewer cases than the rule shows: it is named, and
	// nothing else of it is given.
	Few     bool `json:"few,omitempty"`
	Cases   Cell `json:"cases"`
	Done    Cell `json:"done"`
	Waiting Cell `json:"waiting"`
	Left    Cell `json:"left"`
	// Curve has points only at days where, since the point before, the numbers done and
	// gone otherwise are each 0 or not small; its counts are those since then, and
	// those who ended otherwise are among the censored. It is empty when nothing can
	// be drawn, and may end before the last day observed.
	Curve         Curve             `json:"curve"`
	Quarter       PublishedQuantile `json:"quarter"`
	Median        PublishedQuantile `json:"median"`
	ThreeQuarters PublishedQuantile `json:"three_quarters"`
	Ninth         PublishedQuantile `json:"ninth"`
	RMean         RestrictedMean    `json:"rmean"` // up to the last point of the curve
	Shares        []PublishedShare  `json:"shares"`
	Reasons       []PublishedCount  `json:"reasons,omitempty"`
	Incidence     []PublishedReason `json:"incidence,omitempty"`
}

// PublishedShare is a share as it may be shown. Hidden: the published curve has no
// point on that day.
type PublishedShare struct {
	Share
	Hidden bool `json:"hidden,omitempty"`
}

// PublishedCount is a number of cases under a word, as it may be shown.
type PublishedCount struct {
	As string `json:"as"`
	N  Cell   `json:"n"`
}

// PublishedReason is the incidence of one class of closing. Steps is empty when it
// may not be shown.
type PublishedReason struct {
	As string `json:"as"`
	Incidence
	Hidden bool `json:"hidden,omitempty"`
}

// By returns the share done by one of ShareDays.
func (g *PublishedGroup) By(day int) PublishedShare {
	for _, s := range g.Shares {
		if s.Day == day {
			return s
		}
	}
	return PublishedShare{Share: Share{Day: day}, Hidden: true}
}

// Words gives the share with its limits, or why there is none.
func (s PublishedShare) Words() string {
	if s.Hidden {
		return "not shown (small counts)"
	}
	return s.Share.Words()
}

// Publish hides what the rule hides. The rule that hides nothing gives full figures.
// It protects within this report; two reports of overlapping cohorts can still be
// set against each other.
func (r IntervalReport) Publish(rule SmallNumbers) PublishedInterval {
	p := PublishedInterval{Question: r.Question, Below: rule.below(), Cases: rule.cell(r.Cases),
		NotStarted: rule.cell(r.NotStarted), Refused: rule.cell(r.RefusedAll()), LogRank: r.LogRank}
	if p.NotStarted.Hidden || p.Refused.Hidden {
		p.Cases = Cell{Hidden: true}
	}
	all := publishTable([]GroupReport{r.All}, rule)
	if len(r.Groups) > 0 {
		all = publishTable(r.Groups, rule)
	}
	last := len(all) - 1
	p.All, p.Groups = all[last], all[:last]
	p.All.Name = r.All.Name
	if len(r.Groups) == 0 {
		p.Groups = nil
	}
	units := p.drawGroups(&r, rule)
	if !p.All.Cases.Hidden {
		s := p.All.draw(&r.All, rule, units)
		p.All.incidences(&r.All, &s)
	}
	p.Classes = publishClasses(r.Classes, &p.All, &r.All, rule)
	p.LogRank = p.LogRank.round(rule)
	p.Says = says(&p)
	return p
}

// drawGroups fills in the groups, and returns their cuts: of each that is drawn, and of
// the others together, whose counts are those of all less those that are drawn. Where
// counts are hidden the incidences of the reasons are given of all cases only, since
// those of the groups could be subtracted from them.
func (p *PublishedInterval) drawGroups(r *IntervalReport, rule SmallNumbers) []cutSet {
	units := make([]cutSet, 0, len(r.Groups)+1)
	var rest []*waitTally
	known := p.All.totalsKnown()
	for i := range p.Groups {
		g := &p.Groups[i]
		if g.Cases.Hidden {
			p.LogRank = nil
			rest = append(rest, r.Groups[i].counts)
			continue
		}
		known = known && g.totalsKnown()
		s := g.draw(&r.Groups[i], rule, nil)
		units = append(units, s)
		if rule.below() == 0 {
			g.incidences(&r.Groups[i], &s)
		}
	}
	if len(rest) > 0 {
		units = append(units, newCutSet(merged(rest).curve(), rule, nil, known, known, nil))
	}
	return units
}

// totalsKnown tells that a reader knows how many are done and how many are not.
func (g *PublishedGroup) totalsKnown() bool { return !g.Cases.Hidden && !g.Done.Hidden }

// publishClasses gives counts and quantiles only: curves of the classes beside that
// of all would tell the days of the smaller class. No count is given where this table
// hides other totals than that of the groups, which would fill them in.
func publishClasses(classes []GroupReport, all *PublishedGroup, full *GroupReport, rule SmallNumbers) []PublishedGroup {
	if len(classes) == 0 {
		return nil
	}
	out := publishTable(classes, rule)
	total := &out[len(classes)]
	out = out[:len(classes)]
	if !total.hidesLike(all) {
		withholdCounts(out)
	}
	for i := range out {
		if out[i].Cases.Hidden {
			continue
		}
		if rule.below() == 0 {
			s := out[i].draw(&classes[i], rule, nil)
			out[i].incidences(&classes[i], &s)
			continue
		}
		out[i].quantiles(&classes[i], rule, []cutSet{uncut(classes[i].Curve)}, func(day float64) bool { return all.besides(&classes[i], full, rule, day) })
	}
	return out
}

// publishTable hides the counts of a table of groups; the last is the total of all.
func publishTable(groups []GroupReport, rule SmallNumbers) []PublishedGroup {
	rows := make([][]int, len(groups))
	for i := range groups {
		rows[i] = groups[i].cells()
	}
	out := make([]PublishedGroup, 0, len(groups)+1)
	n := 0
	for i, row := range hideRows(rows, rule) {
		g := PublishedGroup{Cases: row[len(row)-1], Done: row[0], Waiting: row[1]}
		if len(row) > 3 {
			g.Left = row[2]
		}
		cases := n
		if i < len(groups) {
			g.Name, cases = groups[i].Name, groups[i].Cases
			n += cases
		}
		if g.Few = cases > 0 && rule.Small(cases); g.Few {
			none := Cell{Hidden: true}
			g.Cases, g.Done, g.Waiting, g.Left = none, none, none, none
		}
		if g.Cases.Hidden {
			g.withhold()
		}
		out = append(out, g)
	}
	if len(groups[0].Reasons) > 0 {
		publishReasons(out, groups, rule)
	}
	return out
}

// withhold marks every figure of a group whose number of cases is hidden.
func (g *PublishedGroup) withhold() {
	none := PublishedQuantile{Hidden: true}
	g.Quarter, g.Median, g.ThreeQuarters, g.Ninth = none, none, none, none
	g.RMean = RestrictedMean{undefined, undefined, undefined}
}

// hidesLike tells that two totals of the same cases hide the same counts.
func (g *PublishedGroup) hidesLike(o *PublishedGroup) bool {
	return g.Cases.Hidden == o.Cases.Hidden && g.Done.Hidden == o.Done.Hidden && g.Waiting.Hidden == o.Waiting.Hidden && g.Left.Hidden == o.Left.Hidden
}

// withholdCounts hides every count of groups, and what rests on them.
func withholdCounts(groups []PublishedGroup) {
	none := Cell{Hidden: true}
	for i := range groups {
		g := &groups[i]
		g.Cases, g.Done, g.Waiting, g.Left = none, none, none, none
		g.Curve, g.Shares, g.Incidence = nil, nil, nil
		for k := range g.Reasons {
			g.Reasons[k].N = none
		}
		g.withhold()
	}
}

// hideRows is Hide for one row as well, which is its own total.
func hideRows(rows [][]int, rule SmallNumbers) [][]Cell {
	if len(rows) > 1 {
		return Hide(rows, rule).Cells
	}
	row, total := HideTotal(rows[0], rule)
	return [][]Cell{append(row, total), append(row, total)}
}

// cells are the counts of a group that add up to its cases. Of a closure nobody can
// have left.
func (g *GroupReport) cells() []int {
	if len(g.Reasons) > 0 && !g.competing {
		return []int{g.Done, g.Waiting}
	}
	return []int{g.Done, g.Waiting, g.Left}
}

// publishReasons divides those done by class of closing; when only determinations
// are, those who left. Groups whose total is hidden show no class, and stand in the
// table as one; no class at all is shown where it would take the hiding of a total
// that is shown already.
func publishReasons(out []PublishedGroup, groups []GroupReport, rule SmallNumbers) {
	competing, first := groups[0].competing, 0
	if competing {
		first = 1
	}
	var rows [][]int
	var at []*PublishedGroup
	rest := make([]int, len(ClosureReasons)-first)
	some := false
	for i := range groups {
		row := make([]int, len(rest))
		for k := range row {
			row[k] = groups[i].Reasons[first+k].N
		}
		if out[i].divided(competing).Hidden {
			for k, n := range row {
				rest[k] += n
			}
			some = true
			continue
		}
		rows, at = append(rows, row), append(at, &out[i])
	}
	if some {
		rows, at = append(rows, rest), append(at, nil)
	}
	last := &out[len(out)-1]
	cells := hideRows(rows, rule)
	show := !last.divided(competing).Hidden
	for _, row := range cells {
		show = show && !row[len(row)-1].Hidden
	}
	for i := range out {
		out[i].takeReasons(nil, competing)
	}
	if !show {
		return
	}
	last.takeReasons(cells[len(cells)-1], competing)
	for i, g := range at {
		if g != nil {
			g.takeReasons(cells[i], competing)
		}
	}
}

// divided is the count that the classes of closing divide.
func (g *PublishedGroup) divided(competing bool) Cell {
	if competing {
		return g.Left
	}
	return g.Done
}

// takeReasons puts the cells of the classes in their places; nil hides them.
func (g *PublishedGroup) takeReasons(row []Cell, competing bool) {
	g.Reasons = make([]PublishedCount, len(ClosureReasons))
	first := 0
	if competing {
		first = 1
	}
	for k, as := range ClosureReasons {
		g.Reasons[k] = PublishedCount{As: as, N: Cell{Hidden: true}}
		switch {
		case k < first:
			g.Reasons[k].N = g.Done
		case row != nil:
			g.Reasons[k].N = row[k-first]
		}
	}
}

// below is the least count shown; 0 when the rule hides nothing.
func (s SmallNumbers) below() int {
	if s.Below <= 1 {
		return 0
	}
	return s.Below
}
