package measures

import (
	"maps"
	"slices"

	"dunlin/cases"
)

// Tally builds the closure-time report of a window from one record after the
// other. Records are counted by day and not kept, so a million cases need no more
// memory than a hundred.
type Tally struct {
	w                    Window
	cases, open          int
	closed               map[string]int
	all, ready, notReady classTally
	waiting              []Band
	tested, qns          int
}

// NewTally starts an empty report of a window.
func NewTally(w Window) *Tally {
	t := &Tally{w: w, closed: map[string]int{}, waiting: make([]Band, len(ageBands))}
	for i, from := range ageBands {
		t.waiting[i].From = from
		if i+1 < len(ageBands) {
			t.waiting[i].To = ageBands[i+1] - 1
		}
	}
	return t
}

// Add counts a record, unless it lies outside of the window.
func (t *Tally) Add(r Record) {
	w := &t.w
	if !w.holds(r) {
		return
	}
	t.cases++
	open := r.open(w.AsOf)
	if open {
		t.open++
		t.band(r)
	} else {
		t.closed[r.ClosedAs]++
	}
	if r.FirstTest != 0 && r.FirstTest <= w.AsOf {
		t.tested++
		if r.FirstQNS {
			t.qns++
		}
	}
	// A closure, or death, before a first test ends the wait for it.
	left := !open || r.Died != 0 && r.Died <= w.AsOf
	x := waits{r.toTest(r.Born, w.AsOf), r.toTest(r.Referred, w.AsOf), r.toClosure(r.Born, w.AsOf), r.toClosure(r.Referred, w.AsOf)}
	t.all.add(&x, open, left)
	if r.NotReady {
		t.notReady.add(&x, open, left)
	} else {
		t.ready.add(&x, open, left)
	}
}

// band counts an open case by its age on the day of the report.
func (t *Tally) band(r Record) {
	i, found := slices.BinarySearch(ageBands, int(t.w.AsOf-r.Born))
	if !found {
		i--
	}
	b := &t.waiting[i]
	b.Open++
	if r.FirstTest == 0 || r.FirstTest > t.w.AsOf {
		b.Untested++
		if r.NotReady {
			b.NotReady++
		}
	}
}

// Report computes the measures of what was added so far.
func (t *Tally) Report() Report {
	rep := Report{Window: t.w, Cases: t.cases, Open: t.open, Closed: t.cases - t.open, Notes: notes,
		All: t.all.class(), Ready: t.ready.class(), NotReady: t.notReady.class(),
		Waiting: t.waiting, FirstQNS: NewProportion(t.qns, t.tested)}
	for _, as := range cases.Determinations {
		if n := t.closed[as]; n > 0 {
			rep.ClosedAs = append(rep.ClosedAs, Count{As: as, N: n})
		}
	}
	return rep
}

// waits are the four durations of a record, in the order of Class.
type waits [4]Span

// classTally counts the durations of a group.
type classTally struct {
	cases, open int
	of          [4]waitTally
}

func (c *classTally) add(x *waits, open, left bool) {
	c.cases++
	if open {
		c.open++
	}
	for i := range x {
		// Only the wait for a test can end without it.
		c.of[i].add(x[i], left && i < 2)
	}
}

func (c *classTally) class() Class {
	return Class{Cases: c.cases, Open: c.open, BirthToTest: c.of[0].measure(), ReferralToTest: c.of[1].measure(),
		BirthToClosure: c.of[2].measure(), ReferralToClosure: c.of[3].measure()}
}

// waitTally counts one duration by day.
type waitTally struct {
	done, waiting, left int
	days                []dayCount
	far                 map[int]*dayCount // days from daysInPlace on, which are rare
}

// dayCount is what happened on one day: done, ended otherwise, or left observation.
type dayCount struct {
	events, ended, censored int32
	by                      [reasonCodes]int32 // events and ends by class of closure
}

// daysInPlace is how many days are counted in a list: some 40 years.
const daysInPlace = 15_000

// outcome is how a wait stands at its last day.
type outcome uint8

const (
	outcomeWaiting outcome = iota // observed until then, not done
	outcomeDone
	outcomeLeft  // went out of observation undone
	outcomeOther // ended by something that competes
)

func (t *waitTally) add(s Span, left bool) {
	switch {
	case s.Event:
		t.count(s.Days, outcomeDone, 0)
	case left:
		t.count(s.Days, outcomeLeft, 0)
	default:
		t.count(s.Days, outcomeWaiting, 0)
	}
}

func (t *waitTally) count(days int, as outcome, reason uint8) {
	d := t.on(days)
	switch as {
	case outcomeDone:
		d.events++
		t.done++
	case outcomeOther:
		d.ended++
		t.left++
	case outcomeLeft:
		d.censored++
		t.left++
	default:
		d.censored++
		t.waiting++
	}
	d.by[reason]++
}

func (t *waitTally) on(day int) *dayCount {
	if day >= daysInPlace {
		if t.far == nil {
			t.far = map[int]*dayCount{}
		}
		if t.far[day] == nil {
			t.far[day] = &dayCount{}
		}
		return t.far[day]
	}
	for day >= len(t.days) {
		t.days = append(t.days, dayCount{})
	}
	return &t.days[day]
}

// each gives the days on which something happened, in order.
func (t *waitTally) each(f func(day int, c *dayCount)) {
	for day := range t.days {
		if c := &t.days[day]; c.events+c.ended+c.censored > 0 {
			f(day, c)
		}
	}
	for _, day := range slices.Sorted(maps.Keys(t.far)) {
		f(day, t.far[day])
	}
}

func (t *waitTally) cases() int { return t.done + t.waiting + t.left }

func (t *waitTally) measure() Measure {
	m := Measure{Cases: t.cases(), Done: t.done, Waiting: t.waiting, Left: t.left, Curve: t.curve()}
	m.Quarter, m.Median, m.ThreeQuarters = m.Curve.Quantile(0.25), m.Curve.Quantile(0.5), m.Curve.Quantile(0.75)
	for _, day := range Milestones {
		m.Shares = append(m.Shares, m.Curve.DoneBy(day))
	}
	return m
}

// curve is the Kaplan-Meier curve of the counts; what ended otherwise leaves
// observation.
func (t *waitTally) curve() Curve {
	var points []Point
	t.each(func(day int, c *dayCount) {
		points = append(points, Point{Day: day, Events: int(c.events), Censored: int(c.censored), Ended: int(c.ended)})
	})
	return curveOf(points)
}

// byReason gives the counts by class of closure, for the incidences, and their sums.
func (t *waitTally) byReason() (*tallies, []Count) {
	sums := make([]Count, len(ClosureReasons))
	for k, name := range ClosureReasons {
		sums[k].As = name
	}
	out := &tallies{n: t.cases(), by: make([][]int, len(ClosureReasons))}
	t.each(func(day int, c *dayCount) {
		out.times = append(out.times, float64(day))
		out.events = append(out.events, int(c.events+c.ended))
		out.censored = append(out.censored, int(c.censored))
		for k := range ClosureReasons {
			n := int(c.by[k+1])
			out.by[k] = append(out.by[k], n)
			sums[k].N += n
		}
	})
	return out, sums
}

// curveOf completes a curve whose points, in order of day, hold their counts only.
func curveOf(points []Point) Curve {
	atRisk := 0
	for _, p := range points {
		atRisk += p.Events + p.Censored + p.Ended
	}
	pl := start
	for i := range points {
		p := &points[i]
		p.AtRisk = atRisk
		atRisk -= p.Events + p.Censored + p.Ended
		pl.next(p.AtRisk, p.Events)
		p.Waiting = pl.waiting
		p.SE, p.Limits = pl.spread()
	}
	return points
}
