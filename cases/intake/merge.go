package intake

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// adder merges a second message into a case: it fills gaps and never overwrites.
type adder struct {
	c       *cases.Case
	r       *Referral
	added   []string
	differs []string
	ask     string // a person must decide before anything is added
	force   bool   // a person has decided: add, and keep the rest as differences
	top     bool
}

// merge compares field by field. fresh is the case that the message alone would open.
func (a *adder) merge(fresh *cases.Case) {
	a.variants(fresh)
	if a.ask != "" {
		return
	}
	in, new := &a.c.Infant, &fresh.Infant
	fill(a, "given name", &in.Given, new.Given, GenericName(in.Given) && !GenericName(new.Given))
	fill(a, "family name", &in.Family, new.Family, false)
	fill(a, "sex", &in.Sex, new.Sex, in.Sex == "unknown")
	fill(a, "time of birth", &in.BornAt, new.BornAt, false)
	fill(a, "number born together", &in.Plurality, new.Plurality, false)
	fill(a, "birth order", &in.BirthOrder, new.BirthOrder, false)
	fill(a, "gestation", &in.Gestation, new.Gestation, false)
	fill(a, "birth weight", &in.BirthWeightG, new.BirthWeightG, false)
	fill(a, "birth place", &in.Facility, new.Facility, false)
	for _, n := range new.Records {
		if !slices.ContainsFunc(in.Records, func(o cases.RecordNo) bool { return fold(o.Number) == fold(n.Number) }) {
			in.Records = append(in.Records, n)
			a.added = append(a.added, "number "+n.Number)
		}
	}
	if len(in.Weights) == 0 && len(new.Weights) > 0 {
		in.Weights = new.Weights
		a.added = append(a.added, "weight at collection")
	}
	a.screen(fresh.Referral.Screen)
	a.people(fresh)
	if new.Died != 0 && in.Died == 0 {
		in.Died, in.DiedReported = new.Died, new.DiedReported
		a.added = append(a.added, "the death of the infant")
		for _, t := range fresh.ToCheck {
			if t.Field == "infant.died" {
				a.c.ToCheck = append(a.c.ToCheck, t)
			}
		}
	}
}

// fill sets an empty field, or replaces one that may be replaced; another value is
// kept as a difference.
func fill[T comparable](a *adder, name string, have *T, new T, replace bool) {
	var zero T
	switch {
	case new == zero || same(fmt.Sprint(*have), fmt.Sprint(new)):
	case *have == zero || replace:
		*have = new
		a.added = append(a.added, name)
	default:
		if name == "given name" && GenericName(fmt.Sprint(new)) {
			return
		}
		a.differ(name, fmt.Sprint(*have), fmt.Sprint(new))
	}
}

func (a *adder) differ(name, have, new string) {
	text := fmt.Sprintf("%s %s, on file %s", name, new, have)
	t := cases.ToCheck{Field: name, Text: new, Reason: "A later message gives another value; on file is " + have + "."}
	for _, o := range a.c.ToCheck {
		if o.Field == t.Field && o.Text == t.Text {
			return // noted before
		}
	}
	a.differs = append(a.differs, text)
	a.c.ToCheck = append(a.c.ToCheck, t)
}

func (a *adder) screen(new *cases.Screen) {
	if a.c.Referral.Screen == nil {
		a.c.Referral.Screen = &cases.Screen{}
	}
	have := a.c.Referral.Screen
	fill(a, "card number", &have.CardSerial, new.CardSerial, false)
	fill(a, "laboratory number", &have.Accession, new.Accession, false)
	fill(a, "interpretation", &have.Result, new.Result, false)
	fill(a, "day of collection", &have.Collected, new.Collected, false)
	switch {
	case new.IRTNgML == nil && new.IRTText == "":
	case have.IRTNgML == nil && have.IRTText == "":
		have.IRTNgML, have.IRTText = new.IRTNgML, new.IRTText
		a.added = append(a.added, "IRT")
	case have.IRTNgML != nil && new.IRTNgML != nil && *have.IRTNgML == *new.IRTNgML:
	case have.IRTText == new.IRTText && new.IRTNgML == nil:
	default:
		a.differ("IRT", irtWords(have), irtWords(new))
	}
	if new.Comment != "" && !strings.Contains(have.Comment, new.Comment) {
		if have.Comment == "" {
			have.Comment = new.Comment
		} else {
			have.Comment += "\n" + new.Comment
		}
		a.added = append(a.added, "the laboratory's comment")
	}
	if new.Transfused && !have.Transfused {
		have.Transfused = true
		a.added = append(a.added, "a transfusion before the card")
	}
}

func irtWords(s *cases.Screen) string {
	if s.IRTNgML != nil {
		return fmt.Sprintf("%g ng/mL", *s.IRTNgML)
	}
	return s.IRTText
}

// people fills family and primary care where the case has none. New people beside
// those on file go to a person: who decides for an infant is never guessed.
func (a *adder) people(fresh *cases.Case) {
	for _, p := range append([]Person{a.r.Mother}, a.r.Guardians...) {
		if (p.NullAddr || p.NullPhone) && !a.force {
			a.ask = "The message asks to delete a telephone number or an address of " + a.c.Reference + ". Nothing was deleted; ask the sender or the family what is right."
			return
		}
	}
	if fresh.PrimaryCare != nil && a.c.PrimaryCare == nil {
		a.c.PrimaryCare = fresh.PrimaryCare
		a.added = append(a.added, "primary care")
	}
	switch {
	case fresh.Family == nil:
	case a.c.Family == nil:
		a.c.Family = fresh.Family
		a.added = append(a.added, "family")
	default:
		fill(a, "mother's birth date", &a.c.Family.MotherBorn, fresh.Family.MotherBorn, false)
		for _, g := range fresh.Family.Guardians {
			if g.Given+g.Family == "" {
				continue
			}
			at := slices.IndexFunc(a.c.Family.Guardians, func(o cases.Guardian) bool { return fold(o.Given+o.Family) == fold(g.Given+g.Family) })
			switch {
			case at >= 0:
				a.reach(&a.c.Family.Guardians[at], &g)
			case a.force:
				a.differ("guardian", "others", strings.TrimSpace(g.Given+" "+g.Family)+" ("+g.Relation+")")
			default:
				a.ask = fmt.Sprintf("The message names %s (%s), who is not on %s. Confirm who decides for the infant.", strings.TrimSpace(g.Given+" "+g.Family), g.Relation, a.c.Reference)
				return
			}
		}
	}
}

// reach fills a guardian's telephone and address where none is on file; others are kept
// as differences, so that nobody calls an old number without knowing of the new one.
func (a *adder) reach(have, new *cases.Guardian) {
	name := strings.TrimSpace(have.Given + " " + have.Family)
	if len(have.Phones) == 0 && len(new.Phones) > 0 {
		have.Phones = new.Phones
		a.added = append(a.added, "telephone of "+name)
	}
	for _, p := range new.Phones {
		if !slices.ContainsFunc(have.Phones, func(o cases.Phone) bool { return digits(o.Number) == digits(p.Number) }) {
			a.differ("telephone of "+name, have.Phones[0].Number, p.Number)
		}
	}
	at := func(x *cases.Address) string {
		return strings.Join(append(slices.Clone(x.Lines), x.City, x.Postal), ", ")
	}
	switch {
	case new.Address == nil:
	case have.Address == nil:
		have.Address = new.Address
		a.added = append(a.added, "address of "+name)
	case fold(at(have.Address)) != fold(at(new.Address)):
		a.differ("address of "+name, at(have.Address), at(new.Address))
	case have.Address.County == "" && new.Address.County != "":
		where := *have.Address
		where.County = new.Address.County
		have.Address = &where
		a.added = append(a.added, "county of "+name)
	}
}

// variants adds variants that were not known before. When the case names others
// than the message, a person decides.
func (a *adder) variants(fresh *cases.Case) {
	if fresh.Genotype == nil {
		return
	}
	if a.c.Genotype == nil {
		a.c.Genotype = fresh.Genotype
		a.added = append(a.added, "the CFTR variants")
		return
	}
	count := map[string]int{}
	for _, v := range a.c.Genotype.Variants {
		for _, part := range strings.Split(v.Name, ";") {
			count[foldName(part)]++
		}
	}
	have := len(a.c.Genotype.Variants)
	matched := 0
	var more []cases.Variant
	for _, v := range fresh.Genotype.Variants {
		if k := foldName(v.Name); count[k] > 0 {
			count[k]--
			matched++
			continue
		}
		v.Reported = fresh.Genotype.Reported
		more = append(more, v)
	}
	switch {
	case len(more) == 0:
	case matched == have || a.force:
		a.c.Genotype.Variants = append(a.c.Genotype.Variants, more...)
		a.added = append(a.added, "a further CFTR variant")
	default:
		a.ask = "The message names other CFTR variants than " + a.c.Reference + ". Compare the reports."
		a.top = have+len(more) >= 2
	}
}
