package intake

import (
	"cmp"
	"slices"
	"strings"

	"dunlin/cases"
)

// finder looks for the cases that an item may belong to, by the store's keys. A case is
// read and made ready for comparing once in a transaction, for a batch mostly speaks of
// a few days.
type finder struct {
	r     cases.Reader
	w     cases.Writer // nil where nothing is written
	rules *cases.Protocol
	known map[cases.ID]*onFile
}

// onFile is a case made ready for comparing.
type onFile struct {
	cases.Case
	facts facts
}

func newFinder(w cases.Writer, rules *cases.Protocol) *finder {
	return &finder{r: w, w: w, rules: rules, known: map[cases.ID]*onFile{}}
}

// put writes a case. What a message says may stop mail to the family, or be another
// address or language, so letters not yet mailed are held with it, and those of siblings
// with the same contact.
func (f *finder) put(c cases.Case, e cases.Event) (cases.Case, error) {
	var old *cases.Case
	if c.ID != "" {
		before, err := f.w.Case(c.ID)
		switch {
		case err == nil:
			old = &before
		case cases.KindOf(err) != cases.NotFound:
			return c, err
		}
	}
	touched, err := cases.HoldFamily(f.w, f.rules, old, &c)
	if err != nil {
		return c, err
	}
	for _, id := range touched {
		delete(f.known, id)
	}
	delete(f.known, c.ID)
	return f.w.PutCase(c, e)
}

// find lists the matches of an item, the surest first.
func (f *finder) find(r *Referral) ([]match, error) {
	sent := factsSent(r)
	found, err := f.candidates(r, &sent)
	if err != nil {
		return nil, err
	}
	return rank(r, &sent, found, &f.rules.Matching), nil
}

// candidates lists the cases that share a key or a number with what was sent, each
// once.
func (f *finder) candidates(r *Referral, sent *facts) ([]*onFile, error) {
	ids, err := f.r.MatchIDs(matchFacts(r, sent).Near())
	if err != nil {
		return nil, err
	}
	out := make([]*onFile, 0, len(ids))
	for _, id := range ids {
		c := f.known[id]
		if c == nil {
			read, err := f.r.Case(id)
			if err != nil {
				return nil, err
			}
			c = f.keep(read)
		}
		out = append(out, c)
	}
	add := func(cs []cases.Case, err error) error {
		for _, c := range cs {
			if !slices.ContainsFunc(out, func(o *onFile) bool { return o.ID == c.ID }) {
				out = append(out, f.keep(c))
			}
		}
		return err
	}
	if r.Accession.Number != "" {
		if err := add(f.r.ByAccession(r.Accession.Number)); err != nil {
			return nil, err
		}
	}
	numbers := []string{r.Card, r.FirstCard}
	for _, id := range r.Infant.Records {
		numbers = append(numbers, id.Number)
	}
	for _, n := range numbers {
		if n = strings.TrimSpace(n); n == "" {
			continue
		}
		if err := add(f.r.ByRecord(n)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (f *finder) keep(c cases.Case) *onFile {
	k := &onFile{Case: c, facts: factsOf(&c)}
	f.known[c.ID] = k
	return k
}

// matchFacts gives what was sent in the form by which the store finds cases.
func matchFacts(r *Referral, sent *facts) cases.MatchFacts {
	m := cases.MatchFacts{Born: r.Infant.Born.Day, Mother: r.Mother.Family, MotherBorn: sent.motherBorn, Phones: sent.phones, Facility: r.Infant.Facility}
	for _, list := range [][][]string{sent.surnames, sent.others} {
		for _, words := range list {
			m.Surnames = append(m.Surnames, strings.Join(words, " "))
		}
	}
	return m
}

// rank judges the cases found. A telephone number of more than a few mothers counts
// as none; a second case of the same mother makes a twin possible; and an infant that
// fits two cases goes to a person.
func rank(r *Referral, sent *facts, found []*onFile, m *cases.Matching) []match {
	shared := sharedPhones(sent, found)
	all := make([]evidence, len(found))
	births := 0
	for i := range found {
		all[i] = compare(sent, &found[i].facts, &found[i].Case, m, shared)
		if e := &all[i]; e.bornNear && (e.mother || e.motherID || e.motherBorn) {
			births++
		}
	}
	var out []match
	sure := 0
	for i := range found {
		e := &all[i]
		e.sibling = e.sibling || births > 1
		lv, kind := e.judge(m)
		if lv == apart {
			continue
		}
		if lv == certain {
			sure++
		}
		x := match{Case: found[i].Case, Level: lv, Kind: kind, Why: e.why(r, &found[i].Case), weight: e.weight}
		if lv == clash {
			x.Why = "the same card or laboratory number"
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b match) int {
		return cmp.Or(cmp.Compare(b.Level, a.Level), cmp.Compare(b.weight, a.weight))
	})
	for i := range out {
		if sure > 1 && out[i].Level == certain {
			out[i].Level, out[i].Kind = doubtful, KindSame
			out[i].Why += "; another case fits as well"
		}
	}
	return out
}

// fewMothers is how many mothers may share a telephone number: a household.
const fewMothers = 3

// sharedPhones lists the numbers sent that more mothers have than a household holds,
// such as a ward's.
func sharedPhones(sent *facts, found []*onFile) map[string]bool {
	mothers := map[string]map[string]bool{}
	for i := range found {
		c := &found[i].Case
		if !overlap(sent.phones, found[i].facts.phones, nil) {
			continue
		}
		given, family := c.Mother()
		who := fold(given + family)
		if who == "" {
			who = string(c.ID)
		}
		for _, g := range c.Family.Guardians {
			for _, p := range g.Phones {
				k := cases.PhoneKey(p.Number)
				if !slices.Contains(sent.phones, k) {
					continue
				}
				if mothers[k] == nil {
					mothers[k] = map[string]bool{}
				}
				mothers[k][who] = true
			}
		}
	}
	shared := map[string]bool{}
	for k, ms := range mothers {
		if len(ms) > fewMothers {
			shared[k] = true
		}
	}
	return shared
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
