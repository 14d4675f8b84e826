package web

import (
	"context"
	"strconv"

	"dunlin/cases"
	"dunlin/templates"
)

// variantRows is how many entries the form of a CFTR report takes: one for each
// variant and allele.
const variantRows = 4

var scopes = []word{{"panel", "Panel of variants"}, {"sequencing", "Sequencing with deletions and duplications"}, {"none", "This program tests no variants"}}

var phases = []word{{"unknown", "Phase not known"}, {"cis", "In cis"}, {"trans", "In trans"}}

func genotypeLabels() []labelled {
	out := []labelled{{"scope", "What was tested"}, {"reported", "Reported on"}, {"reason", "Why it is entered"}}
	for i := 1; i <= variantRows; i++ {
		n := strconv.Itoa(i)
		out = append(out, labelled{"variant-" + n, "Variant " + n}, labelled{"phase-" + n, "Phase of variant " + n}, labelled{"allele-" + n, "Chromosome of variant " + n})
	}
	return out
}

// startGenotype is the report on file as the values of its form.
func startGenotype(e *factEdit) []string {
	g := e.c.Genotype
	if g == nil {
		return []string{"scope", "panel", "reported", date(e.today).String()}
	}
	out := []string{"scope", g.Scope, "reported", date(g.Reported).String()}
	for i := range g.Variants {
		n := strconv.Itoa(i + 1)
		out = append(out, "variant-"+n, g.Variants[i].Name, "phase-"+n, g.Variants[i].Phase)
		if a := g.Variants[i].Allele; a > 0 {
			out = append(out, "allele-"+n, strconv.Itoa(a))
		}
	}
	return out
}

func setGenotype(s *server, e *factEdit, p *templates.FactPage) error {
	if g := e.c.Genotype; g != nil && len(g.Variants) > variantRows {
		return cases.Errorf(cases.Refused, "The report of %s has more entries than this form takes. Ask the people who look after the program.", e.c.Reference)
	}
	p.Head = "CFTR report of " + shortName(&e.c.Infant)
	p.Lead = "One entry for each variant and allele: a homozygous variant is entered twice. A complex allele is joined by a semicolon, like R117H;7T."
	p.Warn = cautionTwoVariants
	e.add(p, radios{ID: "scope", Legend: "What was tested", Down: true, Options: optionsOf(scopes)}, templates.Field{ID: "reported", Label: "Reported on", Hint: dayHint, Width: "w14"})
	for i := 1; i <= variantRows; i++ {
		n := strconv.Itoa(i)
		e.add(p, templates.Field{ID: "variant-" + n, Label: "Variant " + n, Hint: "As the laboratory wrote it", Optional: true, NoSpell: true, Width: "w20"},
			templates.Choice{ID: "phase-" + n, Legend: "Phase of variant " + n, Options: optionsOf(phases)},
			templates.Choice{ID: "allele-" + n, Legend: "Chromosome of variant " + n, Options: []templates.Option{{Text: "Not told"}, {Value: "1", Text: "First"}, {Value: "2", Text: "Second"}}})
	}
	e.add(p, templates.Field{ID: "reason", Label: "Why it is entered", Hint: "New report, or what was wrong before", Width: "w20"})
	return nil
}

func readGenotype(s *server, e *factEdit) saving {
	f := e.f
	g := cases.Genotype{Scope: f.choice("scope", "Select what was tested", valuesOf(scopes)...), Reported: f.day("reported", "Reported on")}
	reason := f.need("reason", "Why it is entered", "Enter why it is entered", 300)
	if g.Scope != "none" && g.Reported == 0 {
		f.fail("reported", "Enter the day of the report")
	}
	if g.Reported > e.today {
		f.fail("reported", "Reported on must be today or in the past")
	}
	for i := 1; i <= variantRows; i++ {
		n := strconv.Itoa(i)
		v := cases.Variant{Name: f.text("variant-"+n, "Variant "+n, 80), Phase: f.pick("phase-"+n, "", valuesOf(phases)...)}
		v.Allele, _ = strconv.Atoi(f.pick("allele-"+n, "", "1", "2"))
		if v.Name == "" {
			continue
		}
		v.Phase = or(v.Phase, "unknown")
		if old := e.c.Genotype; old != nil && i <= len(old.Variants) && old.Variants[i-1].Name == v.Name {
			v.Reported, v.Class, v.ClassSource = old.Variants[i-1].Reported, old.Variants[i-1].Class, old.Variants[i-1].ClassSource
		}
		g.Variants = append(g.Variants, v)
	}
	if g.Scope == "none" && len(g.Variants) > 0 {
		f.failAt("scope", "scope-0", "Remove the variants, or select what was tested")
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.SetGenotype(ctx, who, e.c.ID, f.rev(), g, reason)
	}
}
