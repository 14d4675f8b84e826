package letters

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"dunlin/cases"
	"dunlin/reminders/paper"
)

// addressee picks the guardian who gets the mail and gives the lines for the window.
// The infant's name is never among them.
func addressee(c *cases.Case, p *Program) ([]string, error) {
	if c.Family == nil || len(c.Family.Guardians) == 0 {
		return nil, errors.New("no parent or guardian is on record")
	}
	g, err := pickGuardian(c.Family)
	if err != nil {
		return nil, err
	}
	if g.Address == nil || len(g.Address.Lines) == 0 {
		return nil, errors.New("no address is on record")
	}
	name := "Parent or guardian"
	if slices.ContainsFunc(append(slices.Clone(g.Address.Lines), g.Address.City), func(line string) bool { return namesInfant(line, &c.Infant) }) {
		return nil, errors.New("the address names the infant, and would show it in the window; take the name out of the address")
	}
	if surname := squeeze(g.Family); p.SurnameInWindow && surname != "" && !hasWord(surname, c.Infant.Given) && fitsWindow(name+", "+surname, &p.Envelope) {
		name += ", " + surname
	}
	return windowLines([]string{name}, g.Address, p)
}

// namesInfant tells whether a text holds the infant's given and family name.
func namesInfant(text string, i *cases.Infant) bool {
	return hasWord(text, i.Given) && hasWord(text, i.Family)
}

// hasWord tells whether every word of a name stands in a text, in any case; false for no
// name.
func hasWord(text, name string) bool {
	split := func(s string) []string {
		return strings.FieldsFunc(strings.ToLower(paper.Tidy(s)), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) })
	}
	words := split(name)
	in := split(text)
	for _, w := range words {
		if !slices.Contains(in, w) {
			return false
		}
	}
	return len(words) > 0
}

// doctorAddress gives the lines for the window of a letter to primary care.
func doctorAddress(c *cases.Case, p *Program) ([]string, error) {
	d := c.PrimaryCare
	switch {
	case d == nil || squeeze(d.Name+d.Practice) == "":
		return nil, errors.New("no primary care doctor is on record")
	case d.Address == nil || len(d.Address.Lines) == 0:
		return nil, errors.New("no address of the primary care doctor is on record")
	}
	return windowLines(nonEmpty([]string{d.Name, d.Practice}), d.Address, p)
}

// siteAddress gives the lines for the window of a letter to a test site, whose address
// is one line with commas: street, town, region and postal code.
func siteAddress(s *Site, p *Program) ([]string, error) {
	parts := nonEmpty(strings.Split(s.Address, ","))
	if len(parts) < 2 {
		return nil, fmt.Errorf("the address of the test site %q needs a street and a town, with a comma between them", s.Name)
	}
	if last := parts[len(parts)-1]; len(parts) > 2 && strings.ContainsAny(last, "0123456789") {
		parts = append(parts[:len(parts)-2], parts[len(parts)-2]+", "+last) // region and postal code go with the town
	}
	n := len(parts) - 1
	return windowLines([]string{squeeze(s.Name)}, &cases.Address{Lines: parts[:n], City: parts[n]}, p)
}

// windowLines joins who gets a letter and where into as many lines as the window holds.
func windowLines(who []string, a *cases.Address, p *Program) ([]string, error) {
	street := nonEmpty(a.Lines)
	town := squeeze(joinNonEmpty(", ", a.City, joinNonEmpty(" ", a.Region, a.Postal)))
	switch {
	case a.Bad:
		return nil, errors.New("mail came back from the address on record; find a new one")
	case len(street) == 0:
		return nil, errors.New("the address has no street or box")
	case town == "":
		return nil, errors.New("the address has no town")
	}
	if country := squeeze(a.Country); !atHome(country) {
		town = joinNonEmpty(", ", town, strings.ToUpper(country))
	}
	if room := max(p.Envelope.AddressLines()-1-len(who), 1); len(street) > room {
		street = append(slices.Clone(street[:room-1]), strings.Join(street[room-1:], ", "))
	}
	return append(append(slices.Clone(who), street...), town), nil
}

func pickGuardian(f *cases.Family) (*cases.Guardian, error) {
	var chosen []*cases.Guardian
	for i := range f.Guardians {
		if f.Guardians[i].Letters {
			chosen = append(chosen, &f.Guardians[i])
		}
	}
	switch {
	case len(chosen) == 1:
		return chosen[0], nil
	case len(chosen) > 1:
		return nil, errors.New("more than one guardian is marked to get letters; choose one")
	case f.PickOne || len(f.Guardians) > 1 && !oneAddress(f.Guardians):
		return nil, errors.New("there is more than one guardian; choose who gets letters")
	}
	for i := range f.Guardians {
		if f.Guardians[i].Address != nil {
			return &f.Guardians[i], nil
		}
	}
	return &f.Guardians[0], nil
}

// oneAddress tells whether at most one different address is on record.
func oneAddress(gs []cases.Guardian) bool {
	seen := map[string]bool{}
	for _, g := range gs {
		if a := g.Address; a != nil && len(nonEmpty(a.Lines)) > 0 {
			seen[strings.ToLower(fmt.Sprint(nonEmpty(a.Lines), squeeze(a.City), squeeze(a.Postal)))] = true
		}
	}
	return len(seen) <= 1
}

// atHome tells whether a country needs no line on domestic mail.
func atHome(country string) bool {
	switch strings.ToUpper(strings.ReplaceAll(country, ".", "")) {
	case "", "US", "USA", "UNITED STATES", "UNITED STATES OF AMERICA":
		return true
	}
	return false
}

// fitsWindow tells whether a line fits at the smallest size. The surname is left out
// where it does not: mail arrives without it.
func fitsWindow(line string, env *Profile) bool {
	smallest := paper.Style{Size: addressSizes[len(addressSizes)-1]}
	return paper.Width(line, smallest) <= (env.Band.Right-env.Band.Left)*env.unit()
}

// squeeze trims text and makes every run of space one blank.
func squeeze(s string) string { return strings.Join(strings.Fields(s), " ") }

func nonEmpty(lines []string) []string {
	var out []string
	for _, l := range lines {
		if l = squeeze(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

func joinNonEmpty(sep string, parts ...string) string { return strings.Join(nonEmpty(parts), sep) }
