package cases

// alleleSum gathers the entries that lie on one chromosome.
type alleleSum struct {
	used              bool
	class             Class
	causing           Day // the day it became known as cf-causing; 0 not
	r117h, polyT      bool
	five              bool
	r117Day, polyTDay Day
}

func (a *alleleSum) add(r variantReading, day Day) {
	a.used = true
	a.class = max(a.class, r.class)
	if r.class == ClassCausing && (a.causing == 0 || day < a.causing) {
		a.causing = day
	}
	if r.r117h && (!a.r117h || day < a.r117Day) {
		a.r117h, a.r117Day = true, day
	}
	if r.polyT != 0 {
		a.polyT = true
		if r.polyT == 5 && (!a.five || day < a.polyTDay) {
			a.five, a.polyTDay = true, day
		}
	}
}

// settle joins R117H with its poly-T: R117H;5T is cf-causing, with 7T or 9T it
// varies (CFTR2, release 25 Sep 2024; 9T from memory).
func (a *alleleSum) settle() {
	if a.r117h && a.five {
		a.class = max(a.class, ClassCausing)
		if day := max(a.r117Day, a.polyTDay); a.causing == 0 || day < a.causing {
			a.causing = day
		}
	}
}

// readGenotype counts alleles as known on a day, and the day from which two
// cf-causing ones were known (0: not).
func (c *Case) readGenotype(on Day) (g GenotypeRead, twoKnown Day) {
	if c.Genotype == nil {
		return g, 0
	}
	g.Scope = c.Genotype.Scope
	g.Reported = c.Genotype.Reported != 0 && c.Genotype.Reported <= on || c.Genotype.Reported == 0 && g.Scope == "none"
	var cis [3]alleleSum
	var first, second Day
	count := func(a *alleleSum) {
		a.settle()
		switch a.class {
		case ClassCausing:
			g.Alleles.CFCausing++
			if d := a.causing; first == 0 || d < first {
				first, second = d, first
			} else if second == 0 || d < second {
				second = d
			}
		case ClassVarying:
			g.Alleles.Varying++
		case ClassUnknown:
			g.Alleles.Unknown++
		case ClassNonCausing:
			g.Alleles.NonCausing++
		}
		if a.r117h && !a.polyT {
			g.PolyT = true
		}
	}
	for i := range c.Genotype.Variants {
		v := &c.Genotype.Variants[i]
		day := v.Reported
		if day == 0 {
			day = c.Genotype.Reported
		}
		if day == 0 || day > on {
			continue
		}
		r := v.read
		if !r.done {
			r = readVariant(v)
		}
		if v.Phase == "cis" && v.Allele >= 0 && v.Allele <= 2 {
			cis[v.Allele].add(r, day)
			continue
		}
		var one alleleSum
		one.add(r, day)
		count(&one)
	}
	for i := range cis {
		if cis[i].used {
			count(&cis[i])
		}
	}
	if g.Alleles.CFCausing >= 2 {
		twoKnown = second
	}
	return g, twoKnown
}

// counting is the number of alleles that are not non-causing.
func (a Alleles) counting() int { return a.CFCausing + a.Varying + a.Unknown }
