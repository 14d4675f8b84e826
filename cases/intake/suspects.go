package intake

import (
	"cmp"
	"slices"
	"strings"

	"dunlin/cases"
)

// Suspect is two cases that may be about one infant, A with the earlier reference.
type Suspect struct {
	A, B                   cases.ID
	ReferenceA, ReferenceB string
	Why                    string // what agrees and what differs, without the values
	Weight                 float64
}

// Suspects are the pairs of cases that may be about one infant, the surest first.
type Suspects struct {
	Pairs    []Suspect
	Compared int // pairs of which both cases were read
	Left     int // pairs that share something and were not read, over the bound
}

// The bounds of looking for pairs. What more cases share says nothing of one infant:
// the surname of a day, and a telephone or number of a household.
const (
	mostOfDay       = 24
	mostOfHousehold = 6
	mostDaysApart   = 31 // between two entries of one birth date, but for a slip of the pen
	mostInMemory    = 1000
)

// FindSuspects looks for pairs of cases that may be about one infant. Pairs share a key
// of matching other than the birth place, or a number, and their birth dates are near or
// differ as by a slip; they are compared as a message is compared with a case, at most
// most of them, those that share the most first. A pair is listed where a number says
// so, or the sum of weights reaches half way between the protocol's bounds for review and
// for attaching by itself (ours: nobody waits here, and a list of strangers is not read).
// Left out are siblings on record, possible twins, pairs that a person kept apart, on
// their pages or when a document came in, closed duplicates, and cases of test messages.
func FindSuspects(r cases.Reader, p *cases.Protocol, most int) (out Suspects, err error) {
	all, shared := sharing(r)
	pairs, err := nearBirths(r, p, all)
	if err != nil {
		return out, err
	}
	if len(pairs) > most {
		out.Left, pairs = len(pairs)-most, pairs[:most]
	}
	out.Compared = len(pairs)
	f := &finder{r: r, rules: p, known: map[cases.ID]*onFile{}}
	for _, x := range pairs {
		if len(f.known) > mostInMemory {
			f.known = map[cases.ID]*onFile{}
		}
		a, err := f.onFile(x[0])
		if err != nil {
			return out, err
		}
		b, err := f.onFile(x[1])
		if err != nil {
			return out, err
		}
		s, same := f.oneInfant(a, b, shared)
		if !same {
			continue
		}
		if apart, err := keptApart(r, a, b); err != nil || apart {
			if err != nil {
				return out, err
			}
			continue
		}
		out.Pairs = append(out.Pairs, s)
	}
	slices.SortStableFunc(out.Pairs, func(a, b Suspect) int { return cmp.Compare(b.Weight, a.Weight) })
	return out, nil
}

// sharing lists the pairs that share keys, with how many, and the telephones that more cases have
// than a household.
func sharing(r cases.Reader) (pairs map[[2]cases.ID]int, shared map[string]bool) {
	pairs, shared = map[[2]cases.ID]int{}, map[string]bool{}
	for k := range r.SharedKeys(mostOfDay) {
		kind, rest, _ := strings.Cut(k.Key, " ")
		if kind == "place" {
			continue
		}
		if kind != "name" && len(k.IDs) > mostOfHousehold {
			if kind == "phone" {
				shared[rest] = true
			}
			continue
		}
		for i, a := range k.IDs {
			for _, b := range k.IDs[i+1:] {
				pairs[[2]cases.ID{min(a, b), max(a, b)}]++
			}
		}
	}
	return pairs, shared
}

// nearBirths keeps the pairs of cases that count and whose birth dates may be one: those
// that share the most keys first, then those opened last. The dates are read from
// milestones.
func nearBirths(r cases.Reader, p *cases.Protocol, pairs map[[2]cases.ID]int) ([][2]cases.ID, error) {
	if len(pairs) == 0 {
		return nil, nil
	}
	born := map[cases.ID]*cases.Day{}
	for x := range pairs {
		for _, id := range x {
			if born[id] == nil {
				born[id] = new(cases.Day)
			}
		}
	}
	q := cases.NewDataQuality(p, r.Today())
	for m, err := range r.Milestones(0, lastDay) {
		if err != nil {
			return nil, err
		}
		if d := born[m.Case]; d != nil && q.Counts(&m) {
			*d = m.Born
		}
	}
	var out [][2]cases.ID
	for x := range pairs {
		a, b := *born[x[0]], *born[x[1]]
		if a != 0 && b != 0 && (max(a-b, b-a) <= mostDaysApart || datesAlike(a, b)) {
			out = append(out, x)
		}
	}
	slices.SortFunc(out, func(x, y [2]cases.ID) int {
		return cmp.Or(cmp.Compare(pairs[y], pairs[x]), cmp.Compare(y[1], x[1]), cmp.Compare(y[0], x[0]))
	})
	return out, nil
}

// lastDay is after every referral.
var lastDay = cases.MakeDay(9999, 1, 1)

func (f *finder) onFile(id cases.ID) (*onFile, error) {
	if k := f.known[id]; k != nil {
		return k, nil
	}
	c, err := f.r.Case(id)
	if err != nil {
		return nil, err
	}
	return f.keep(c), nil
}

// oneInfant compares two cases.
func (f *finder) oneInfant(a, b *onFile, shared map[string]bool) (Suspect, bool) {
	if slices.Contains(a.Siblings, b.Reference) || slices.Contains(b.Siblings, a.Reference) || a.ApartFrom(b.Reference) != nil || b.ApartFrom(a.Reference) != nil {
		return Suspect{}, false
	}
	sent := b.facts
	sent.referral = numbersOf(&b.Case)
	e := compare(&sent, &a.facts, &a.Case, &f.rules.Matching, shared)
	lv, kind := e.judge(&f.rules.Matching)
	m := &f.rules.Matching
	number := e.card || e.accession || e.record
	switch likely := e.weight >= (m.ReviewFrom+m.CertainFrom)/2 && !e.orderDiffer; {
	case lv == certain:
	case lv != doubtful || kind != KindSame || !number && !likely:
		return Suspect{}, false
	}
	if b.Reference < a.Reference { // identifiers of one moment have no order
		a, b = b, a
	}
	return Suspect{A: a.ID, B: b.ID, ReferenceA: a.Reference, ReferenceB: b.Reference, Why: e.inShort(), Weight: e.weight}, true
}

// numbersOf gives the numbers of a case as a message would bring them; see records.
func numbersOf(c *cases.Case) *Referral {
	r := &Referral{}
	if s := c.Referral.Screen; s != nil {
		r.Sender, r.Accession.Number, r.Card = s.Laboratory, s.Accession, s.CardSerial
	}
	for _, n := range c.Infant.Records {
		id := Identifier{Number: n.Number, Authority: n.Authority}
		switch {
		case n.Authority == cardRecord && r.Card == "":
			r.Card = n.Number
		case n.Authority == cardRecord:
			r.FirstCard = n.Number
		case strings.HasPrefix(n.Authority, motherRecord):
			id.Authority = strings.TrimPrefix(strings.TrimPrefix(n.Authority, motherRecord), ", ")
			r.Infant.MotherID = id
		default:
			r.Infant.Records = append(r.Infant.Records, id)
		}
	}
	return r
}

// inShort says what agrees and what differs, without the values.
func (e *evidence) inShort() string {
	var agree, differ []string
	for f := range fieldCount {
		switch word := strings.ToLower(fieldWords[f]); e.states[f] {
		case isSame:
			agree = append(agree, word)
		case isAlike, isDifferent:
			differ = append(differ, word)
		}
	}
	out := "Nothing that both say agrees"
	if len(agree) > 0 {
		out = "The same " + sentenceList(agree)
	}
	if len(differ) > 0 {
		out += "; another " + sentenceList(differ)
	}
	return out
}

// keptApart tells whether a person opened one of two cases from a document beside
// which the other was shown.
func keptApart(r cases.Reader, a, b *onFile) (bool, error) {
	for _, x := range [2][2]*onFile{{a, b}, {b, a}} {
		items, err := r.ItemsOfCase(x[0].ID)
		if err != nil {
			return false, err
		}
		for i := range items {
			d := items[i].Decided
			if d != nil && (d.As == Apart || d.As == Accept) && slices.Contains(items[i].Related, x[1].Reference) {
				return true, nil
			}
		}
	}
	return false, nil
}
