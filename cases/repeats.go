package cases

// RepeatPlan is what a person who arranges an open repeat needs to know: when it
// should be, which attempt it is, and what to consider besides or instead. It only
// says what the protocol's values imply; a named person decides.
type RepeatPlan struct {
	Because string // as Repeat.Because
	After   Day    // the test it follows
	From    Day    // first day: never on the day of the test it follows
	Due     Day
	Last    Day // last day of the window; 0 where the protocol sets none
	Attempt int // 2 is the first repeat

	// Fruitless is how many chloride tests so far gave no reading by the bands (QNS,
	// arms that disagree, a value not plausible, void). It is 0 once one is graded.
	Fruitless int
	// Limit is the number of fruitless tests from which something else is considered.
	Limit    int
	Consider Actions
}

// PastLimit tells whether so many tests gave nothing that a person should consider
// something other than one more.
func (r *RepeatPlan) PastLimit() bool { return r.Fruitless >= r.Limit }

// RepeatPlan says how the open repeat of an assessment is planned; false without one.
//
// After an intermediate test the window is protocol values (14 to 60 days, with 28
// between them; no guideline number was seen), and the genotype is completed at once
// (Farrell et al. 2017). After tests that gave nothing, fecal elastase while the next
// test is arranged was fastest in the Swiss comparison (PMID 26826912); that the limit
// for QNS holds for every kind of test without a reading is a choice of this project.
func (p *Protocol) RepeatPlan(a *Assessment) (RepeatPlan, bool) {
	r := a.Repeat
	if r == nil {
		return RepeatPlan{}, false
	}
	w := RepeatPlan{Because: r.Because, After: r.After, Due: r.Due, Attempt: r.Attempt, Limit: p.QNSEscalateAfter}
	w.From, w.Last = p.repeatWindow(r)
	w.Fruitless = fruitless(a.Tests)
	const besides = ActOrderGenotype | ActConsiderElastase | ActTellSupervisor | ActVerifyValue | ActConfirmIdentity
	w.Consider = a.Actions & besides
	if w.PastLimit() {
		w.Consider |= ActConsiderElastase | ActTellSupervisor
		if !a.Genotype.Reported || a.Genotype.Scope != "sequencing" {
			w.Consider |= ActOrderGenotype
		}
	}
	return w, true
}

// repeatWindow is the first and the last day for a repeat; last is 0 where the
// protocol sets none.
func (p *Protocol) repeatWindow(r *Repeat) (from, last Day) {
	if r.Because != string(Intermediate) {
		return r.After + 1, 0
	}
	from = r.After + Day(max(1, min(p.IntermediateFromDays, p.IntermediateRepeatDays)))
	return from, r.After + Day(max(p.IntermediateUntilDays, p.IntermediateRepeatDays))
}

// RepeatFrom is the first day on which a repeat makes sense.
func (p *Protocol) RepeatFrom(r *Repeat) Day {
	from, _ := p.repeatWindow(r)
	return from
}

func fruitless(tests []TestReading) int {
	n := 0
	for i := range tests {
		switch o := tests[i].Outcome; {
		case o.Graded():
			return 0
		case o == QNS, o == ArmsDisagree, o == Unverified, o == VoidTest:
			n++
		}
	}
	return n
}

// RetestDay is one day of the series of re-tests of a CRMS/CFSPID infant.
type RetestDay struct {
	Months int // of age
	On     Day
	Tested Day // the graded or ungraded chloride test that met it; 0 for none
}

// RetestSeries lists the days on which a CRMS/CFSPID infant is tested again: at the
// protocol's months of age, to age 8 by default (Green et al., Pediatrics
// 2024;153(5):e2023064657; the ages before are from memory and the program's to
// sign). A test counts for the nearest day of the series.
func (p *Protocol) RetestSeries(c *Case, on Day) []RetestDay {
	out := make([]RetestDay, 0, len(p.CRMSRetestMonths))
	for _, m := range p.CRMSRetestMonths {
		out = append(out, RetestDay{Months: m, On: c.Infant.Born.AddMonths(m)})
	}
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		if t.On > on || t.IsConductivity() || t.void(on) {
			continue
		}
		if n := nearestRetest(out, t.On); n >= 0 {
			out[n].Tested = max(out[n].Tested, t.On)
		}
	}
	return out
}

// nearestRetest is the day of the series nearest to a test, which is nearer to it
// than to birth; -1 for the tests of the first weeks.
func nearestRetest(series []RetestDay, on Day) int {
	best, least := -1, Day(0)
	for i := range series {
		d := max(series[i].On-on, on-series[i].On)
		if best < 0 || d < least {
			best, least = i, d
		}
	}
	if best == 0 && series[0].On-on > on-(series[0].On-Day(series[0].Months*30)) {
		return -1
	}
	return best
}

// NextRetest is the first day of the series after a day; 0 when none is left.
func (p *Protocol) NextRetest(c *Case, after Day) Day {
	for _, d := range p.RetestSeries(c, after) {
		if d.On > after && d.Tested == 0 {
			return d.On
		}
	}
	return 0
}
