package cases

// stands and void tell what a named person said of a test by a day.
func (t *SweatTest) stands(on Day) bool {
	return t.Verified != nil && t.Verified.As == "stands" && t.Verified.On <= on
}

func (t *SweatTest) void(on Day) bool {
	return t.Verified != nil && t.Verified.As == "void" && t.Verified.On <= on
}

// Hurt tells a blister or burn, which has to be reported.
func (a *Arm) Hurt() bool { return a.Reaction == "blister" || a.Reaction == "burn" }

// IsConductivity tells a screening test that closes nothing.
func (t *SweatTest) IsConductivity() bool { return t.Analyte == "conductivity" }

// ReadTest reads one sweat test as of a day: each arm, the outcome and the flags.
// earliest is the first day the infant could be tested.
func (p *Protocol) ReadTest(c *Case, t *SweatTest, earliest, on Day) TestReading {
	r := TestReading{On: t.On, Test: t}
	r.Arms.N = min(len(t.Arms), 2)
	for i := range r.Arms.N {
		r.Arms.A[i] = p.readArm(t, &t.Arms[i])
	}
	p.flagTest(&r, c, earliest)
	switch {
	case t.void(on):
		r.Outcome = VoidTest
	case t.IsConductivity():
		r.Outcome = ScreeningOnly
	default:
		p.gradeTest(&r, c, on)
	}
	return r
}

// readArm compares an arm's amount with what it needed: the least amount is a
// sweat rate, so it grows in proportion above the base time (CE course on CFF
// 2007 and CLSI C34); below it only where the program says so. An arm without a
// recorded amount cannot be shown to be enough and is not used.
func (p *Protocol) readArm(t *SweatTest, a *Arm) ArmRead {
	least, amount := p.MinAmountUL, a.AmountUL
	if t.Collector == "pad" {
		least, amount = p.MinAmountMg, a.AmountMg
	}
	r := ArmRead{Side: a.Side, Needed: least}
	if a.Minutes > p.AmountBaseMin || p.AmountScalesDown && a.Minutes < p.AmountBaseMin {
		r.Needed = least * a.Minutes / p.AmountBaseMin
	}
	r.Usable = amount != nil && *amount >= r.Needed-1e-9
	return r
}

func (p *Protocol) flagTest(r *TestReading, c *Case, earliest Day) {
	t := r.Test
	short := 0
	for i := range r.Arms.N {
		if t.Arms[i].Minutes > p.MaxCollectionMin {
			r.Flags |= FlagCollectionLong
		}
		if t.Arms[i].Hurt() {
			r.Flags |= FlagReaction
		}
		if !r.Arms.A[i].Usable {
			short++
		}
	}
	if r.Arms.N == 1 && p.RequireBothArms {
		r.Flags |= FlagOneArm
	}
	if r.Arms.N == 2 && short == 1 && !t.IsConductivity() {
		r.Flags |= FlagOneArmShort
	}
	if t.On < earliest {
		r.Flags |= FlagBeforeReady
	}
	for i := range c.Holds {
		if c.Holds[i].openOn(t.On) {
			r.Flags |= FlagDuringHold
		}
	}
}

// gradeTest reads a chloride test by the bands. Chloride is compared unrounded.
func (p *Protocol) gradeTest(r *TestReading, c *Case, on Day) {
	t := r.Test
	var v [2]*float64 // values of usable arms
	n, waiting := 0, false
	for i := range r.Arms.N {
		if !r.Arms.A[i].Usable {
			continue
		}
		n++
		if v[i] = t.Arms[i].Chloride; v[i] == nil {
			waiting = true
		} else if r.Deciding == nil || *v[i] > *r.Deciding {
			r.Deciding = v[i]
		}
	}
	switch {
	case n == 0:
		r.Outcome = QNS
		return
	case waiting && (r.Deciding == nil || !p.inCFRange(*r.Deciding)):
		r.Outcome, r.Deciding = NotResulted, nil
		return
	}
	stands := t.stands(on)
	if !stands && *r.Deciding > p.ImplausibleAbove {
		r.Outcome = Unverified
		return
	}
	age := int(t.On - c.Infant.Born)
	if v[0] != nil && v[1] != nil {
		a, b := *v[0], *v[1]
		apart := max(a-b, b-a) > p.agreeWithin((a+b)/2)
		switch bandA, bandB := p.band(a, age), p.band(b, age); {
		case bandA == ConsistentCF && bandB == ConsistentCF:
			if apart {
				r.Flags |= FlagArmsApart
			}
		case apart && !stands:
			r.Outcome = ArmsDisagree
			return
		case apart: // said to stand: read by the bands alone
		case bandA != bandB:
			r.Flags |= FlagStraddle
		}
	}
	r.Outcome = p.band(*r.Deciding, age)
}

func (p *Protocol) agreeWithin(mean float64) float64 {
	if mean > p.AgreeSplitAt {
		return p.AgreeWithinHigh
	}
	return p.AgreeWithinLow
}

func (p *Protocol) inCFRange(v float64) bool {
	if p.CFStrictlyAbove {
		return v > p.CFFrom
	}
	return v >= p.CFFrom
}

// band reads one value in mmol/L at an age in days (CFF 2017: one set of bands at
// any age; the age split is off by default).
func (p *Protocol) band(v float64, ageDays int) Outcome {
	from := p.IntermediateFrom
	if p.OlderFromDays != nil && ageDays >= *p.OlderFromDays {
		from = p.OlderIntermediateFrom
	}
	switch {
	case p.inCFRange(v):
		return ConsistentCF
	case v >= from:
		return Intermediate
	}
	return Unlikely
}

// anyArmInCFRange tells whether a usable arm reads at or above the CF limit.
func (p *Protocol) anyArmInCFRange(r *TestReading) bool {
	if r.Outcome == VoidTest || r.Outcome == ScreeningOnly {
		return false
	}
	for i := range r.Arms.N {
		if v := r.Test.Arms[i].Chloride; r.Arms.A[i].Usable && v != nil && p.inCFRange(*v) {
			return true
		}
	}
	return false
}

// readTests reads the tests up to a day in order of time, into buf where it is
// large enough.
func (p *Protocol) readTests(c *Case, earliest, on Day, buf []TestReading) []TestReading {
	out := buf[:0]
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		if t.On > on {
			continue
		}
		r := p.ReadTest(c, t, earliest, on)
		r.Index = i
		j := len(out)
		out = append(out, r)
		for j > 0 && later(out[j-1].Test, t) {
			out[j] = out[j-1]
			j--
		}
		out[j] = r
	}
	return out
}

func later(a, b *SweatTest) bool {
	return a.On > b.On || a.On == b.On && a.At > b.At
}
