package cases

import (
	_ "embed"
	"strings"
	"sync"
)

// variantTable holds the built-in classes and spellings; sources in its header.
//
//go:embed variants.csv
var variantTable string

// Class is what CFTR2 says of a variant.
type Class uint8

// The classes, from the least to the gravest.
const (
	ClassNone       Class = iota // counts for nothing: a bare 7T or 9T
	ClassNonCausing              // "non-causing"
	ClassUnknown                 // "unknown": also every name not in the table
	ClassVarying                 // "varying"
	ClassCausing                 // "cf-causing"
)

var classWords = map[string]Class{"non-causing": ClassNonCausing, "unknown": ClassUnknown, "varying": ClassVarying, "cf-causing": ClassCausing}

// String gives the word used in documents.
func (k Class) String() string {
	for w, c := range classWords {
		if c == k {
			return w
		}
	}
	return "none"
}

type variantRow struct {
	legacy string
	class  Class
	coding string // c. name on the reference transcript; "" for poly-T lengths and complex alleles
}

var variantIndex = sync.OnceValue(func() map[string]variantRow {
	m := map[string]variantRow{}
	for line := range strings.Lines(variantTable) {
		line = strings.TrimRight(line, "\r\n")
		if line == "" || line[0] == '#' {
			continue
		}
		f := strings.Split(line, ",") // legacy,class,spelling|spelling...
		row := variantRow{legacy: f[0], class: classWords[f[1]]}
		if first, _, _ := strings.Cut(f[2], "|"); strings.HasPrefix(first, "c.") && !isPolyT(foldVariant(f[0])) && !strings.Contains(f[0], ";") {
			row.coding = first
		}
		m[foldVariant(f[0])] = row
		for s := range strings.SplitSeq(f[2], "|") {
			if s != "" {
				m[foldVariant(s)] = row
				m[strings.TrimPrefix(foldVariant(s), "p.")] = row // the protein name is also written without p.
			}
		}
	}
	return m
})

var variantFolder = strings.NewReplacer(" ", "", "\u00a0", "", "\t", "",
	"\u2212", "-", "\u2010", "-", "\u2011", "-", "\u2013", "-", "->", ">", "\u2192", ">",
	"[delta]", "d", "delta", "d", "δ", "d", "∆", "d", "*", "x")

var proteinFolder = strings.NewReplacer("(", "", ")", "", "ter", "x")

// foldVariant brings the ways of writing one name together: case, blanks, kinds of
// hyphen and delta, the reference sequence in front, the protein name behind, the
// bases named after "del" or "dup". It never guesses: what remains must match whole.
func foldVariant(name string) string {
	s := variantFolder.Replace(strings.ToLower(name))
	if i := strings.Index(s, ":"); i >= 0 && strings.HasPrefix(s, "nm_000492") {
		s = s[i+1:]
	}
	if strings.HasPrefix(s, "c.") {
		if i := strings.Index(s, "(p."); i > 0 {
			s = s[:i]
		}
		for _, op := range []string{"del", "dup"} {
			if i := strings.LastIndex(s, op); i > 0 && strings.Trim(s[i+3:], "acgt") == "" {
				s = s[:i+3]
			}
		}
	}
	if strings.HasPrefix(s, "p.") {
		s = proteinFolder.Replace(s)
	}
	return s
}

// KnownVariant gives the table's legacy name for a name as a laboratory wrote it;
// false when the whole name is not in the table.
func KnownVariant(name string) (legacy string, ok bool) {
	row, ok := variantIndex()[foldVariant(name)]
	return row.legacy, ok
}

// VariantHGVS gives the HGVS name, with its reference transcript, of a name as a
// laboratory wrote it. It is "" when the whole name is not in the table, and for poly-T
// lengths and complex alleles, of which several descriptions are in use.
func VariantHGVS(name string) string {
	if c := variantIndex()[foldVariant(name)].coding; c != "" {
		return transcript + c
	}
	return ""
}

// transcript is the reference sequence of the table.
const transcript = "NM_000492.4:"

func isPolyT(folded string) bool { return folded == "5t" || folded == "7t" || folded == "9t" }

// isTG tells a TG-repeat length, which alone is no allele.
func isTG(folded string) bool {
	return len(folded) == 4 && strings.HasPrefix(folded, "tg1") && folded[3] >= '0' && folded[3] <= '3'
}

// variantReading is what a name means, worked out once when a case is read.
type variantReading struct {
	done  bool
	r117h bool  // names R117H
	polyT byte  // 5, 7 or 9 when named; 0 otherwise
	class Class // as it stands alone
	name  string
}

// readVariant classifies one name by the table; a complex allele joined by
// semicolons that the table does not list takes its gravest part.
func readVariant(v *Variant) variantReading {
	r := variantReading{done: true, class: ClassUnknown, name: foldVariant(v.Name)}
	row, known := variantIndex()[r.name]
	if known {
		r.class, r.name = row.class, foldVariant(row.legacy)
	}
	parts := strings.Split(r.name, ";")
	worst := ClassNone
	for _, part := range parts {
		switch {
		case part == "r117h":
			r.r117h = true
			worst = max(worst, ClassVarying)
		case isPolyT(part):
			r.polyT = part[0] - '0'
		case isTG(part):
		default:
			k := ClassUnknown
			if row, ok := variantIndex()[part]; ok {
				k = row.class
			}
			worst = max(worst, k)
		}
	}
	switch {
	case v.Class != "":
		r.class = classWords[v.Class]
	case r.r117h && r.polyT == 5:
		r.class = ClassCausing
	case !known && len(parts) > 1:
		r.class = worst
		if r.polyT == 5 && !r.r117h {
			r.class = max(r.class, ClassVarying)
		}
	case r.name == "7t" || r.name == "9t":
		r.class = ClassNone
	}
	return r
}

// Prepare classifies the variants of a case; readers of cases call it once so that
// assessing does not look names up again. Assessing works without it.
func (c *Case) Prepare() {
	if c.Genotype != nil {
		for i := range c.Genotype.Variants {
			c.Genotype.Variants[i].read = readVariant(&c.Genotype.Variants[i])
		}
	}
}
