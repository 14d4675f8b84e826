package schedule

import (
	"cmp"
	"slices"

	"dunlin/cases"
)

// Outlook compares who becomes ready with the free places, week by week, so that
// sessions can be added in time. It plans nobody: it only counts.
type Outlook struct {
	All     Row
	Sites   []Row    // by name; who has no site that fits is in Nowhere
	Nowhere []string // references: no site takes them, or none within the family's limits
	Undated []string // references: no day can be planned for them now
}

// Row is one site, or all together.
type Row struct {
	Key, Name string // "" for all
	Weeks     []Week
}

// Week is seven days from From on.
type Week struct {
	From  cases.Day
	Ready []string // references of those who become ready; in the first week also all who wait already
	Free  int      // free places
	Kept  int      // of them kept for repeats
	// Waiting are the references of those who would still wait at the end of the week if
	// every free place up to then were used, those kept for repeats by repeats alone, by
	// those who could be tested first. Nobody is planned by it.
	Waiting []string
}

// Short is how many would still wait at the end of the week.
func (w *Week) Short() int { return len(w.Waiting) }

// Totals adds up the weeks: who becomes ready, free places, of them kept for repeats.
func (r *Row) Totals() (ready, free, kept int) {
	for i := range r.Weeks {
		ready += len(r.Weeks[i].Ready)
		free += r.Weeks[i].Free
		kept += r.Weeks[i].Kept
	}
	return ready, free, kept
}

// FirstShort is the index of the first week from whose end on somebody waits in every
// week, to the last; -1 when nobody waits at the end of the last.
func (r *Row) FirstShort() int {
	n := len(r.Weeks)
	for n > 0 && r.Weeks[n-1].Short() > 0 {
		n--
	}
	if n == len(r.Weeks) {
		return -1
	}
	return n
}

// Look counts for some weeks from the board's day on. Each infant is counted at the
// nearest site that takes it; where no distance is known, at the first by key.
func (b *Board) Look(ws []Wait, weeks int) Outlook {
	o := Outlook{All: b.emptyRow(weeks)}
	rows := make(map[string]*tallyRow, len(b.sites))
	all := &tallyRow{Row: &o.All}
	has := map[string]bool{} // a site that takes no new sessions still has those it had
	for i := range b.Places {
		has[b.Places[i].Site.Key] = true
	}
	for i := range b.sites {
		if s := &b.sites[i]; !s.Retired || has[s.Key] {
			row := b.emptyRow(weeks)
			row.Key, row.Name = s.Key, s.Name
			rows[s.Key] = &tallyRow{Row: &row}
		}
	}
	for i := range b.Places {
		p := &b.Places[i]
		n := int(p.Session.On-b.Today) / 7
		if n >= weeks {
			continue
		}
		all.place(n, p)
		if r := rows[p.Site.Key]; r != nil {
			r.place(n, p)
		}
	}
	sorted := slices.Clone(ws)
	slices.SortFunc(sorted, func(x, y Wait) int { return cmp.Or(cmp.Compare(x.From, y.From), compareWaits(&x, &y)) })
	for i := range sorted {
		w := &sorted[i]
		if w.Blocked != "" {
			o.Undated = append(o.Undated, w.Reference)
			continue
		}
		n := max(0, int(w.From-b.Today)/7)
		if n >= weeks {
			continue
		}
		all.wait(n, w)
		if s := b.nearest(w); s != nil {
			rows[s.Key].wait(n, w)
		} else {
			o.Nowhere = append(o.Nowhere, w.Reference)
		}
	}
	all.settle()
	for i := range b.sites {
		if r := rows[b.sites[i].Key]; r != nil {
			r.settle()
			o.Sites = append(o.Sites, *r.Row)
		}
	}
	slices.SortStableFunc(o.Sites, func(x, y Row) int { return cmp.Compare(x.Name, y.Name) })
	return o
}

func (b *Board) emptyRow(weeks int) Row {
	r := Row{Weeks: make([]Week, weeks)}
	for i := range r.Weeks {
		r.Weeks[i].From = b.Today + cases.Day(7*i)
	}
	return r
}

// nearest is the nearest site that would take an infant on the day it becomes ready,
// whether or not it has a session then; nil when there is none.
func (b *Board) nearest(w *Wait) *Site {
	var best *Site
	var least *float64
	day := max(w.From, b.Today)
	for i := range b.sites {
		s := &b.sites[i]
		if s.Retired {
			continue
		}
		var km *float64
		if x, ok := b.Distance(w, s); ok {
			km = &x
		}
		if m := fit(w, &Place{Session: &Session{On: day}, Site: s, At: w.Limits.NotBefore}, km); m != fits && m != wrongWeekday && m != siteTooYoung {
			continue
		}
		if best == nil || compareKm(km, least) < 0 {
			best, least = s, km
		}
	}
	return best
}

// tallyRow counts first tests and repeats apart, for the places kept for repeats.
type tallyRow struct {
	*Row
	repeats []map[string]bool // by week, the references of those who wait for a repeat
}

func (r *tallyRow) place(n int, p *Place) {
	r.Weeks[n].Free++
	if p.Kept {
		r.Weeks[n].Kept++
	}
}

func (r *tallyRow) wait(n int, w *Wait) {
	r.Weeks[n].Ready = append(r.Weeks[n].Ready, w.Reference)
	if w.Kind.mayUseKept() {
		if r.repeats == nil {
			r.repeats = make([]map[string]bool, len(r.Weeks))
		}
		if r.repeats[n] == nil {
			r.repeats[n] = map[string]bool{}
		}
		r.repeats[n][w.Reference] = true
	}
}

// settle works out who still waits at the end of each week: repeats take the places
// kept for them first, then all share the others, repeats before first tests.
func (r *tallyRow) settle() {
	var repeats, others []string
	for n := range r.Weeks {
		w := &r.Weeks[n]
		for _, ref := range w.Ready {
			if r.repeats != nil && r.repeats[n][ref] {
				repeats = append(repeats, ref)
			} else {
				others = append(others, ref)
			}
		}
		repeats = repeats[min(len(repeats), w.Kept):]
		open := w.Free - w.Kept
		used := min(len(repeats), open)
		repeats = repeats[used:]
		others = others[min(len(others), open-used):]
		w.Waiting = append(append(make([]string, 0, len(repeats)+len(others)), repeats...), others...)
	}
}
