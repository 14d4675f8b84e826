package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// offered is how many places are offered at a time.
const offered = 3

// Offer is an acceptable place for one infant, or as many places as there are twins,
// following each other in one session, with the reasons in words.
type Offer struct {
	Places   []Place  // one for each infant, in the order asked
	Km       *float64 // the way in km, straight; nil is not known
	DaysLate int      // past the due day, of the infant for whom that is most
	Estimate bool     // rests on an expected weight: weigh on the day
	Why      []string // why it is acceptable, and what to see to
}

// Offers is what can be offered: at most three places, and when there is none the
// reasons, place by place and counted.
type Offers struct {
	Offers    []Offer
	NotSooner string // one sentence on free places before the first offer, "" when there are none
	None      string // one sentence when nothing fits
}

// Offer finds the three earliest acceptable places for one infant, or for twins who
// are offered together. They are sorted by day, then distance (a known one first), then
// the place's identifier, which is its session's and its number in it. Late places are
// marked and never hidden. A repeat is told of a place kept for repeats in the session.
func (b *Board) Offer(together ...*Wait) Offers {
	if len(together) == 0 {
		return Offers{}
	}
	for _, w := range together {
		if w.Blocked != "" {
			return Offers{None: w.Reference + " cannot be planned now: " + w.Blocked + "."}
		}
	}
	ways := make([]map[string]*float64, len(together))
	for i, w := range together {
		ways[i] = b.distances(w)
	}
	var found []Offer
	var why tally
	for _, first := range b.blocks(len(together), &why) {
		if places, ok := b.seat(first, together, ways, &why); ok {
			found = append(found, b.newOffer(places, together, ways))
		}
	}
	if len(found) == 0 {
		return Offers{None: why.sentence(len(b.Places), len(together))}
	}
	slices.SortFunc(found, func(x, y Offer) int { return compareOffers(&x, &y) })
	o := Offers{Offers: found[:min(offered, len(found))]}
	for i := range o.Offers {
		o.Offers[i].nameKept(found)
	}
	first := found[0].Places[0].Session.On
	var before tally
	n := 0
	for _, block := range b.blocks(len(together), &tally{}) {
		if b.Places[block[0]].Session.On < first {
			n++
			b.seat(block, together, ways, &before)
		}
	}
	if n > 0 {
		o.NotSooner = fmt.Sprintf("Earlier there are %s that do not fit: %s.", countPlaces(n), before.words(len(together)))
		if n == 1 {
			o.NotSooner = "Earlier there is 1 free place that does not fit: " + before.words(len(together)) + "."
		}
	}
	return o
}

func countPlaces(n int) string {
	if n == 1 {
		return "1 free place"
	}
	return fmt.Sprintf("%d free places", n)
}

func compareOffers(x, y *Offer) int {
	p, q := &x.Places[0], &y.Places[0]
	return cmp.Or(cmp.Compare(p.Session.On, q.Session.On), compareKm(x.Km, y.Km), strings.Compare(p.Session.ID, q.Session.ID), cmp.Compare(p.Number, q.Number))
}

// nameKept adds where in the same session a place that only repeats may have is free,
// so that an open one is left to the others. Only repeats have kept places among theirs.
func (o *Offer) nameKept(found []Offer) {
	p := &o.Places[0]
	if p.Kept || len(o.Places) > 1 {
		return
	}
	for i := range found {
		if q := &found[i].Places[0]; q.Kept && q.Session.ID == p.Session.ID {
			o.Why = append(o.Why, "the place at "+string(q.At)+" of this session is kept for repeats and free")
			return
		}
	}
}

// compareKm puts a known distance before an unknown one, which is not 0.
func compareKm(x, y *float64) int {
	switch {
	case x == nil && y == nil:
		return 0
	case x == nil:
		return 1
	case y == nil:
		return -1
	}
	return cmp.Compare(*x, *y)
}

// blocks gives the places at which n free places of one session begin that follow
// each other, by their numbers on the board.
func (b *Board) blocks(n int, why *tally) [][]int {
	var out [][]int
	if n == 1 {
		for i := range b.Places {
			out = append(out, []int{i})
		}
		return out
	}
	bySession := make(map[string][]int)
	for i := range b.Places {
		id := b.Places[i].Session.ID
		bySession[id] = append(bySession[id], i)
	}
	for i := range b.Places {
		p := &b.Places[i]
		seats := bySession[p.Session.ID]
		at := slices.Index(seats, i)
		if at+n > len(seats) || b.Places[seats[at+n-1]].Number != p.Number+n-1 {
			why.alone++
			continue
		}
		out = append(out, seats[at:at+n])
	}
	return out
}

// seat tells whether each infant can have its place of a block, in their order or,
// for two, the other way round.
func (b *Board) seat(block []int, ws []*Wait, ways []map[string]*float64, why *tally) ([]Place, bool) {
	try := func(turn bool) ([]Place, misfit) {
		out := make([]Place, len(ws))
		for k, w := range ws {
			n := k
			if turn {
				n = len(ws) - 1 - k
			}
			p := &b.Places[block[n]]
			if m := fit(w, p, ways[k][p.Site.Key]); m != fits {
				return nil, m
			}
			out[k] = *p
		}
		return out, fits
	}
	out, m := try(false)
	if m != fits && len(ws) > 1 {
		if other, m2 := try(true); m2 == fits {
			return other, true
		}
	}
	why.by[m]++
	return out, m == fits
}

func (b *Board) newOffer(places []Place, ws []*Wait, ways []map[string]*float64) Offer {
	o := Offer{Places: places}
	for k, w := range ws {
		km := ways[k][places[k].Site.Key]
		if k == 0 {
			o.Km = km
		}
		o.DaysLate = max(o.DaysLate, w.lateBy(places[k].Session.On))
		o.Estimate = o.Estimate || w.Estimate
		for _, r := range reasons(w, &places[k], km) {
			if len(ws) > 1 {
				r = w.Reference + ": " + r
			}
			o.Why = append(o.Why, r)
		}
	}
	if len(ws) > 1 {
		o.Why = append(o.Why, "twins, one after the other in the same session")
	}
	return o
}

// tally counts why places do not fit.
type tally struct {
	by    [misfits]int
	alone int // no further free place follows it
}

// sentence says why nothing fits.
func (t *tally) sentence(places, together int) string {
	if places == 0 {
		return "No session has a free place."
	}
	return fmt.Sprintf("None of the %s fits: %s.", countPlaces(places), t.words(together))
}

// words lists the reasons, the commonest first.
func (t *tally) words(together int) string {
	type count struct {
		n    int
		word string
	}
	var cs []count
	for m, n := range t.by {
		if n > 0 && misfit(m) != fits {
			cs = append(cs, count{n, misfitWords[m]})
		}
	}
	if t.alone > 0 {
		cs = append(cs, count{t.alone, fmt.Sprintf("without %d free places following each other", together)})
	}
	slices.SortStableFunc(cs, func(a, b count) int { return b.n - a.n })
	var parts []string
	for _, c := range cs {
		parts = append(parts, fmt.Sprintf("%d %s", c.n, c.word))
	}
	return strings.Join(parts, ", ")
}

// Say names a place: Wed 18 Mar 2026, 09:30, Alder Bay.
func (p *Place) Say() string {
	return sayDay(p.Session.On) + ", " + string(p.At) + ", " + cmp.Or(p.Site.Name, p.Site.Key)
}

// reasons says why a place is acceptable for an infant, and what to see to.
func reasons(w *Wait, p *Place, km *float64) []string {
	on := p.Session.On
	out := []string{w.ageReason(on)}
	out = append(out, w.weightReason())
	switch {
	case km != nil && w.Limits.MaxKm > 0:
		out = append(out, fmt.Sprintf("%.0f km away in a straight line, the family's limit is %.0f km", *km, w.Limits.MaxKm))
	case km != nil:
		out = append(out, fmt.Sprintf("%.0f km away in a straight line", *km))
	case w.Limits.MaxKm > 0:
		out = append(out, fmt.Sprintf("the distance is not known; ask whether it is within the family's %.0f km", w.Limits.MaxKm))
	default:
		out = append(out, "the distance is not known")
	}
	if w.Language != "" {
		out = append(out, "an interpreter for "+cases.LanguageWord(w.Language)+" at the site")
	}
	if p.Kept {
		out = append(out, "a place kept for repeats")
	}
	return append(out, w.dueReason(on))
}

// term is the gestation below which ages are corrected (AAP Committee on Fetus and
// Newborn, Pediatrics 2004;114:1362-1364).
const term = cases.Gestation(37 * 7)

func (w *Wait) ageReason(on cases.Day) string {
	s := fmt.Sprintf("%d days old", on-w.Born)
	if w.Gestation > 0 && w.Gestation < term {
		s += ", corrected age " + (w.Gestation + cases.Gestation(on-w.Born)).String()
	}
	if w.FromWhy != "" {
		s += "; possible from " + sayDay(w.From) + " (" + w.FromWhy + ")"
	}
	if w.Readiness.Flags.Has(cases.FlagGestationUnknown) {
		s += "; gestation is not known, ask before the day"
	}
	return s
}

func (w *Wait) weightReason() string {
	switch l := &w.Readiness.Latest; {
	case w.Estimate:
		return "the weight is an estimate, weigh on the day"
	case w.Readiness.Weight.State == cases.WeightLikely:
		return fmt.Sprintf("%.0f g at an age before 7 days on %s, likely enough; weigh on the day", l.G, cases.Say(l.On))
	case l.On == 0:
		return "weigh on the day"
	default:
		return fmt.Sprintf("%.0f g on %s", l.G, cases.Say(l.On))
	}
}

func (w *Wait) dueReason(on cases.Day) string {
	switch late := w.lateBy(on); {
	case late == 1:
		return "late: 1 day after " + w.DeadlineWhy + ", " + sayDay(w.Deadline)
	case late > 1:
		return fmt.Sprintf("late: %d days after %s, %s", late, w.DeadlineWhy, sayDay(w.Deadline))
	case on == w.Deadline:
		return "on " + w.DeadlineWhy
	case w.Deadline-on == 1:
		return "1 day before " + w.DeadlineWhy
	}
	return fmt.Sprintf("%d days before %s", w.Deadline-on, w.DeadlineWhy)
}
