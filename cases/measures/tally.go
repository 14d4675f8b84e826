package measures

import (
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
}

type dayCount struct{ events, censored int }

func (t *waitTally) add(s Span, left bool) {
	for s.Days >= len(t.days) {
		t.days = append(t.days, dayCount{})
	}
	d := &t.days[s.Days]
	switch {
	case s.Event:
		d.events++
		t.done++
		return
	case left:
		t.left++
	default:
		t.waiting++
	}
	d.censored++
}

func (t *waitTally) measure() Measure {
	m := Measure{Cases: t.done + t.waiting + t.left, Done: t.done, Waiting: t.waiting, Left: t.left, Curve: t.curve()}
	m.Quarter, m.Median, m.ThreeQuarters = m.Curve.Quantile(0.25), m.Curve.Quantile(0.5), m.Curve.Quantile(0.75)
	for _, day := range Milestones {
		m.Shares = append(m.Shares, m.Curve.DoneBy(day))
	}
	return m
}

// curve is the Kaplan-Meier curve of the counts.
func (t *waitTally) curve() Curve {
	var points []Point
	for day, c := range t.days {
		if c != (dayCount{}) {
			points = append(points, Point{Day: day, Events: c.events, Censored: c.censored})
		}
	}
	return curveOf(points)
}

// curveOf completes a curve whose points, in order of day, hold their counts only.
func curveOf(points []Point) Curve {
	atRisk := 0
	for _, p := range points {
		atRisk += p.Events + p.Censored
	}
	pl := start
	for i := range points {
		p := &points[i]
		p.AtRisk = atRisk
		atRisk -= p.Events + p.Censored
		pl.next(p.AtRisk, p.Events)
		p.Waiting = pl.waiting
		p.SE, p.Limits = pl.spread()
	}
	return points
}
