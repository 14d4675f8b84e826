package schedule

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// Plan is a proposal of who might get which free place. Nothing is booked by it, and
// nobody who has a place is part of it.
type Plan struct {
	Lines    []Line     // in the order of the places
	Unplaced []Unplaced // most urgent first
	Cost     int64      // of the lines and of those who stay unplaced; see Plan on Board
}

// Line proposes one place for one infant.
type Line struct {
	Wait        *Wait
	Place       Place
	Km          *float64 // the way in km, straight; nil is not known
	Cost        int64
	DaysWaiting int // from the first day on which the infant could be tested
	DaysLate    int // past the due day
	Estimate    bool
	With        []string // references of twins in the same session
	Why         []string // why it is acceptable, and why not an earlier place
}

// Unplaced is an infant without a place, and why.
type Unplaced struct {
	Wait *Wait
	Cost int64
	Why  string
}

// costOf is the cost of a place for an infant: its urgency times the days waited after
// the first one possible and the days past the due day, and the way; the values are
// the protocol's. An unknown way adds nothing.
func (b *Board) costOf(w *Wait, p *Place, km *float64) int64 {
	v := &b.values
	c := w.Urgency * (v.DayWaited*float64(p.Session.On-w.From) + v.DayLate*float64(w.lateBy(p.Session.On)))
	if km != nil {
		c += *km / v.KmPerPoint
	}
	return int64(math.Round(c))
}

// aloneCost is the cost of staying without a place.
func (b *Board) aloneCost(w *Wait) int64 { return int64(math.Round(w.Urgency * b.values.Unplaced)) }

// Plan proposes places for all who wait so that the sum of the costs is least. Where
// several plans cost the same, the infants, by urgency, due day and reference, each
// get the first place in the order of the board that one of these plans gives them.
// Twins get places that follow each other in one session, or none; they choose before
// the others, each group the places with which the whole plan is cheapest, in the
// same order of urgency. ws is sorted by the caller's wish and not changed.
func (b *Board) Plan(ws []Wait) *Plan {
	pl := newPlanner(b, ws)
	pl.m.solve()
	for _, g := range pl.groups {
		pl.seatGroup(g)
	}
	pl.m.settleTies(pl.rowOrder())
	return pl.read()
}

// planner holds one planning.
type planner struct {
	b      *Board
	ws     []Wait
	ways   []map[string]*float64
	rows   []int   // the infants placed one by one: numbers in ws
	groups [][]int // twins: numbers in ws, most urgent group first
	m      *matcher
	seats  map[int]int // infant of a group -> place on the board
	owner  []int       // of each place: the infant of a group that has it, -1
	blocks map[int][][]int
	why    []tally
}

func newPlanner(b *Board, ws []Wait) *planner {
	pl := &planner{b: b, ws: ws, ways: make([]map[string]*float64, len(ws)), seats: map[int]int{},
		owner: make([]int, len(b.Places)), blocks: map[int][][]int{}, why: make([]tally, len(ws))}
	for i := range pl.owner {
		pl.owner[i] = -1
	}
	for _, g := range Twins(ws) {
		if len(g) > 1 {
			pl.groups = append(pl.groups, g)
		} else if ws[g[0]].Blocked == "" {
			pl.rows = append(pl.rows, g[0])
		}
	}
	for i := range ws {
		pl.ways[i] = b.distances(&ws[i])
	}
	slices.SortStableFunc(pl.groups, func(x, y []int) int { return compareWaits(pl.lead(x), pl.lead(y)) })
	n := len(b.Places)
	cost, alone := make([]int64, len(pl.rows)*n), make([]int64, len(pl.rows))
	for r, i := range pl.rows {
		w := &ws[i]
		alone[r] = b.aloneCost(w)
		for c := range b.Places {
			cost[r*n+c] = pl.cost(i, c)
		}
	}
	pl.m = newMatcher(cost, alone, n)
	return pl
}

// cost of a place for an infant, forbidden when it does not fit; the reason is counted.
func (pl *planner) cost(i, c int) int64 {
	w, p := &pl.ws[i], &pl.b.Places[c]
	km := pl.ways[i][p.Site.Key]
	if why := fit(w, p, km); why != fits {
		pl.why[i].by[why]++
		return forbidden
	}
	return pl.b.costOf(w, p, km)
}

// compareWaits is the order in which infants choose: urgency, due day, reference.
func compareWaits(x, y *Wait) int {
	return cmp.Or(cmp.Compare(y.Urgency, x.Urgency), cmp.Compare(x.Deadline, y.Deadline), strings.Compare(x.Reference, y.Reference))
}

// lead is the member of a group that comes first in the order.
func (pl *planner) lead(g []int) *Wait {
	return &pl.ws[slices.MinFunc(g, func(i, j int) int { return compareWaits(&pl.ws[i], &pl.ws[j]) })]
}

func (pl *planner) rowOrder() []int {
	order := make([]int, len(pl.rows))
	for r := range order {
		order[r] = r
	}
	slices.SortFunc(order, func(x, y int) int { return compareWaits(&pl.ws[pl.rows[x]], &pl.ws[pl.rows[y]]) })
	return order
}

// choice is one way to seat a group: its places, for each member one, what they cost,
// and at least what the whole plan then costs more.
type choice struct {
	places  []int
	cost    int64
	atLeast int64
}

// seatGroup gives a group the places with which the whole plan is cheapest, or none
// when that is cheaper still. A removed column costs the others at least its price, so
// that choices are tried from the least bound on until none can be better.
func (pl *planner) seatGroup(g []int) {
	none := int64(0)
	for _, i := range g {
		none += pl.b.aloneCost(&pl.ws[i])
	}
	choices := pl.choices(g)
	slices.SortStableFunc(choices, func(x, y choice) int { return cmp.Compare(x.atLeast, y.atLeast) })
	var start saved
	pl.m.save(&start)
	best := -1
	least := none
	for n, ch := range choices {
		if ch.atLeast > least || best >= 0 && ch.atLeast == least && !pl.earlier(ch, choices[best]) {
			break
		}
		if k := pl.price(ch, least); k < least || k == least && (best < 0 || pl.earlier(ch, choices[best])) {
			best, least = n, k
		}
		pl.m.restore(&start)
	}
	if best < 0 {
		return
	}
	for k, c := range choices[best].places {
		pl.m.remove(c, forbidden)
		pl.seats[g[k]], pl.owner[c] = c, g[k]
	}
}

// price is what a choice costs together with what it takes from the others; above a
// limit it is not worked out. It changes the assignment, to be restored.
func (pl *planner) price(ch choice, limit int64) int64 {
	sum := ch.cost
	for _, c := range ch.places {
		more, ok := pl.m.remove(c, limit-sum)
		if !ok {
			return forbidden
		}
		sum += more
	}
	return sum
}

// earlier compares places in the order of the board.
func (pl *planner) earlier(x, y choice) bool {
	return slices.Compare(x.places, y.places) < 0
}

// choices lists how a group can sit, in the order of the board.
func (pl *planner) choices(g []int) []choice {
	blocks, ok := pl.blocks[len(g)]
	if !ok {
		blocks = pl.b.blocks(len(g), &tally{})
		pl.blocks[len(g)] = blocks
	}
	var out []choice
	for _, block := range blocks {
		if slices.ContainsFunc(block, func(c int) bool { return pl.m.gone[c] }) {
			continue
		}
		back := slices.Clone(block)
		slices.Reverse(back)
		for _, order := range [][]int{block, back} {
			if ch, ok := pl.choose(g, order); ok {
				out = append(out, ch)
				break // the same places the other way round cost the same, but for a kept place
			}
		}
	}
	return out
}

func (pl *planner) choose(g, places []int) (choice, bool) {
	ch := choice{places: places}
	for k, i := range g {
		c := pl.cost(i, places[k])
		if c == forbidden {
			return ch, false
		}
		ch.cost += c
		ch.atLeast -= pl.m.v[places[k]]
	}
	ch.atLeast += ch.cost
	return ch, true
}
