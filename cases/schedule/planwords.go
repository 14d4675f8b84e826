package schedule

import (
	"fmt"
	"slices"
	"strings"
)

// read makes the plan out of the assignment, with its reasons.
func (pl *planner) read() *Plan {
	p := &Plan{}
	for r, i := range pl.rows {
		if c := pl.m.colOf[r]; c >= 0 {
			pl.seats[i], pl.owner[c] = c, i
		}
	}
	for i := range pl.ws {
		w := &pl.ws[i]
		if c, ok := pl.seats[i]; ok {
			p.Lines = append(p.Lines, pl.line(i, c))
			p.Cost += p.Lines[len(p.Lines)-1].Cost
			continue
		}
		u := Unplaced{Wait: w, Cost: pl.b.aloneCost(w), Why: pl.unplaced(i)}
		p.Unplaced = append(p.Unplaced, u)
		p.Cost += u.Cost
	}
	slices.SortFunc(p.Lines, func(x, y Line) int { return comparePlaces(x.Place, y.Place) })
	slices.SortFunc(p.Unplaced, func(x, y Unplaced) int { return compareWaits(x.Wait, y.Wait) })
	return p
}

func (pl *planner) line(i, c int) Line {
	w, place := &pl.ws[i], pl.b.Places[c]
	km := pl.ways[i][place.Site.Key]
	l := Line{Wait: w, Place: place, Km: km, Cost: pl.b.costOf(w, &place, km), DaysWaiting: int(place.Session.On - w.From),
		DaysLate: w.lateBy(place.Session.On), Estimate: w.Estimate, Why: reasons(w, &place, km)}
	if g := pl.groupOf(i); g != nil {
		for _, j := range g {
			if j != i {
				l.With = append(l.With, pl.ws[j].Reference)
			}
		}
		l.Why = append(l.Why, "in one session with "+strings.Join(l.With, ", ")+", one after the other")
	} else if s := pl.instead(i, l.Cost); s != "" {
		l.Why = append(l.Why, s)
	} else if pl.isFirst(i, c) {
		l.Why = append(l.Why, "the first place that fits")
	}
	return l
}

// isFirst tells whether no place before one on the board fits an infant.
func (pl *planner) isFirst(i, c int) bool {
	for before := range c {
		if pl.costAt(i, before) != forbidden {
			return false
		}
	}
	return true
}

func (pl *planner) groupOf(i int) []int {
	for _, g := range pl.groups {
		if slices.Contains(g, i) {
			return g
		}
	}
	return nil
}

// instead names the place that would suit an infant best on its own, when the plan
// gives that to another.
func (pl *planner) instead(i int, cost int64) string {
	best := -1
	for c := range pl.b.Places {
		if k := pl.costAt(i, c); k < cost {
			best, cost = c, k
		}
	}
	if best < 0 || pl.owner[best] < 0 {
		return ""
	}
	return fmt.Sprintf("%s would suit it better and goes to %s, so that all together wait and travel less", pl.b.Places[best].Say(), pl.who(pl.owner[best]))
}

// costAt is the cost without counting a reason again.
func (pl *planner) costAt(i, c int) int64 {
	w, p := &pl.ws[i], &pl.b.Places[c]
	km := pl.ways[i][p.Site.Key]
	if fit(w, p, km) != fits {
		return forbidden
	}
	return pl.b.costOf(w, p, km)
}

func (pl *planner) who(i int) string {
	return pl.ws[i].Reference + " (" + pl.ws[i].UrgencyWhy + ")"
}

// unplaced says why an infant has no place: it cannot be planned, nothing fits, what
// fits is so late that an earlier session should be sought, or others need it more.
func (pl *planner) unplaced(i int) string {
	w := &pl.ws[i]
	if w.Blocked != "" {
		return "Cannot be planned now: " + w.Blocked + "."
	}
	if g := pl.groupOf(i); g != nil {
		return pl.unplacedGroup(g)
	}
	first, free, to := -1, -1, []int(nil) // to whom the places go
	alone := pl.b.aloneCost(w)
	for c := range pl.b.Places {
		k := pl.costAt(i, c)
		if k == forbidden {
			continue
		}
		if first < 0 {
			first = c
		}
		if free < 0 && pl.owner[c] < 0 {
			free = c
		}
		if o := pl.owner[c]; o >= 0 && k < alone {
			to = append(to, o) // each has one place
		}
	}
	switch {
	case first < 0:
		return pl.why[i].sentence(len(pl.b.Places), 1)
	case len(to) == 0:
		p := &pl.b.Places[first]
		return fmt.Sprintf("The first place that fits is %s, %d days after the infant can be tested: look for an earlier session.", p.Say(), p.Session.On-w.From)
	}
	const most = 5
	var names []string
	for _, o := range to[:min(most, len(to))] {
		names = append(names, pl.who(o))
	}
	more := ""
	if len(to) > most {
		more = fmt.Sprintf(" and %d more", len(to)-most)
	}
	why := "The places that fit go to " + strings.Join(names, ", ") + more + ", who would lose more: a further session is needed."
	if free >= 0 { // it costs more than staying unplaced, and is said all the same
		p := &pl.b.Places[free]
		why += fmt.Sprintf(" The first one left is %s, %d days after the infant can be tested.", p.Say(), p.Session.On-w.From)
	}
	return why
}

func (pl *planner) unplacedGroup(g []int) string {
	ws := make([]*Wait, len(g))
	for k, i := range g {
		ws[k] = &pl.ws[i]
	}
	if o := pl.b.Offer(ws...); o.None != "" {
		return "Twins are placed together. " + o.None + " They can be offered places one by one."
	}
	return "Twins are placed together, and the places that follow each other go to others or are too late: a further session is needed, or places one by one."
}
