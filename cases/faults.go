package cases

import "fmt"

// The bounds outside which a value is impossible, not merely unlikely.
const (
	minWeightG, maxWeightG     = 250, 15000
	minMinutes, maxMinutes     = 1, 120
	maxChloride                = 400
	minGestation, maxGestation = 22 * 7, 44*7 + 6
)

// faultList gathers faults.
type faultList []Fault

func (l *faultList) add(reason string, format string, args ...any) {
	*l = append(*l, Fault{fmt.Sprintf(format, args...), reason})
}

// Faults lists everything impossible in a case as of a day of assessment: what the
// case document refuses, all at once, each with its path.
func (c *Case) Faults(on Day, p *Protocol) []Fault {
	var l faultList
	born := c.Infant.Born
	if born > on {
		l.add(fmt.Sprintf("lies after %s, the day of assessment", on), "infant.born")
	}
	if c.Referral.On > on {
		l.add(fmt.Sprintf("lies after %s, the day of assessment", on), "referral.on")
	}
	for _, d := range c.dates() {
		if d.kind != prenatal && born != 0 && d.day < born {
			l.add(fmt.Sprintf("%s is before the birth on %s", d.day, born), "%s", d.path)
		}
	}
	c.orderFaults(&l)
	c.infantFaults(&l)
	if c.Family != nil && c.Family.Visits != nil {
		c.Family.Visits.faults(&l)
	}
	c.genotypeFaults(&l)
	for i := range c.SweatTests {
		c.testFaults(&l, i)
	}
	if born != 0 && born <= on {
		c.closureFaults(&l, p)
	}
	return l
}

// FutureFaults lists facts dated after the day they are entered; only bookings and
// the ends of holds may lie ahead.
func (c *Case) FutureFaults(today Day) []Fault {
	var l faultList
	if c.Infant.Born > today {
		l.add(fmt.Sprintf("%s is in the future; today is %s", c.Infant.Born, today), "infant.born")
	}
	for _, d := range c.dates() {
		if d.kind != plan && d.day > today {
			l.add(fmt.Sprintf("%s is in the future; today is %s", d.day, today), "%s", d.path)
		}
	}
	return l
}

// orderFaults finds dates in the wrong order.
func (c *Case) orderFaults(l *faultList) {
	after := func(first, second Day, what, format string, args ...any) {
		if first != 0 && second != 0 && second < first {
			l.add(fmt.Sprintf("%s is before %s, %s", second, first, what), format, args...)
		}
	}
	for i := range c.Holds {
		after(c.Holds[i].From, c.Holds[i].Until, "when the hold began", "holds[%d].until", i)
	}
	for i := range c.Flags {
		after(c.Flags[i].From, c.Flags[i].Until, "when the flag began", "flags[%d].until", i)
	}
	if s := c.Referral.Screen; s != nil {
		after(s.Collected, s.Reported, "when the specimen was collected", "referral.screen.reported")
	}
	after(c.Infant.Died, c.Infant.DiedReported, "the day of death", "infant.died_reported")
	for i := range c.LegalHolds {
		h := &c.LegalHolds[i]
		after(h.On, h.Until, "when the legal hold was placed", "legal_holds[%d].until", i)
		after(h.On, h.EndedOn, "when the legal hold was placed", "legal_holds[%d].ended_on", i)
	}
	if d := c.Declined; d != nil {
		after(d.On, d.WithdrawnOn, "when the family declined", "declined.withdrawn_on")
	}
	if h := c.Handover; h != nil {
		after(h.On, h.AcceptedOn, "the hand-over", "handover.accepted_on")
	}
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		if t.Verified != nil {
			after(t.On, t.Verified.On, "the day of the test", "sweat_tests[%d].verified.on", i)
		}
		for j := range t.Arms {
			a := &t.Arms[j]
			after(t.On, a.ReportedOn, "the day of the test", "sweat_tests[%d].arms[%d].reported_on", i, j)
			if a.Induced != "" && a.Began != "" && a.Began < a.Induced {
				l.add(fmt.Sprintf("%s is before %s, when induction began", a.Began, a.Induced), "sweat_tests[%d].arms[%d].began", i, j)
			}
			if a.Began != "" && a.Ended != "" && a.Ended < a.Began {
				l.add(fmt.Sprintf("%s is before %s, when collection began", a.Ended, a.Began), "sweat_tests[%d].arms[%d].ended", i, j)
			}
		}
	}
	for i := range c.Closures {
		k := &c.Closures[i]
		after(c.Referral.On, k.On, "the referral", "closures[%d].on", i)
		after(k.On, k.AgreedOn, "the proposal", "closures[%d].agreed_on", i)
		if k.Reopened != nil {
			after(k.On, k.Reopened.On, "the closure", "closures[%d].reopened.on", i)
		}
	}
}

func (c *Case) infantFaults(l *faultList) {
	in := &c.Infant
	weight := func(g float64, format string, args ...any) {
		switch {
		case g < minWeightG && g > 0 && g < 16:
			l.add(fmt.Sprintf("%g g is impossible; grams are meant here, and %g looks like kilograms: enter %.0f", g, g, g*1000), format, args...)
		case g > maxWeightG:
			l.add(fmt.Sprintf("%g g (%g kg) is impossible; a weight lies between %d and %d g. Check the unit and the decimal point", g, g/1000, minWeightG, maxWeightG), format, args...)
		case g < minWeightG:
			l.add(fmt.Sprintf("%g g is impossible; a weight lies between %d and %d g. Check the unit and the decimal point", g, minWeightG, maxWeightG), format, args...)
		}
	}
	if in.BirthWeightG != 0 {
		weight(in.BirthWeightG, "infant.birth_weight_g")
	}
	for i := range in.Weights {
		weight(in.Weights[i].G, "infant.weights[%d].g", i)
	}
	for i := range c.SweatTests {
		if g := c.SweatTests[i].WeightG; g != 0 {
			weight(g, "sweat_tests[%d].weight_g", i)
		}
	}
	if g := in.Gestation; g != 0 && (g < minGestation || g > maxGestation) {
		l.add(fmt.Sprintf("%s is impossible; gestation lies between 22w0d and 44w6d", g), "infant.gestation")
	}
}

// genotypeFaults: a day for the report, and cis entries that say which chromosome
// they lie on unless they form one group of different names.
func (c *Case) genotypeFaults(l *faultList) {
	g := c.Genotype
	if g == nil {
		return
	}
	if g.Reported == 0 && g.Scope != "none" {
		l.add("is missing; it may be left out only where scope is none", "genotype.reported")
	}
	numbered := false
	for i := range g.Variants {
		numbered = numbered || g.Variants[i].Phase == "cis" && g.Variants[i].Allele != 0
	}
	seen := map[string]bool{}
	for i := range g.Variants {
		v := &g.Variants[i]
		if v.Phase != "cis" || v.Allele != 0 {
			continue
		}
		name := readVariant(v).name
		switch {
		case numbered:
			l.add("is missing; other variants in cis say on which chromosome they lie", "genotype.variants[%d].allele", i)
		case seen[name]:
			l.add(fmt.Sprintf("is missing; %s is given twice in cis, so 1 or 2 must say on which chromosome each lies", v.Name), "genotype.variants[%d].allele", i)
		}
		seen[name] = true
	}
}

func (c *Case) testFaults(l *faultList, i int) {
	t := &c.SweatTests[i]
	for j := range i {
		if o := &c.SweatTests[j]; o.On == t.On && t.On != 0 && o.At == t.At {
			l.add("a second test on one day needs its own time", "sweat_tests[%d].at", i)
			break
		}
	}
	if n := len(t.Arms); n < 1 || n > 2 {
		l.add(fmt.Sprintf("must name one or two arms, not %d", n), "sweat_tests[%d].arms", i)
	}
	for j := range t.Arms {
		a := &t.Arms[j]
		if j == 1 && a.Side == t.Arms[0].Side && a.Side != "" {
			l.add("both arms are the "+a.Side+" one; pooled or doubled sites are not read", "sweat_tests[%d].arms[%d].side", i, j)
		}
		if a.Minutes < minMinutes || a.Minutes > maxMinutes {
			l.add(fmt.Sprintf("%g minutes is impossible; a collection lasts %d to %d minutes", a.Minutes, minMinutes, maxMinutes), "sweat_tests[%d].arms[%d].minutes", i, j)
		}
		value := func(v *float64, name, unit string, high float64) {
			if v != nil && (*v < 0 || *v > high) {
				l.add(fmt.Sprintf("%g %s is impossible; it lies between 0 and %g", *v, unit, high), "sweat_tests[%d].arms[%d].%s", i, j, name)
			}
		}
		value(a.Chloride, "chloride", "mmol/L", maxChloride)
		value(a.Conductivity, "conductivity", "mmol/L", maxChloride)
		value(a.AmountUL, "amount_ul", "µL", 5000)
		value(a.AmountMg, "amount_mg", "mg", 5000)
		if t.Collector == "tubing" && a.AmountMg != nil {
			l.add("tubing is measured in µL: use amount_ul", "sweat_tests[%d].arms[%d].amount_mg", i, j)
		}
		if t.Collector == "pad" && a.AmountUL != nil {
			l.add("a pad is weighed in mg: use amount_mg", "sweat_tests[%d].arms[%d].amount_ul", i, j)
		}
	}
}

// closureFaults: a day to look again where one is owed, and a graded test behind
// "not affected" and "carrier".
func (c *Case) closureFaults(l *faultList, p *Protocol) {
	for i := range c.Closures {
		k := &c.Closures[i]
		k.codeFaults(l, i)
		if k.LookAgain == 0 && (k.As == "lost" || k.As == crmsCFSPID) {
			l.add("is missing; closing as "+k.As+" needs a day to look again", "closures[%d].look_again", i)
		}
		if (k.As == "not-affected" || k.As == "carrier") && k.On >= c.Infant.Born {
			if e := p.weigh(c, k.On, nil); e.graded == nil {
				l.add("no test was graded by "+k.On.String()+"; "+k.As+" needs one with enough sweat and a value", "closures[%d].as", i)
			}
		}
	}
}
