package intake

import (
	"slices"
	"strings"

	"dunlin/cases"
)

// finder looks for the cases that an item may belong to. Cases born on one day are
// read once in a transaction, for a batch mostly speaks of a few days.
type finder struct {
	w     cases.Writer
	rules *cases.Protocol
	byDay map[cases.Day][]cases.Case
}

func newFinder(w cases.Writer, rules *cases.Protocol) *finder {
	return &finder{w: w, rules: rules, byDay: map[cases.Day][]cases.Case{}}
}

func (f *finder) day(d cases.Day) ([]cases.Case, error) {
	if cs, ok := f.byDay[d]; ok {
		return cs, nil
	}
	cs := []cases.Case{}
	for c, err := range f.w.BornBetween(d, d) {
		if err != nil {
			return nil, err
		}
		cs = append(cs, c)
	}
	f.byDay[d] = cs
	return cs, nil
}

// put writes a case and keeps what was read in step with it. What a message says may
// stop mail to the family, so letters not yet mailed are held with it.
func (f *finder) put(c cases.Case, e cases.Event) (cases.Case, error) {
	if err := cases.HoldLetters(f.w, f.rules, &c); err != nil {
		return c, err
	}
	c, err := f.w.PutCase(c, e)
	if err != nil {
		return c, err
	}
	d := c.Infant.Born
	if cs, ok := f.byDay[d]; ok {
		if i := slices.IndexFunc(cs, func(o cases.Case) bool { return o.ID == c.ID }); i >= 0 {
			cs[i] = c
		} else {
			f.byDay[d] = append(cs, c)
		}
	}
	return c, nil
}

// find lists the matches of an item, the surest first.
func (f *finder) find(r *Referral) ([]match, error) {
	seen := map[cases.ID]bool{}
	var out []match
	judge := func(cs []cases.Case, err error) error {
		for i := range cs {
			c := &cs[i]
			if err != nil {
				return err
			}
			if seen[c.ID] {
				continue
			}
			seen[c.ID] = true
			if lv, kind, why := compare(r, c).judge(); lv != apart {
				out = append(out, match{Case: *c, Level: lv, Kind: kind, Why: why})
			}
		}
		return err
	}
	if d := r.Infant.Born.Day; d != 0 {
		for _, near := range []cases.Day{d, d - 1, d + 1} {
			if err := judge(f.day(near)); err != nil {
				return nil, err
			}
		}
	}
	if r.Accession.Number != "" {
		if err := judge(f.w.ByAccession(r.Accession.Number)); err != nil {
			return nil, err
		}
	}
	numbers := []string{r.Card}
	for _, id := range r.Infant.Records {
		numbers = append(numbers, id.Number)
	}
	for _, n := range numbers {
		if n = strings.TrimSpace(n); n == "" {
			continue
		}
		if err := judge(f.w.ByRecord(n)); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b match) int { return int(b.Level) - int(a.Level) })
	return out, nil
}

// references lists the references of matches of some levels.
func references(ms []match, levels ...level) (out []string) {
	for _, m := range ms {
		if slices.Contains(levels, m.Level) && !slices.Contains(out, m.Case.Reference) {
			out = append(out, m.Case.Reference)
		}
	}
	return out
}
