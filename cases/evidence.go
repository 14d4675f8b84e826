package cases

// evidence is what the tests and the genotype say together on one day.
type evidence struct {
	on      Day
	ref     Day // referral, not before birth
	twoFrom Day // presumptive CF from this day; 0: not presumptive

	ready    Readiness
	genotype GenotypeRead
	tests    []TestReading

	graded       *TestReading // the latest graded test
	lastChloride *TestReading // the latest test that is not conductivity
	anyCF        bool         // an arm in the CF range, not void
	gradedCF     bool         // a graded test in the CF range
	interDays    int          // different days with an intermediate test
	secondInter  Day          // the second of them
	qns, ngraded int

	supports    Supports // from tests and genotype alone
	provisional bool
	judge       bool // the graded tests leave a person to judge
	misfit      bool // the latest graded test does not fit
	polyT       bool // R117H waits for its poly-T
	awaitReport bool // two intermediate tests: the sequencing report is awaited
}

// presumptive tells two or more cf-causing alleles known by the day.
func (e *evidence) presumptive() bool { return e.twoFrom != 0 }

// weigh gathers the evidence of a case as known on a day.
func (p *Protocol) weigh(c *Case, on Day, buf []TestReading) evidence {
	e := evidence{on: on, ref: max(c.Referral.On, c.Infant.Born)}
	e.ready = p.Readiness(c, on)
	var two Day
	if e.genotype, two = c.readGenotype(on); two != 0 {
		e.twoFrom = max(two, e.ref)
	}
	e.tests = p.readTests(c, e.ready.Earliest, on, buf)
	lastInter := Day(0)
	for i := range e.tests {
		t := &e.tests[i]
		if p.anyArmInCFRange(t) {
			e.anyCF = true
		}
		if !t.Test.IsConductivity() {
			e.lastChloride = t
		}
		switch t.Outcome {
		case QNS:
			e.qns++
		case ConsistentCF:
			e.gradedCF = true
		case Intermediate:
			if t.On != lastInter {
				e.interDays++
				lastInter = t.On
			}
			if e.interDays == 2 && e.secondInter == 0 {
				e.secondInter = t.On
			}
		}
		if t.Outcome.Graded() {
			e.graded = t
			e.ngraded++
		}
	}
	if e.graded != nil {
		p.readEvidence(&e)
	}
	return e
}

// readEvidence applies the rules of the case document, gravest first: every
// graded test counts, not only the last.
func (p *Protocol) readEvidence(e *evidence) {
	last := e.graded
	stands := last.Test.stands(e.on)
	below := last.Outcome == Unlikely
	al := e.genotype.Alleles
	switch {
	case e.gradedCF:
		e.supports = SupCF
		e.misfit = below && !stands
	case al.CFCausing >= 2:
		p.readTwoCausing(e, below, stands)
	case e.genotype.PolyT && al.counting() >= 2:
		e.polyT = true
	case last.Outcome == Intermediate:
		readIntermediate(e)
	case last.Flags&(FlagBeforeReady|FlagDuringHold) != 0 && !stands, e.interDays >= 2 && !stands:
		e.judge = true
	case al.counting() >= 2:
		e.supports = SupCRMS
	case al.CFCausing+al.Varying == 1:
		e.supports = SupCarrier
	case al.Unknown == 1 || !e.genotype.Reported:
		e.judge = true
	default:
		e.supports = SupNotAffected
	}
}

// readTwoCausing reads tests beside two cf-causing alleles: the harmonised
// CRMS/CFSPID definition excludes them, so an intermediate test supports CF, and
// a value below the band does not fit until seen on two days or said to stand.
func (p *Protocol) readTwoCausing(e *evidence, below, stands bool) {
	belowDays, lastBelow := 0, Day(0)
	for i := range e.tests {
		if t := &e.tests[i]; t.Outcome == Unlikely && t.On != lastBelow {
			belowDays++
			lastBelow = t.On
		}
	}
	switch {
	case below && (stands || belowDays >= 2):
		e.judge = true
	case below:
		e.misfit = true
		if e.interDays > 0 {
			e.supports = SupCF
		}
	default:
		e.supports = SupCF
	}
}

func readIntermediate(e *evidence) {
	switch {
	case e.genotype.Alleles.counting() >= 2:
		e.supports = SupCRMS
	case e.interDays >= 2 && e.genotype.Reported && e.genotype.Scope == "sequencing":
		e.supports = SupCRMS
	default:
		e.provisional = true
		e.awaitReport = e.interDays >= 2
	}
}

// repeat says whether a further test is owed. At most one is open.
func (p *Protocol) repeat(e *evidence) *Repeat {
	last := e.lastChloride
	if last == nil {
		return nil
	}
	after, wait, because := last, p.QNSRepeatDays, string(last.Outcome)
	switch {
	case last.Outcome == NotResulted:
		return nil
	case e.misfit:
		if last.Outcome.Graded() {
			because = becauseMisfit
		}
	case e.supports != 0, e.awaitReport, last.Outcome.Graded() && !e.provisional:
		return nil
	case last.Outcome == Intermediate:
		wait = p.IntermediateRepeatDays
	}
	return &Repeat{Because: because, Due: after.On + Day(wait), Attempt: len(e.tests) + 1, After: after.On}
}
