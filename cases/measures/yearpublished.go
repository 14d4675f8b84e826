package measures

import "dunlin/cases"

// PublishedYear is the figures of a birth year as they may be shown. With the empty
// rule nothing is hidden.
type PublishedYear struct {
	Year       int                 `json:"year"`
	AsOf       cases.Day           `json:"as_of"`
	Below      int                 `json:"hidden_below"`
	Cases      Cell                `json:"cases"`
	Open       Cell                `json:"open"`
	ByRoute    []PublishedCount    `json:"by_route"`
	ByVariants []PublishedCount    `json:"by_variants"`
	ClosedAs   []PublishedCount    `json:"closed_as"`
	Diagnosed  PublishedSpread     `json:"age_at_diagnosis"`
	Cleared    PublishedSpread     `json:"age_when_ruled_out"`
	Rates      PublishedRates      `json:"rates"`
	Intervals  []PublishedInterval `json:"intervals"`
}

// PublishedSpread is quantiles as they may be shown: none when too few.
type PublishedSpread struct {
	N             Cell     `json:"n"`
	Quarter       *float64 `json:"quarter"`
	Median        *float64 `json:"median"`
	ThreeQuarters *float64 `json:"three_quarters"`
	P90           *float64 `json:"p90"`
}

// Publish hides what the rule hides. Where the cases stand is one table, that of the
// interval from birth to closure; its cells stand again among the rates and the ages
// at closure, and are hidden there too.
func (y Year) Publish(rule SmallNumbers) PublishedYear {
	out := PublishedYear{Year: y.Year, AsOf: y.AsOf, Below: rule.below(), Rates: y.Rates.Publish(rule)}
	for _, x := range y.Intervals {
		out.Intervals = append(out.Intervals, x.Publish(rule))
	}
	out.alignIntervals(&y, rule)
	var routes, variants Cell
	out.ByRoute, routes = publishCounts(y.ByRoute, rule)
	out.ByVariants, variants = publishCounts(y.ByVariants, rule)
	out.Cases = rule.cell(y.Cases)
	if y.Cases > 0 && (routes.Hidden || variants.Hidden) {
		out.Cases = Cell{Hidden: true}
	}
	out.stand(&y, rule)
	if out.Cases.Hidden { // its parts would add up to it
		out.hideCounts()
	}
	out.Diagnosed = publishSpread(y.Diagnosed, rule, out.closed("cf"))
	out.Cleared = publishSpread(y.Cleared, rule, out.closed("carrier", "not-affected"))
	out.alignRates(&y, rule)
	return out
}

// alignIntervals hides, of two intervals of which one ends no later than the other, what
// is done of the one that fewer have done, where they differ by few: tested, but never
// with enough sweat; closed, but not determined. Groups whose totals are hidden
// otherwise than those of the same interval without groups have no counts.
func (p *PublishedYear) alignIntervals(y *Year, rule SmallNumbers) {
	done := map[Milestone]int{}
	for _, x := range y.Intervals {
		if x.From == Birth && x.Group == "" {
			done[x.To] = x.All.Done
		}
	}
	for i := range p.Intervals {
		x := &p.Intervals[i]
		more := Closure
		switch {
		case x.Group != "":
			if whole, ok := p.Interval(x.From, x.To, ""); ok && !whole.All.hidesLike(&x.All) {
				withholdCounts(x.Groups)
			}
			continue
		case x.To == FirstSufficient:
			more = FirstTest
		case x.To != Determination:
			continue
		}
		if d := done[more] - done[x.To]; d > 0 && rule.Small(d) {
			x.All.hideDone()
		}
	}
}

// hideDone hides how many are done, and when.
func (g *PublishedGroup) hideDone() {
	none := Cell{Hidden: true}
	g.Done, g.Waiting, g.Left, g.Curve = none, none, none, nil
	g.RMean = RestrictedMean{undefined, undefined, undefined}
	for i := range g.Shares {
		g.Shares[i] = PublishedShare{Share: Share{Day: g.Shares[i].Day}, Hidden: true}
	}
	for i := range g.Reasons {
		g.Reasons[i].N = none
	}
	for i := range g.Incidence {
		g.Incidence[i].Steps, g.Incidence[i].Hidden = nil, true
	}
}

// stand takes the open cases, and the closures of each class, from the interval from
// birth to closure, and hides the determinations of each class within it.
func (p *PublishedYear) stand(y *Year, rule SmallNumbers) {
	whole, _ := p.Interval(Birth, Closure, "")
	p.Open = whole.All.Waiting
	if whole.All.Few {
		p.Open = Cell{Hidden: true}
	}
	class := map[string]Cell{}
	for _, c := range whole.All.Reasons {
		class[c.As] = c.N
	}
	shown := map[string]Cell{}
	for k, name := range ClosureReasons {
		var within []Count
		for _, c := range y.ClosedAs {
			if int(ReasonCode(c.As)) == k+1 {
				within = append(within, c)
			}
		}
		list, _ := publishCounts(within, rule)
		for _, c := range list {
			if of, there := class[name]; !there || of.Hidden {
				c.N = Cell{Hidden: true}
			}
			shown[c.As] = c.N
		}
	}
	for _, c := range y.ClosedAs {
		p.ClosedAs = append(p.ClosedAs, PublishedCount{As: c.As, N: shown[c.As]})
	}
}

// publishCounts hides the small counts of a list with its total.
func publishCounts(list []Count, rule SmallNumbers) ([]PublishedCount, Cell) {
	ns := make([]int, len(list))
	for i, c := range list {
		ns[i] = c.N
	}
	cells, total := HideTotal(ns, rule)
	out := make([]PublishedCount, len(list))
	for i, c := range list {
		out[i] = PublishedCount{As: c.As, N: cells[i]}
	}
	return out, total
}

// hideCounts hides every count of cases.
func (p *PublishedYear) hideCounts() {
	p.Open = Cell{Hidden: true}
	for _, list := range [][]PublishedCount{p.ByRoute, p.ByVariants, p.ClosedAs} {
		for i := range list {
			list[i].N = Cell{Hidden: true}
		}
	}
}

// closed tells whether the counts of all these determinations are shown.
func (p *PublishedYear) closed(as ...string) bool {
	for _, c := range p.ClosedAs {
		for _, a := range as {
			if c.As == a && c.N.Hidden {
				return false
			}
		}
	}
	return true
}

// publishSpread leaves quantiles out when they rest on too few, and the number too
// where the table of closures hides a part of it.
func publishSpread(s Spread, rule SmallNumbers, counted bool) PublishedSpread {
	out := PublishedSpread{N: rule.cell(s.N)}
	if !out.N.Hidden {
		out.Quarter, out.Median, out.ThreeQuarters, out.P90 = s.Quarter, s.Median, s.ThreeQuarters, s.P90
	}
	if !counted {
		out.N = Cell{Hidden: true}
	}
	return out
}

// alignRates hides, in the rates of closures and of predictions, what the tables of
// the report hide, or what would tell a small count beside them: those lost; all
// closed, which with the open ones are all cases; those referred by the screen; and
// the infants with CF of whom the screen found all but a few.
func (p *PublishedYear) alignRates(y *Year, rule SmallNumbers) {
	screened, cf := Cell{}, 0
	for _, c := range p.ByRoute {
		if c.As == "screen" {
			screened = c.N
		}
	}
	for _, c := range y.ClosedAs {
		if c.As == "cf" {
			cf = c.N
		}
	}
	for i := range p.Rates.Rates {
		r := &p.Rates.Rates[i]
		switch r.Measure {
		case LostClosures:
			r.hide(!p.closed("lost"), p.Open.Hidden || p.Cases.Hidden)
		case PredictsCF:
			beside := !r.Count.Hidden && cf != r.Count.N && rule.Small(cf-r.Count.N)
			r.hide(!p.closed("cf") || beside, screened.Hidden)
		case PredictsEither:
			r.hide(!p.closed("cf", "crms-cfspid"), screened.Hidden)
		}
	}
}

// hide hides the count, or the total, and what rests on either.
func (r *PublishedRate) hide(count, of bool) {
	if count {
		r.Count = Cell{Hidden: true}
	}
	if of {
		r.Of = Cell{Hidden: true}
	}
	if count || of {
		r.Rate, r.Limits, r.Test, r.Holm = nil, nil, nil, nil
	}
}
