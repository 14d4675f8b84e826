package cases

import (
	"slices"
	"strings"
)

// shareStops carries what stops a family's mail from one case to those of siblings who
// share the contact, in the caller's transaction: a death, because a bereaved family
// must not get a reminder about a twin; a custody and a safety flag, because the mail
// would go to the same door. The sibling gets a flag that says why. It stays until a
// person ends it, and then is not set again. What is known of the siblings is carried
// to the case at hand in the same way, so that linking them late makes no gap.
func shareStops(w Writer, p *Protocol, c *Case) ([]ID, error) {
	var touched []ID
	for _, ref := range c.Siblings {
		if ref == "" || ref == c.Reference {
			continue
		}
		sib, err := w.ByReference(ref)
		if KindOf(err) == NotFound && err != nil {
			continue
		}
		if err != nil {
			return nil, err
		}
		if sib.ID == c.ID || !sameContact(c, &sib) {
			continue
		}
		c.takeStops(&sib, w.Today())
		if !sib.takeStops(c, w.Today()) {
			continue
		}
		if err := holdOwn(w, p, nil, &sib); err != nil {
			return nil, err
		}
		if _, err := w.PutCase(sib, Event{Kind: "flag-set", Text: "Mail stopped because of " + c.Reference}); err != nil {
			return nil, err
		}
		touched = append(touched, sib.ID)
	}
	return touched, nil
}

const siblingDied = "the sibling died"

// takeStops adds the flags that the state of another case of the family asks for, ends
// the one about a death that was taken back, and tells whether it changed any.
func (c *Case) takeStops(from *Case, today Day) bool {
	changed := false
	take := func(kind, what, do string) {
		mark := from.Reference + ": " + what
		if !slices.ContainsFunc(c.Flags, func(f Flag) bool { return strings.HasPrefix(f.Note, mark) }) {
			c.Flags = append(c.Flags, Flag{Kind: kind, From: max(today, c.Infant.Born), Note: mark + ". " + do})
			changed = true
		}
	}
	if from.Infant.Died == 0 {
		for i := range c.Flags {
			if f := &c.Flags[i]; f.Until == 0 && strings.HasPrefix(f.Note, from.Reference+": "+siblingDied) {
				f.Until = max(today, f.From)
				f.Note = "Taken back. " + f.Note
				changed = true
			}
		}
	}
	if from.died(today) && !c.died(today) {
		take("no-mail", siblingDied, "A person speaks with the family before anything is sent; then end this flag.")
	}
	for i := range from.Flags {
		f := &from.Flags[i]
		if (f.Kind == "custody" || f.Kind == "safety") && f.stands(today) && !carried(f) {
			take(f.Kind, f.Kind+" flag of "+f.From.orAlways(), "Look whether it holds for this infant too; if not, end this flag.")
		}
	}
	return changed
}

// carried tells a flag that came from a sibling's case and goes no further from there.
func carried(f *Flag) bool {
	return strings.Contains(f.Note, ": custody flag of ") || strings.Contains(f.Note, ": safety flag of ")
}

func (d Day) orAlways() string {
	if d == 0 {
		return "always"
	}
	return d.String()
}

// sameContact tells whether the mail of two siblings goes to the same people. Where
// that is not known it is assumed, for a letter held is mended more easily than one
// sent.
func sameContact(a, b *Case) bool {
	if a.Family == nil || b.Family == nil || len(a.Family.Guardians) == 0 || len(b.Family.Guardians) == 0 {
		return true
	}
	known := map[string]bool{}
	for _, k := range a.Family.contactKeys() {
		known[k] = true
	}
	keys := b.Family.contactKeys()
	if len(known) == 0 || len(keys) == 0 {
		return true
	}
	return slices.ContainsFunc(keys, func(k string) bool { return known[k] })
}

// contactKeys are the numbers, addresses and the mother by which families compare.
func (f *Family) contactKeys() []string {
	var out []string
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	add := func(kind, s string) {
		if s != "" {
			out = append(out, kind+s)
		}
	}
	if f.MotherBorn != 0 {
		add("m ", fold(f.Mother)+f.MotherBorn.String())
	}
	for i := range f.Guardians {
		g := &f.Guardians[i]
		for _, p := range g.Phones {
			add("p ", TextNumber(p.Number))
		}
		add("e ", fold(g.Email))
		if a := g.Address; a != nil && len(a.Lines) > 0 {
			add("a ", fold(a.Lines[0]+" "+a.City))
		}
	}
	return out
}
