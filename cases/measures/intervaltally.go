package measures

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
)

// IntervalTally counts one interval over cases that are added one after the other.
// They are counted by day and group and not kept, so that a million need no more
// memory than a hundred.
type IntervalTally struct {
	q        Question
	from, to *MilestoneInfo
	grouping *GroupingInfo
	cases    int
	notBegun int
	refused  []Refusal
	more     int
	all      waitTally
	classes  [2]waitTally // ready, not ready
	groups   map[string]*waitTally
}

// RefusedListed is how many refused cases a report names.
const RefusedListed = 200

// otherGroups takes the cases of further groups once there are MaxGroups.
const otherGroups = "all other groups"

// NewIntervalTally starts an empty report. A question with faults counts nothing.
func NewIntervalTally(q Question) *IntervalTally {
	t := &IntervalTally{q: q, groups: map[string]*waitTally{}}
	if len(q.Faults()) > 0 {
		return t
	}
	t.from, t.to = &milestoneList[q.From.place()], &milestoneList[q.To.place()]
	t.grouping, _ = groupingOf(q.Group)
	return t
}

// Add counts a case, unless the question leaves it out.
//
// The interval begins on the day of From and is done on the day of To. Until then
// the case waits, to the day of the report; when it closes, or the infant dies,
// without To it leaves. A case that closed, or whose infant died, before From has not
// begun the interval. When To is a closing, death alone does not end the wait; and
// when it is a determination, closings of other kinds compete with it.
func (t *IntervalTally) Add(m *cases.Milestones) {
	if t.from == nil || !t.q.holds(m) {
		return
	}
	t.cases++
	from, to := t.known(t.from.day(m)), t.known(t.to.day(m))
	if from == 0 {
		t.notBegun++
		return
	}
	out, last := outcomeWaiting, t.q.AsOf
	closed := t.known(m.Closed)
	switch {
	case to != 0 && to < from:
		t.refuse(m.Reference, from, to)
		return
	case to != 0:
		out, last = outcomeDone, to
	case t.q.To == Determination && closed != 0:
		out, last = outcomeOther, closed
	case !t.q.To.IsClosing():
		for _, end := range []cases.Day{closed, t.known(m.Died)} {
			if end != 0 && end <= last {
				out, last = outcomeLeft, end
			}
		}
	}
	if last < from {
		t.notBegun++
		return
	}
	var reason uint8
	if t.q.To.IsClosing() && closed != 0 {
		reason = ReasonCode(m.ClosedAs)
	}
	days := int(last - from)
	t.all.count(days, out, reason)
	t.classes[classIndex(m)].count(days, out, reason)
	if t.grouping.of != nil {
		t.group(m).count(days, out, reason)
	}
}

// known is a day that has come by the day of the report, else 0.
func (t *IntervalTally) known(d cases.Day) cases.Day {
	if d > t.q.AsOf {
		return 0
	}
	return d
}

func (t *IntervalTally) refuse(reference string, from, to cases.Day) {
	if len(t.refused) == RefusedListed {
		t.more++
		return
	}
	t.refused = append(t.refused, Refusal{Reference: reference, From: from, To: to, Days: int(to - from)})
}

func (t *IntervalTally) group(m *cases.Milestones) *waitTally {
	name := t.grouping.of(&t.q, m)
	g := t.groups[name]
	if g != nil {
		return g
	}
	if len(t.groups) >= MaxGroups {
		name = otherGroups
		if g = t.groups[name]; g != nil {
			return g
		}
	}
	g = &waitTally{}
	t.groups[name] = g
	return g
}

// namedGroups are the groups by name. Counties are typed, so those that differ in
// capitals only are one, named as most of them are.
func (t *IntervalTally) namedGroups() map[string]*waitTally {
	if t.q.Group != "county" {
		return t.groups
	}
	same := map[string][]string{}
	for name := range t.groups {
		same[strings.ToLower(name)] = append(same[strings.ToLower(name)], name)
	}
	out := map[string]*waitTally{}
	for _, names := range same {
		slices.SortFunc(names, func(a, b string) int {
			return cmp.Or(cmp.Compare(t.groups[b].cases(), t.groups[a].cases()), cmp.Compare(a, b))
		})
		parts := make([]*waitTally, len(names))
		for i, n := range names {
			parts[i] = t.groups[n]
		}
		out[names[0]] = merged(parts)
	}
	return out
}

// Report computes the figures of what was added so far.
func (t *IntervalTally) Report() IntervalReport {
	r := IntervalReport{Question: t.q, Cases: t.cases, NotStarted: t.notBegun, Refused: t.refused, RefusedMore: t.more}
	r.All = t.all.group("all cases", t.q.To)
	for name, g := range t.namedGroups() {
		r.Groups = append(r.Groups, g.group(name, t.q.To))
	}
	slices.SortFunc(r.Groups, func(a, b GroupReport) int {
		return cmp.Or(cmp.Compare(t.grouping.rank(a.Name), t.grouping.rank(b.Name)), cmp.Compare(a.Name, b.Name))
	})
	if t.from != nil && t.q.Class == "" {
		for i := range t.classes {
			r.Classes = append(r.Classes, t.classes[i].group(classNames[i], t.q.To))
		}
	}
	curves := make([]Curve, len(r.Groups))
	for i := range r.Groups {
		curves[i] = r.Groups[i].Curve
	}
	r.LogRank = CompareCurves(curves...)
	r.Says = r.Publish(SmallNumbers{}).Says
	return r
}

// yearNames are the years of this program and of old records, made once: a cohort by
// year names its group for every case.
var yearNames = func() (out [200]string) {
	for i := range out {
		out[i] = strconv.Itoa(1950 + i)
	}
	return out
}()

func yearName(d cases.Day) string {
	year, _, _ := d.Date()
	if i := year - 1950; i >= 0 && i < len(yearNames) {
		return yearNames[i]
	}
	return strconv.Itoa(year)
}
