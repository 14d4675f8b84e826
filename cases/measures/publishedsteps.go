package measures

import "slices"

// chains are shares of the same infants at growing ages, and of first tests among all.
// Each is larger, or smaller, than the one before by those who changed in between, or
// by the repeats, who can be few.
func chains() [][]string {
	tested := make([]string, len(TestedAges))
	for i, days := range TestedAges {
		tested[i] = TestedBy(days)
	}
	return [][]string{tested, {NoResolution90, NoResolution180, NoResolution365}, {QNSFirstYoung, QNSTestsYoung}, {QNSFirstYoung, QNSInfants}}
}

// hideSteps hides the shares of a chain that differ from the last one shown by so few
// infants that those could be pointed at, with their groups; where only groups differ
// by few, the groups.
func (r Rates) hideSteps(hidden map[string]HiddenRate, breakdowns []PublishedBreakdown, chain []string, rule SmallNumbers) {
	last := map[string]Proportion{}
	for _, measure := range chain {
		now := r.series(measure)
		near := false
		for name, p := range now {
			if before, ok := last[name]; ok && rule.tell(before, p) {
				near = true
			}
		}
		before, ok := last[""]
		all := ok && rule.tell(before, now[""])
		if !near {
			if h := hidden[measure]; !h.Count.Hidden || !h.Of.Hidden {
				last = now
			}
			continue
		}
		if all {
			hidden[measure] = nothing
		} else if h := hidden[measure]; !h.Count.Hidden || !h.Of.Hidden {
			last[""] = now[""]
		}
		hideRowsOf(breakdowns, measure)
	}
}

// hideRowsOf hides all groups of a measure.
func hideRowsOf(breakdowns []PublishedBreakdown, measure string) {
	for k := range breakdowns {
		b := &breakdowns[k]
		if b.Measure != measure {
			continue
		}
		b.Funnel = nil
		for i := range b.Rows {
			b.Rows[i] = PublishedRate{Measure: measure, Name: b.Rows[i].Name, HiddenRate: nothing}
		}
	}
}

// nothing is a rate of which nothing is shown.
var nothing = HiddenRate{Count: Cell{Hidden: true}, Of: Cell{Hidden: true}}

// series are the counts of a share: of all under "", and by group.
func (r Rates) series(measure string) map[string]Proportion {
	out := map[string]Proportion{}
	for _, x := range r.Rates {
		if x.Measure == measure {
			out[""] = x.Proportion
		}
	}
	for _, b := range r.Breakdowns {
		if b.Measure == measure {
			for _, x := range b.Rows {
				out[b.By+": "+x.Name] = x.Proportion
			}
		}
	}
	return out
}

// tell tells whether two counts of the same infants differ by a small number that is
// not 0, or in what remains of their totals.
func (s SmallNumbers) tell(a, b Proportion) bool {
	for _, d := range []int{a.Count - b.Count, a.Of - b.Of, (a.Of - a.Count) - (b.Of - b.Count)} {
		if d = max(d, -d); d > 0 && s.Small(d) {
			return true
		}
	}
	return false
}

// part hides a rate whose total is itself a part of all cases, such as those that were
// closed: who is left over can be few, and is the difference of the totals; so can the
// total be where nobody is left over.
func (s SmallNumbers) part(p Proportion, all int) HiddenRate {
	parts, _ := HideTotal([]int{p.Count, p.Of - p.Count, all - p.Of}, s)
	return p.shown(parts[0].Hidden, parts[2].Hidden || s.Small(p.Of))
}

// ofCases are the rates whose total is a part of all cases: those left out of it are
// the difference, which can be few.
var ofCases = []string{LostClosures, DoctorInTime, FamilyInTime, NoResolution90, NoResolution180, NoResolution365}

// fewUntested tells that the infants a rate of first tests leaves out, who had none, are
// few: all cases less its total. Not so where tests are counted by their own days.
func (r Rates) fewUntested(measure string, rule SmallNumbers) bool {
	if r.ByDay || measure != QNSInfants && measure != QNSFirstYoung {
		return false
	}
	of := r.series(measure)[""].Of
	return of > 0 && rule.Small(r.Cases-of)
}

// hideOneMore hides the least group of a breakdown of which all totals are shown, so
// that these do not add up to a total that is hidden.
func hideOneMore(rows []Rate, shown []HiddenRate) {
	least := -1
	for i, h := range shown {
		if h.Of.Hidden {
			return
		}
		if rows[i].Of > 0 && (least < 0 || rows[i].Of < rows[least].Of) {
			least = i
		}
	}
	if least >= 0 {
		shown[least] = nothing
	}
}

// alike hides the total of two rates that have the same one where either hides it.
func alike(hidden map[string]HiddenRate, a, b string) {
	x, y := hidden[a], hidden[b]
	none := HiddenRate{}
	none.Of.Hidden = x.Of.Hidden || y.Of.Hidden
	hidden[a], hidden[b] = both(x, none), both(y, none)
}

// hideFacts hides the facts recorded of too few, or of all but too few. Facts overlap,
// so each stands for itself; but those that apply to the same cases have one total,
// which is hidden of all of them or of none.
func (r Rates) hideFacts(rows []Rate, rule SmallNumbers) []HiddenRate {
	out := make([]HiddenRate, len(rows))
	left := map[int]bool{}
	for i, x := range rows {
		out[i] = HideRates([]Proportion{x.Proportion}, rule)[0]
		left[x.Of] = left[x.Of] || out[i].Of.Hidden || rule.Small(x.Of) || rule.Small(r.Cases-x.Of)
	}
	for i, x := range rows {
		if left[x.Of] {
			out[i] = nothing
		}
	}
	return out
}

// shown is the proportion without what is hidden.
func (p Proportion) shown(countHidden, ofHidden bool) HiddenRate {
	h := HiddenRate{Count: Cell{N: p.Count}, Of: Cell{N: p.Of}, Rate: p.Rate, Limits: p.Limits}
	if countHidden {
		h.Count = Cell{Hidden: true}
	}
	if ofHidden {
		h.Of = Cell{Hidden: true}
	}
	return both(h, h)
}

// hidePredictions hides the two predictive values as parts of one list: CF,
// CRMS/CFSPID, all other infants referred by the screen, and those referred otherwise.
func (r Rates) hidePredictions(hidden map[string]HiddenRate, rule SmallNumbers) {
	at := func(measure string) int {
		return slices.IndexFunc(r.Rates, func(x Rate) bool { return x.Measure == measure })
	}
	cf, either := at(PredictsCF), at(PredictsEither)
	if cf < 0 || either < 0 {
		return
	}
	a, b := r.Rates[cf].Proportion, r.Rates[either].Proportion
	parts, _ := HideTotal([]int{a.Count, b.Count - a.Count, b.Of - b.Count, r.Cases - b.Of}, rule)
	of := parts[3].Hidden || rule.Small(a.Of)
	hidden[PredictsCF] = a.shown(parts[0].Hidden, of)
	// CF or CRMS/CFSPID is the sum of two parts, and what the two others leave.
	known := !parts[0].Hidden && !parts[1].Hidden || !parts[2].Hidden && !parts[3].Hidden
	hidden[PredictsEither] = b.shown(!known, of)
}
