package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dunlin/cases"
)

// sweatAdder puts one sweat result into a copy of a case, or says why it cannot.
type sweatAdder struct {
	p     *placer
	r     *Referral
	c     *cases.Case // the copy
	force bool        // a person has decided
	test  int         // index of the test; -1 for a new one
	fresh bool        // the test is new

	asks  []cases.Fault // why a person must decide; the paths are those of the referral
	kind  string        // of the item, when it is not the plain one
	top   bool
	done  []string // what was added
	fixed []string // one sentence for each corrected value
	says  []string // remarks for the item
	moved string   // the reading before and after, when a correction changed it

	before string // where the readings differed before
}

func (a *sweatAdder) ask(path, format string, args ...any) {
	a.asks = append(a.asks, cases.Fault{Path: path, Reason: fmt.Sprintf(format, args...)})
}

// doubt asks a person unless one has decided.
func (a *sweatAdder) doubt(path, format string, args ...any) {
	if !a.force {
		a.ask(path, format, args...)
	}
}

// place finds the test and fills its arms.
func (a *sweatAdder) place() {
	day := a.r.SweatDay()
	if day == 0 {
		a.ask("collected", "the message does not give one day of collection for all sites; ask the laboratory for it")
		return
	}
	if a.target(day); len(a.asks) > 0 {
		return
	}
	if a.test < 0 {
		if a.start(day); len(a.asks) > 0 {
			return
		}
	}
	t := &a.c.SweatTests[a.test]
	if t.Laboratory != nil {
		a.before = t.Laboratory.Differs
	}
	if a.twoOfOneSide(); len(a.asks) > 0 {
		return
	}
	for _, i := range a.bySide() {
		a.site(t, i)
	}
	if len(a.asks) == 0 {
		a.enough(t)
	}
}

// twoOfOneSide refuses sites that would be pooled or doubled.
func (a *sweatAdder) twoOfOneSide() {
	seen := map[string]bool{}
	for i := range a.r.Sites {
		side := a.r.Sites[i].Side
		if side != "" && seen[side] {
			a.ask(fmt.Sprintf("sites[%d].side", i), "the message gives more than one result for the %s side; sites are never pooled, so ask the laboratory", side)
			return
		}
		seen[side] = true
	}
}

// bySide lists the sites left first, so that their order in the message is all one.
func (a *sweatAdder) bySide() []int {
	order := make([]int, len(a.r.Sites))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return strings.Compare(a.r.Sites[x].Side, a.r.Sites[y].Side) })
	return order
}

// target finds the test on file that the result belongs to: by the laboratory's
// number, else by the day.
func (a *sweatAdder) target(day cases.Day) {
	corrected := slices.ContainsFunc(a.r.Sites, func(s Site) bool { return s.corrected() })
	hits := a.tests(func(t *cases.SweatTest) bool {
		return slices.ContainsFunc(t.Arms, func(m cases.Arm) bool {
			return slices.ContainsFunc(a.r.Sites, func(s Site) bool { return same(s.Accession, m.Accession) })
		})
	})
	if len(hits) == 0 {
		hits = a.tests(func(t *cases.SweatTest) bool { return t.On == day })
	}
	if len(hits) > 1 {
		at := a.began()
		hits = slices.DeleteFunc(hits, func(i int) bool { return a.c.SweatTests[i].At != at || at == "" })
		if len(hits) != 1 {
			a.ask("collected", "the case has more than one sweat test of %s; say which one the result belongs to", day)
			return
		}
	}
	switch {
	case len(hits) == 1:
		if a.test = hits[0]; a.c.SweatTests[a.test].On != day {
			a.ask("collected", "its number belongs to the sweat test of %s, and the message gives %s as the day of collection", a.c.SweatTests[a.test].On, day)
		}
	case corrected:
		a.kind = KindCorrected
		a.doubt("status", "the laboratory calls it a corrected result, and no sweat test of %s is on file; ask for the earlier result", day)
	}
}

// tests lists the chloride tests that fit; void ones only when no other does.
func (a *sweatAdder) tests(fits func(*cases.SweatTest) bool) (out []int) {
	var void []int
	for i := range a.c.SweatTests {
		t := &a.c.SweatTests[i]
		switch {
		case t.IsConductivity() || !fits(t):
		case t.Verified != nil && t.Verified.As == "void":
			void = append(void, i)
		default:
			out = append(out, i)
		}
	}
	if len(out) == 0 {
		return void
	}
	return out
}

// began is the earliest time at which a collection began.
func (a *sweatAdder) began() (at cases.Clock) {
	for i := range a.r.Sites {
		if c := a.r.Sites[i].Began.Clock; c != "" && (at == "" || c < at) {
			at = c
		}
	}
	return at
}

// start makes a new test of the day, unless something on the case speaks against it.
func (a *sweatAdder) start(day cases.Day) {
	collector := ""
	for i := range a.r.Sites {
		with := map[string]string{microliters: "tubing", milligrams: "pad"}[a.r.Sites[i].Quantity.Unit]
		if with != "" && collector != "" && with != collector {
			a.ask("sites", "one amount is a volume and another a weight; ask the laboratory")
			return
		}
		if with != "" {
			collector = with
		}
	}
	if collector == "" {
		a.ask("sites", "the message gives no amount of sweat in µL or mg, and no test of %s is on file that does", day)
		return
	}
	site, dropped, planned := "", "", false
	for i := range a.c.Bookings {
		switch b := &a.c.Bookings[i]; {
		case b.On == day && (b.State == "booked" || b.State == "kept"):
			site, planned = b.Site, true
		case b.On == day:
			dropped = b.State
		}
	}
	if dropped != "" && !planned {
		a.doubt("collected", "the booking of %s is marked %s; find out whether this infant was tested that day", day, dropped)
	}
	for i := range a.c.SweatTests {
		t := &a.c.SweatTests[i]
		if d := t.On - day; d >= -3 && d <= 3 && !t.IsConductivity() && a.reading(a.c, t).Outcome == cases.NotResulted {
			a.doubt("collected", "the test of %s waits for its result, and the message gives %s as the day of collection", t.On, day)
		}
	}
	a.fresh, a.test = true, len(a.c.SweatTests)
	a.c.SweatTests = append(a.c.SweatTests, cases.SweatTest{On: day, At: a.began(), Site: site, Collector: collector})
}

// reading reads a test of a case by the protocol, as of today.
func (a *sweatAdder) reading(c *cases.Case, t *cases.SweatTest) cases.TestReading {
	p := a.p.protocol
	return p.ReadTest(c, t, p.Readiness(c, a.p.today).Earliest, a.p.today)
}

// site puts one site into its arm of the test.
func (a *sweatAdder) site(t *cases.SweatTest, i int) {
	s := &a.r.Sites[i]
	path := fmt.Sprintf("sites[%d].", i)
	arm := a.armOf(t, s)
	switch {
	case s.Side == "" && arm < 0:
		a.ask(path+"side", "the message does not say on which side site %d was", i+1)
		return
	case arm >= 0 && s.Side != "" && t.Arms[arm].Side != s.Side:
		a.ask(path+"side", "its number belongs to the %s side on file, and the message says %s", t.Arms[arm].Side, s.Side)
		return
	case s.Limb == "other":
		a.ask(path+"place", "sweat was collected at %q; a test is read from the forearm or the upper leg", Shorten(s.Place))
		return
	}
	value, ok := a.value(s, path)
	if !ok {
		return
	}
	if arm < 0 {
		if s.corrected() && !a.fresh {
			a.kind = KindCorrected
			a.doubt(path+"side", "the laboratory calls the %s side corrected, and the test of %s has no %s side on file; ask for the earlier result", s.Side, t.On, s.Side)
		}
		a.newArm(t, s, path, value)
		return
	}
	a.oldArm(t, &t.Arms[arm], s, path, value)
}

// armOf finds the arm on file: by the laboratory's number, else by the side. A
// result of one site without its side belongs to the only arm that was recorded.
func (a *sweatAdder) armOf(t *cases.SweatTest, s *Site) int {
	numbered := func(m cases.Arm) bool { return same(m.Accession, s.Accession) }
	sided := func(m cases.Arm) bool { return m.Side == s.Side }
	if i := slices.IndexFunc(t.Arms, func(m cases.Arm) bool { return numbered(m) && sided(m) }); i >= 0 {
		return i
	}
	if n := countArms(t, numbered); n == 1 && s.Status == "C" || n == 1 && s.Side == "" {
		return slices.IndexFunc(t.Arms, numbered)
	}
	if s.Side == "" && !a.fresh && len(t.Arms) == 1 && len(a.r.Sites) == 1 {
		return 0
	}
	return slices.IndexFunc(t.Arms, sided)
}

func countArms(t *cases.SweatTest, fits func(cases.Arm) bool) (n int) {
	for _, m := range t.Arms {
		if fits(m) {
			n++
		}
	}
	return n
}

// value gives the chloride in mmol/L, nil for quantity not sufficient.
func (a *sweatAdder) value(s *Site, path string) (*float64, bool) {
	m := &s.Chloride
	bad := len(a.asks)
	switch {
	case s.QNS && m.Value != nil:
		a.ask(path+"chloride", "the laboratory says QNS and gives %s %s as well", m.Text, m.Unit)
	case s.QNS:
	case m.Value == nil && m.Text == "":
		a.ask(path+"chloride", "the site has no value and is not called QNS; ask the laboratory")
	case m.Value == nil:
		a.ask(path+"chloride", "the chloride %q is not a number in mmol/L that can be recorded", Shorten(strings.TrimSpace(m.Text+" "+m.Unit)))
	case m.Comparator != "":
		a.ask(path+"chloride", "the chloride is only said to be %s %s mmol/L; the case holds plain numbers, so ask the laboratory for the number", m.Comparator, number(*m.Value))
	case !sameAsMmol(m.Unit):
		a.ask(path+"chloride", "the chloride has no unit that can be read as mmol/L; nothing was converted")
	case *m.Value > a.p.protocol.ImplausibleAbove:
		a.doubt(path+"chloride", "%s mmol/L is above %s, the highest plausible value of the protocol; ask the laboratory to check it", number(*m.Value), number(a.p.protocol.ImplausibleAbove))
	}
	return m.Value, len(a.asks) == bad
}

// sameAsMmol reports the two units in which chloride is the same number: one
// chloride ion carries one charge.
func sameAsMmol(unit string) bool {
	u := strings.ToLower(strings.ReplaceAll(unit, " ", ""))
	return u == "mmol/l" || u == "meq/l"
}

// enough compares what the laboratory calls QNS with what the protocol needs.
func (a *sweatAdder) enough(t *cases.SweatTest) {
	rd := a.reading(a.c, t)
	for i := range rd.Arms.N {
		arm := &t.Arms[i]
		for j := range a.r.Sites {
			if s := &a.r.Sites[j]; s.QNS && s.Side == arm.Side && rd.Arms.A[i].Usable {
				a.ask(fmt.Sprintf("sites[%d].quantity", j), "the laboratory says QNS for the %s side, but the amount, %s, is enough by the protocol; ask how much could be analyzed", arm.Side, amountText(t, arm))
			}
		}
	}
}

// near reports two amounts that are the same but for rounding to whole units.
func near(x, y float64) bool { return math.Abs(x-y) <= 0.5 }
